"""The watch of one signal and of several against faults made here: ours beside plain rules and beside doing nothing.

    python -m benchmarks.history_anomalies [--series N] [--seed S]

One signal: 28 days at 10 minutes or 200 days at an hour; a daily swing, days switched on and off, noise that remembers,
or a few wild readings; one fault in its second half, or none. Score of the Numenta Anomaly Benchmark (standard profile;
doing nothing is 0, perfect 100) with the window a tenth of the series about the fault, and false alarms of all series
per channel-year. The plain rules: three standard deviations of the last two weeks, and of the first quarter.

Several: 1,150 samples of eight channels that belong together and wander, as on a test bed; the first 400 teach; a fault
in the middle. F1 by sample, false alarms and misses in per cent. The plain rule: a chi-squared limit of 1 in 1,000 on
the plain Mahalanobis distance of the same 400; and 'always'.

A kind of fault is met where ours is better than doing nothing, and so are the means over all kinds at least as good as
those of the rules; and ours may not raise more than `FALSE` alarms in a channel-year of sound signals. 1 is returned
when one is not.
"""

from __future__ import annotations

import sys
from itertools import product
from time import process_time

import numpy as np

from asfound.history.anomaly import watch
from asfound.history.anomaly_joint import watch_together
from asfound.history.timeline import DAY
from benchmarks.history_changes import red
from benchmarks.history_see import nab_score

FALSE = 1.0
BASES = ("daily", "switched", "remembers", "wild readings")
FAULTS = ("none", "spike", "shift", "drift", "noisier", "stuck", "quicker", "missing day")
TOGETHER = ("none", "shift", "drift", "apart", "noisier", "swings")
Random = np.random.Generator


def a_base(kind: str, random: Random, time: np.ndarray) -> np.ndarray:
    """A sound signal with noise of about one."""
    day, n = time / DAY, time.size
    if kind == "daily":
        return 40.0 + 5.0 * np.sin(2 * np.pi * (day + random.random())) + red(random, n, 0.5)
    if kind == "switched":
        late = random.uniform(-0.01, 0.01, int(day[-1]) + 2)[day.astype(int)]
        on = (day % 1 > 0.35 + late) & (day % 1 < 0.75 + late)
        return np.where(on, 60.0, 30.0) + red(random, n, 0.3)
    if kind == "remembers":
        step = time[1] - time[0]
        return 70.0 + 3.0 * red(random, n, np.exp(-step / (0.5 * DAY))) + 0.5 * random.standard_normal(n)
    y = 20.0 + red(random, n, 0.6)
    wild = random.random(n) < 0.004
    y[wild] += random.exponential(8.0, int(wild.sum()))
    return y


def with_fault(fault: str, random: Random, time: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, int]:
    """Return the signal with a fault and where that begins; -1 without one."""
    n, step = y.size, time[1] - time[0]
    at = int(random.uniform(0.55, 0.85) * n)
    some = int(random.uniform(0.5, 1.5) * DAY / step)
    part, sign = slice(at, at + some), random.choice([-1.0, 1.0])
    wide, y = float(y[: n // 4].std()), y.copy()
    noise = float(np.median(np.abs(np.diff(y)))) * 1.05
    if fault == "none":
        return y, -1
    if fault == "spike":
        y[at : at + 3] += sign * 12.0 * max(wide, noise)
    elif fault == "shift":
        y[part] += sign * 4.0 * wide
    elif fault == "drift":
        y[at : at + 2 * some] += sign * 5.0 * wide * np.linspace(0.0, 1.0, y[at : at + 2 * some].size)
    elif fault == "noisier":
        y[part] += 5.0 * noise * random.standard_normal(some)
    elif fault == "stuck":
        y[part] = y[at]
    elif fault == "quicker":
        y[part] += 3.0 * wide * np.sin(2 * np.pi * np.arange(some) / 8.0)
    else:
        y[part] = np.quantile(y[: n // 4], 0.05) + noise * random.standard_normal(some)
    return y, at


def by_rule(y: np.ndarray, time: np.ndarray, rule: str) -> np.ndarray:
    """Samples out of three standard deviations, each alarm once a day."""
    n, length = y.size, int(14 * DAY / (time[1] - time[0]))
    if rule == "quarter":
        first = y[: n // 4]
        out = np.flatnonzero(np.abs(y - first.mean()) > 3.0 * first.std())
        out = out[out >= n // 4]
    else:
        one, two = (np.concatenate([[0.0], np.cumsum(part)]) for part in (y, y * y))
        mean = (one[length:-1] - one[: -length - 1]) / length
        wide = np.sqrt(np.maximum((two[length:-1] - two[: -length - 1]) / length - mean**2, 0.0))
        out = length + np.flatnonzero(np.abs(y[length:] - mean) > 3.0 * wide)
    keep = [i for k, i in enumerate(out) if k == 0 or time[i] - time[out[k - 1]] > DAY]
    return np.array(keep, dtype=int)


def one_signal(number: int, seed: int) -> list[str]:
    """Print the table of one signal; return what is not met."""
    print(
        f"\n| fault, {4 * number} series | ours: score | false a year | two weeks, 3 s.d. | | first quarter, 3 s.d. | |"
    )
    print("|---|---:|---:|---:|---:|---:|---:|")
    means, false_sound, missed = [], 0.0, []
    for f, fault in enumerate(FAULTS):
        score, false, years = np.zeros(3), np.zeros(3), 0.0
        for (b, base), k in product(enumerate(BASES), range(number)):
            random = np.random.default_rng([seed, f, b, k])
            step, n = ((600.0, 28 * 144), (3600.0, 200 * 24))[k % 2]
            time = np.arange(n) * step
            y, at = with_fault(fault, random, time, a_base(base, random, time))
            half = n // 20
            windows = [(at - half, at + half)] if at >= 0 else []
            ours = np.searchsorted(time, [one.start for one in watch(time, y).events])
            for j, alarms in enumerate((ours, by_rule(y, time, "weeks"), by_rule(y, time, "quarter"))):
                score[j] += nab_score(time, [int(i) for i in alarms], windows)[0] / (2.0 * max(len(windows), 0.5))
                false[j] += sum(not any(low <= i <= high for low, high in windows) for i in alarms)
            years += n * step / (365.25 * DAY)
        score *= 100.0 / (4 * number)
        false /= years
        if fault == "none":
            false_sound = float(false[0])
        else:
            means.append(score)
            missed += [] if score[0] > 0.0 else [f"one signal, {fault}"]
        cells = " | ".join(f"{s:.1f} | {a:.1f}" for s, a in zip(score, false, strict=True))
        print(f"| {fault} | {cells} |", flush=True)
    whole = np.mean(means, axis=0)
    print(f"| all faults | {whole[0]:.1f} | | {whole[1]:.1f} | | {whole[2]:.1f} | |")
    missed += [] if whole[0] >= whole[1:].max() else ["one signal: the rules"]
    return missed + ([] if false_sound <= FALSE else [f"{false_sound:.1f} false alarms a year"])


def a_bed(fault: str, random: Random, n: int = 1150) -> tuple[np.ndarray, np.ndarray]:
    """Return eight channels that belong together, and whether each sample is at fault."""
    common = np.column_stack([red(random, n, phi) for phi in (0.5, 0.9, 0.995)])
    mix = random.standard_normal((3, 8)) * np.array([[1.0], [1.0], [random.uniform(0.3, 1.5)]])
    y = common @ mix + random.uniform(0.3, 1.0, 8) * np.column_stack([red(random, n, p) for p in
                                                                      random.uniform(0.0, 0.6, 8)])  # fmt: skip
    wide = y[:400].std(axis=0)
    start, end = int(random.uniform(0.48, 0.6) * n), int(random.uniform(0.8, 0.95) * n)
    true = np.zeros(n, dtype=bool)
    if fault == "none":
        return y, true
    true[start:end] = True
    hit = random.permutation(8)[: int(random.integers(1, 4))]
    signs = random.choice([-1.0, 1.0], hit.size)
    length = end - start
    if fault == "shift":
        y[start:end, hit] += signs * random.uniform(2.0, 5.0, hit.size) * wide[hit]
    elif fault == "drift":
        y[start:end, hit] += np.linspace(0.0, 6.0, length)[:, None] * signs * wide[hit]
    elif fault == "apart":
        for k in hit:  # the channel keeps its spread and mean, but goes its own way
            y[start:end, k] = y[:400, k].mean() + wide[k] * red(random, length, 0.6)
    elif fault == "noisier":
        y[start:end, hit] += 2.5 * wide[hit] * random.standard_normal((length, hit.size))
    else:
        t = np.arange(length)[:, None]
        y[start:end, hit] += 2.5 * wide[hit] * np.sin(2 * np.pi * t / random.uniform(8.0, 40.0))
    return y * 10.0 ** random.uniform(-2, 2, 8), true


def several(number: int, seed: int) -> list[str]:
    """Print the table of several signals; return what is not met."""
    from scipy.special import chdtri

    print(f"\n| fault, {number} beds | ours: F1 | false % | missed % | chi-squared: F1 | false % | missed % | always |")
    print("|---|---:|---:|---:|---:|---:|---:|---:|")
    missed, means = [], []
    for f, fault in enumerate(TOGETHER):
        rows = []
        for k in range(number):
            y, true = a_bed(fault, np.random.default_rng([seed, 99, f, k]))
            ours = watch_together(np.arange(len(y)) * 1.0, {f"c{j}": y[:, j] for j in range(8)}, 400).alarm[400:]
            off = (y - y[:400].mean(axis=0)) / y[:400].std(axis=0)
            far = np.einsum("ij,jk,ik->i", off, np.linalg.pinv(np.cov(off[:400].T)), off)[400:]
            row = []
            for alarm in (ours, far > chdtri(8, 1e-3)):
                both, t = float((alarm & true[400:]).sum()), true[400:]
                row += [2.0 * both / max(float(alarm.sum() + t.sum()), 1.0), 100.0 * float(alarm[~t].mean())]
                row += [100.0 * (1.0 - both / max(t.sum(), 1))]
            rows.append([*row, 2.0 * true.sum() / (true.sum() + true[400:].size)])
        mean = np.mean(rows, axis=0)
        if fault != "none":
            means.append(mean)
            missed += [] if mean[0] > 0.0 else [f"several, {fault}"]
        print(
            f"| {fault} | "
            + " | ".join(f"{v:.2f}" if i in (0, 3, 6) else f"{v:.1f}" for i, v in enumerate(mean))
            + " |"
        )
    whole = np.mean(means, axis=0)
    print(
        "| all faults | " + " | ".join(f"{v:.2f}" if i in (0, 3, 6) else f"{v:.1f}" for i, v in enumerate(whole)) + " |"
    )
    return missed + ([] if whole[0] >= max(whole[3], whole[6]) else ["several: the rules"])


def main(given: list[str]) -> int:
    """Print both tables; 1 when something is not met."""
    number = int(given[given.index("--series") + 1]) if "--series" in given else 6
    seed = int(given[given.index("--seed") + 1]) if "--seed" in given else 20330402
    start = process_time()
    missed = [*one_signal(number, seed), *several(4 * number, seed)]
    print(f"\nprocessor time {process_time() - start:.0f} s; not met: {', '.join(missed) or 'none'}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
