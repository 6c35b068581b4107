"""What is seen in years of logs: against truth made here, against open data (``--data``), and how fast.

Simulated truth: logs of load, ambient and speed with a drift, a step, both or none in noise that remembers; levels
that step; two signals of which one leads; visits with and without effect. Each is asked what the room finds, how often
its 95 % intervals hold the truth, and what the usual short cut says: a plain slope over time, the exact search with
white noise, plain medians. Targets: intervals hold the truth in 85 of 100 or more, false alarms at most 10 in 100.

Speed: a year of 10-minute readings of 24 channels through steady windows, baseline, drift and the watch, in processor
time; running sums against a plain Python loop of the same test.

``--data`` names a folder with tcpd/, nab/, skab/, cmapss/ and drift_cases/ as published; nothing is read without it.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Iterable
from pathlib import Path
from time import process_time

import numpy as np

from asfound.history.anomaly import watch
from asfound.history.anomaly_joint import watch_together
from asfound.history.baseline import baseline
from asfound.history.change_scores import covering, f1
from asfound.history.changes import change_points
from asfound.history.changes_joint import change_points_together
from asfound.history.correlated import difference_sigma
from asfound.history.drift import drift
from asfound.history.hunting import hunting
from asfound.history.leads import which_leads
from asfound.history.pelt import level_cost, pelt
from asfound.history.steady import SteadySettings, steady
from asfound.history.time_to_limit import of_drift
from asfound.history.timeline import DAY, HOUR
from asfound.history.visit_effect import before_after
from asfound.history.wear_out import fit_fleet

HELD, FALSE = 0.85, 0.10
missed: list[str] = []


def row(*cells: object) -> None:
    print("| " + " | ".join(f"{c:.3g}" if isinstance(c, float) else str(c) for c in cells) + " |")


def target(holds: bool, what: str) -> None:
    if not holds:
        missed.append(what)


def red(random: np.random.Generator, n: int, phi: float) -> np.ndarray:
    from scipy.signal import lfilter

    return lfilter([math.sqrt(1.0 - phi * phi)], [1.0, -phi], random.standard_normal(n + 500))[500:]


# --- simulated truth


def a_log(random, n=2 * 365 * 8, slope=0.0, steps=(), load_trend=0.0, phi=0.0, wander=0.0):
    """Two years of readings every three hours."""
    time = np.arange(n) * 3.0 * HOUR
    year = time / (365.25 * DAY)
    load = 75.0 + 6.0 * np.sin(2 * np.pi * time / DAY) + 6.0 * red(random, n, 0.97) + load_trend * year
    ambient = 12.0 + 9.0 * np.sin(2 * np.pi * year) + 3.0 * red(random, n, 0.95)
    speed = 1000.0 + 1.5 * random.standard_normal(n)
    y = 430.0 + 1.1 * load + 0.6 * (ambient - 15.0) + 0.02 * (speed - 1000.0) + slope * time / 3.6e6
    y += 3.0 * red(random, n, phi) + wander * red(random, n, 0.99)
    wild = random.random(n) < 0.01
    y[wild] += random.uniform(-60.0, 60.0, int(wild.sum()))
    for at, size in steps:
        y[at:] += size
    return time, y, {"load": load, "ambient": ambient, "speed": speed}


LOGS = {
    "nothing": ({}, "none"),
    "nothing, load rises 5 %/year": ({"load_trend": 5.0}, "none"),
    "nothing, wanders": ({"wander": 1.5}, "none"),
    "drift 0.3, load rises": ({"slope": 0.3, "load_trend": 5.0}, "drift"),
    "step -4": ({"steps": ((2500, -4.0),)}, "step"),
    "drift 0.8 and step -9": ({"slope": 0.8, "steps": ((3000, -9.0),)}, "both"),
    "drift, two steps, memory 0.8": ({"slope": 0.8, "steps": ((1500, -5.0), (4000, -6.0)), "phi": 0.8}, "both"),
}


def simulated_drift(times: int = 20) -> None:
    print("\n### Drift and step, simulated; share of logs\n")
    row("log", "kind right", "slope held", "plain slope held", "steps held", "step's time held", "limit held")
    row(*["---"] + ["---:"] * 6)
    for seed, (name, (what, kind)) in enumerate(LOGS.items()):
        random = np.random.default_rng([20330101, seed])
        right = slope = plain = limit = 0
        sizes, places = [], []
        for _ in range(times):
            time, y, effects = a_log(random, **what)
            found = drift(time, y, effects, reference={"load": 75.0})
            true = what.get("slope", 0.0)
            right += found.kind == kind
            slope += found.slope.holds(true)
            thousand = time / 3.6e6
            line, spread = np.polyfit(thousand, y, 1, cov=True)
            plain += abs(line[0] - true) <= 1.96 * math.sqrt(spread[0, 0])
            for step, (at, size) in zip(found.steps, what.get("steps", ()), strict=False):
                sizes.append(step.size.holds(size))
                places.append(step.earliest <= time[at] <= step.latest)
            if true:
                ahead = of_drift(found, found.level.value + 10.0, above=True)
                limit += ahead.low <= 1e4 / true <= ahead.high
        shares = [n / times for n in (right, slope, plain)]
        row(
            name, *shares, float(np.mean(sizes)) if sizes else "", float(np.mean(places)) if places else "",
            limit / times if what.get("slope") else "",
        )  # fmt: skip
        target(shares[0] >= HELD and shares[1] >= HELD, f"drift: {name}")


def simulated_changes(times: int = 12) -> None:
    print("\n### Change points, simulated; 400 samples, one step of 3 standard deviations or none\n")
    row("noise", "false: ours", "false: exact search, white noise", "found within 5: ours", "the same search")
    row(*["---"] + ["---:"] * 4)
    for name, phi in (("white", 0.0), ("memory 0.5", 0.5), ("memory 0.8", 0.8), ("random walk", None)):
        random = np.random.default_rng(20330102)
        counts = np.zeros(4)
        for _ in range(times):
            x = random.standard_normal(400).cumsum() if phi is None else red(random, 400, phi)
            counts[:2] += [bool(change_points(x).at), bool(_white_search(x))]
            at = int(random.integers(80, 320))
            x[at:] += 3.0 * (10.0 if phi is None else 1.0)
            for k, found in ((2, change_points(x).at), (3, _white_search(x))):
                counts[k] += len(found) == 1 and abs(found[0] - at) <= 5
        row(name, *[float(c) for c in counts / times])
        target(counts[0] / times <= FALSE, f"changes: {name}")


def _white_search(x: np.ndarray) -> list[int]:
    """The exact search at 3 log n with the noise from differences, as if samples were independent."""
    return pelt(level_cost(x), x.size, 3.0 * math.log(x.size) * difference_sigma(x) ** 2, 5)


def simulated_others(times: int = 20) -> None:
    print("\n### The rest, simulated\n")
    row("what", "ours", "short cut")
    row("---", "---:", "---:")
    random = np.random.default_rng(20330103)
    held = plain = claimed = 0
    for _ in range(times):
        n = 80 * 24
        time = np.arange(n) * HOUR
        after = time >= 40 * DAY
        load = 75.0 + 5.0 * random.standard_normal(n) + 3.0 * after
        y = 500.0 + 1.1 * load - 4.0 * after + 3.0 * red(random, n, 0.8)
        found = before_after(time, y, 40 * DAY, {"load": load}, wanted="lower")
        held += found.difference.holds(-4.0)
        plain += found.difference.low <= found.plain <= found.difference.high
        none = before_after(time, y + 4.0 * after, 40 * DAY, {"load": load}, wanted="lower")
        claimed += none.verdict in ("worked", "worse")
    row("before and after, -4: interval holds it; plain medians lie in it", held / times, plain / times)
    row("before and after, no effect: one claimed (10 in 100 by design)", claimed / times, "")
    target(held / times >= HELD, "before and after")
    first = linked = 0
    for _ in range(times):
        n = 3000
        load = red(random, n, 0.9) * 3.0 + 4.0 * np.sin(np.arange(n) / 7.5 + 0.02 * random.standard_normal(n).cumsum())
        speed = -0.5 * np.roll(load, 3) + 0.5 * random.standard_normal(n)
        first += which_leads(np.arange(float(n)), load, speed, 60.0).first == "a"
        linked += which_leads(np.arange(float(n)), red(random, n, 0.98), red(random, n, 0.98), 60.0).first != "neither"
    row("load leads speed: told; two signals without link: linked", first / times, linked / times)
    hunts = sum(hunting(np.arange(3000.0), red(random, 3000, 0.95)).found for _ in range(times))
    row("noise with memory 0.95 taken for hunting", hunts / times, "")
    target(first / times >= HELD and linked / times <= FALSE and hunts / times <= FALSE, "what leads, what hunts")
    alarms = hits = 0
    for phi in (0.0, 0.9, 0.99) * 2:
        time = np.arange(365 * 24) * HOUR
        x = red(random, time.size, phi)
        alarms += len(watch(time, x).events)
        x[6000:6100] += 6.0
        hits += any(5990 * HOUR <= e.start <= 6110 * HOUR for e in watch(time, x).events)
    row("watch: alarms in a channel-year without fault; faults of 6 s.d. for 100 h found", alarms / 6, hits / 6)
    target(alarms / 6 <= 1.0, "watch")


# --- speed


def plain_still(at: list[float], x: list[float], length: float, band: float) -> list[bool]:
    """The spread and the rate test of `steady.still`, sample by sample."""
    found, first = [], 0
    for i in range(len(x)):
        while at[first] < at[i] - length - 1e-6:
            first += 1
        low = min(first, max(i - 1, 0))
        n = i + 1 - low
        t = at[low : i + 1]
        y = x[low : i + 1]
        mt, my = sum(t) / n, sum(y) / n
        vt = sum((a - mt) ** 2 for a in t) / n
        vy = sum((b - my) ** 2 for b in y) / n
        slope = sum((a - mt) * (b - my) for a, b in zip(t, y, strict=True)) / n / vt if vt > 0 else 0.0
        if n < 4:
            found.append(n > 1 and 2.0 * math.sqrt(vy) <= band)
        else:
            found.append(4.0 * math.sqrt(vy) <= band and abs(slope) * (at[i] - at[low]) <= 0.5 * band)
    return found


def speed() -> None:
    from asfound.history.steady import still

    print("\n### Speed: a year of 10-minute readings (52,560), 24 channels; processor time\n")
    random = np.random.default_rng(20330104)
    n = 365 * 144
    time = np.arange(n) * 600.0
    load = 75.0 + 6.0 * red(random, n, 0.999)
    ambient = 12.0 + 9.0 * np.sin(2 * np.pi * time / (365.25 * DAY)) + 2.0 * red(random, n, 0.99)
    running = np.ones(n, dtype=bool)
    channels = {f"c{k}": 500.0 + load + (k / 10.0) * ambient + 3.0 * red(random, n, 0.5) for k in range(24)}
    effects = {"load": load, "ambient": ambient}
    took = {}
    start = process_time()
    found = steady(time, running, load, settings=SteadySettings(load_band=0.1))
    took["steady windows (once)"] = process_time() - start
    start = process_time()
    fitted = {k: baseline(y, effects, counts=found.counts, time=time) for k, y in channels.items()}
    took["24 baselines"] = process_time() - start
    start = process_time()
    for y in channels.values():
        drift(time, y, effects, running=running, counts=found.counts)
    took["24 drifts with steps"] = process_time() - start
    start = process_time()
    residual = {k: fitted[k].residual(y, effects) for k, y in channels.items()}
    for y in residual.values():
        watch(time, y)
    took["24 watches"] = process_time() - start
    start = process_time()
    watch_together(time, residual, 5000)
    took["24 channels together"] = process_time() - start
    row("what", "s")
    row("---", "---:")
    for name, value in took.items():
        row(name, value)
    row("all", sum(took.values()))
    few = slice(0, 5000)
    start = process_time()
    slow = plain_still(time[few].tolist(), load[few].tolist(), 6 * HOUR, 5.0)
    of_loop = (process_time() - start) / 5000
    start = process_time()
    for _ in range(10):
        quick = still(time, load, 6 * HOUR, 5.0)
    of_ours = (process_time() - start) / (10 * n)
    agree = float(np.mean(quick[few] == np.array(slow)))
    print(f"\nstill or not, windows of 6 h: plain Python over ours {of_loop / of_ours:.0f}; same answer in {agree:.2%}")
    target(of_loop / of_ours >= 100 and agree > 0.999, "still against a plain loop")


# --- open data


def stamps(texts: Iterable[str]) -> np.ndarray:
    return (
        np.array([np.datetime64(t.replace(" ", "T")) for t in texts]).astype("datetime64[us]").astype(np.int64) * 1e-6
    )


def open_changes(folder: Path) -> None:
    print("\n### Turing Change Point Dataset: F1 (margin 5) / covering\n")
    people = json.loads((folder / "annotations.json").read_text())
    known = (
        json.loads((folder / "baseline_scores.json").read_text()) if (folder / "baseline_scores.json").exists() else {}
    )
    row("series", "ours", "found", "no change", "best of the reference's methods (each score)")
    row("---", "---:", "---", "---:", "---:")
    for name, marks in people.items():
        series = json.loads((folder / f"{name}.json").read_text())["series"]
        x = np.array([one["raw"] for one in series], dtype=float).T
        each = list(marks.values())
        found = change_points(x[:, 0]).at if len(series) == 1 else [one.at for one in change_points_together(x)]
        ours, none = [(f1(each, at), covering(each, at, len(x))) for at in (found, [])]
        others = [scores for method, scores in known.get(name, {}).items() if method != "none"]
        best = [max((s[key] for s in others), default=math.nan) for key in ("f1", "cover")]
        row(name, *["{:.4f} / {:.4f}".format(*pair) if pair else found for pair in (ours, (), none, best)])
        target(ours[0] >= none[0] and ours[1] >= none[1], f"change points of {name}")


def nab_score(at: np.ndarray, alarms: list[int], windows: list[tuple[int, int]]) -> tuple[float, float]:
    """Score of the Numenta Anomaly Benchmark, standard profile: of this detector, and of a perfect one; none is 0."""
    sigmoid = lambda y: 2.0 / (1.0 + math.exp(5.0 * y)) - 1.0  # noqa: E731
    raw = 0.0
    for low, high in windows:
        inside = [i for i in alarms if low <= i <= high]
        raw += 1.0 + sigmoid((inside[0] - low) / max(high - low, 1) - 1.0) / sigmoid(-1.0) if inside else 0.0
    for i in alarms:
        if i < min(0.15 * at.size, 750) or any(low <= i <= high for low, high in windows):
            continue
        before = [(low, high) for low, high in windows if high < i]
        y = (i - before[-1][1]) / (before[-1][1] - before[-1][0]) if before else math.inf
        raw += 0.11 * (sigmoid(y) if y < 3.0 else -1.0)
    return raw, 2.0 * len(windows)


def open_anomalies(folder: Path) -> None:
    print("\n### Numenta Anomaly Benchmark: standard profile, doing nothing is 0, a perfect detector 100\n")
    row("series", "samples", "windows found", "false alarms", "score")
    row("---", "---:", "---:", "---:", "---:")
    for name, marked in json.loads((folder / "windows.json").read_text()).items():
        lines = (folder / f"{name}.csv").read_text().splitlines()[1:]
        at = stamps(line.split(",")[0] for line in lines)
        found = watch(at, np.array([float(line.split(",")[1]) for line in lines]))
        alarms = [int(np.searchsorted(at, one.start)) for one in found.events]
        windows = [tuple(int(i) for i in np.searchsorted(at, stamps(pair))) for pair in marked["windows"]]
        hit = sum(any(low <= i <= high for i in alarms) for low, high in windows)
        false = sum(not any(low <= i <= high for low, high in windows) for i in alarms)
        raw, perfect = nab_score(at, alarms, windows)
        row(name, at.size, f"{hit} of {len(windows)}", false, 100.0 * raw / perfect if perfect else raw)
        target(raw >= 0.0, f"watch on {name}")


def open_together(folder: Path) -> None:
    print("\n### Skoltech Anomaly Benchmark: 400 samples to learn, then by sample\n")
    row("run", "F1", "false alarms %", "missed %", "F1 of 'always'", "F1 of 'never'")
    row("---", *["---:"] * 5)
    for path in sorted(folder.glob("*.csv")):
        head, *lines = path.read_text().splitlines()
        values = np.array([[float(v) for v in line.split(";")[1:]] for line in lines])
        names = head.split(";")[1:-2]
        found = watch_together(
            stamps(line.split(";")[0] for line in lines), dict(zip(names, values.T, strict=False)), 400
        )
        ours, true = found.alarm[400:], values[400:, -2] > 0
        score = lambda alarm, true=true: 2.0 * (alarm & true).sum() / (alarm.sum() + true.sum())  # noqa: E731
        row(
            path.stem, float(score(ours)), 100.0 * float(ours[~true].mean()), 100.0 * float((~ours)[true].mean()),
            float(score(np.ones_like(true))), 0.0,
        )  # fmt: skip
        target(bool(score(ours) > score(np.ones_like(true))), f"together on {path.stem}")


def open_lives(folder: Path) -> None:
    print("\n### C-MAPSS FD001, each unit from the others: error of remaining cycles, at a share of its life\n")
    table = np.loadtxt(sorted(folder.glob("*.txt"))[0])
    lives = [table[table[:, 0] == unit][:, 5:] for unit in np.unique(table[:, 0])]
    row("share of life", "root mean square, ours", "mean life less age", "95 % interval held", "its mean width")
    row(*["---:"] * 5)
    fleets = [fit_fleet([one for j, one in enumerate(lives) if j != k]) for k in range(len(lives))]
    for share in (0.3, 0.5, 0.7, 0.8, 0.9):
        errors, naive, held, width = [], [], [], []
        for fleet, life in zip(fleets, lives, strict=True):
            age = int(share * len(life))
            found, true = fleet.remaining(life[:age]), len(life) - age
            errors.append(found.median - true)
            naive.append(found.mean_life - true)
            held.append(found.low <= true <= found.high)
            width.append(found.high - found.low)
        ours, theirs = (float(np.sqrt(np.mean(np.square(e)))) for e in (errors, naive))
        row(share, ours, theirs, float(np.mean(held)), float(np.mean(width)))
        target(ours < theirs and float(np.mean(held)) >= HELD, f"lives at {share}")


def open_drift(folder: Path) -> None:
    import duckdb

    print("\n### Constructed logs of three years: the model that made them, within its own intervals\n")
    row("case", "kind", "slope held", "steps held", "effects held", "value at the end held", "hours to the limit held")
    row("---", "---", *["---:"] * 5)
    for name, truth in json.loads((folder / "truth.json").read_text()).items():
        got = duckdb.sql(f"select epoch_us(ts) t, * exclude ts from '{folder / name}' order by ts").fetchnumpy()
        time = got.pop("t").astype(np.int64)
        load, speed_, ambient, y = (np.asarray(v, dtype=float) for v in got.values())
        running = speed_ > 500.0
        settings = SteadySettings(warm_up=3.01 * HOUR, settle=0.0, load_band=10.0, speed_band=10.0)
        counts = steady(time, running, load, speed_, settings).counts
        visits = np.array([np.datetime64(v) for v in truth["visits"]]).astype("datetime64[us]").astype(np.int64)
        found = drift(
            time, y, {"load": load, "ambient": ambient, "speed": speed_}, running=running, counts=counts,
            visits=visits, reference={"load": 90.0, "ambient": 15.0, "speed": 1000.0},
        )  # fmt: skip
        a, b = truth["drift_per_1000_run_h"], truth["drift_quadratic"]
        slope = a + 2.0 * b * found.hours / 1000.0
        sizes = [one["size"] for one in truth["steps"]]
        held = len(sizes) == len(found.steps) and all(s.size.holds(t) for s, t in zip(found.steps, sizes, strict=True))
        true = {"load": 1.1, "ambient": 0.6, "speed": 0.02}
        limit = of_drift(found, truth["limit_on_value_normalised_to_90pct_load_15degC_1000rpm"], above=True)
        ahead = truth["true_run_hours_to_limit_after_end"]
        reached = ahead is None or limit.low <= ahead <= limit.high
        row(
            name, found.kind, found.slope.holds(slope), held, all(found.effects[k].holds(v) for k, v in true.items()),
            found.level.holds(truth["normalised_value_at_end"]), reached,
        )  # fmt: skip
        target(found.slope.holds(slope) and held and reached, f"drift of {name}")


def main(given: list[str]) -> int:
    """Print all tables; 1 when a target is missed."""
    folder = Path(given[given.index("--data") + 1]) if "--data" in given else None
    if folder is None:
        simulated_drift()
        simulated_changes()
        simulated_others()
        speed()
        print("\n(open data: name their folder with --data)")
    else:
        parts = {"tcpd": open_changes, "nab": open_anomalies, "skab": open_together, "cmapss": open_lives}
        for name, part in {**parts, "drift_cases": open_drift}.items():
            if (folder / name).is_dir():
                part(folder / name)
    for one in missed:
        print("missed:", one)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
