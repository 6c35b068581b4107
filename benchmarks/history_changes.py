"""Change points against truth made here: families of series, ours beside doing nothing and two plain searches.

    python -m benchmarks.history_changes [--series N] [--seed S] [FAMILY ...]

Each family makes seeded series of 24 to 500 samples with what a log or a yearly table holds: steps, turns of a slope,
spread that changes, walks, seasons, memory, wild readings, growth in per cent, counts, shares that end at 100 %, gaps,
several channels. Truth is what was put in; where nothing was, every change found is a false alarm. Scores are F1
(margin 5) and covering, as in change_scores. The plain searches are those of an open library (ruptures) as people use
them: the exact search (PELT) and binary segmentation, squares, standardised, price 2 log n, missing values filled by
the last.

A family is met where ours is at least as good as doing nothing and as the better of the plain searches, in the mean of
F1 and covering, less `SLACK` (one false change among the series); 1 is returned when one is not.
"""

from __future__ import annotations

import math
import sys
import warnings
from collections.abc import Callable
from time import process_time

import numpy as np

from asfound.history.change_scores import covering, f1
from asfound.history.changes import change_points
from asfound.history.changes_joint import change_points_together

SLACK = 0.03
Series = tuple[np.ndarray, list[int]]
Random = np.random.Generator


def red(random: Random, n: int, phi: float) -> np.ndarray:
    """Noise of one standard deviation with memory from sample to sample."""
    from scipy.signal import lfilter

    return lfilter([math.sqrt(1.0 - phi * phi)], [1.0, -phi], random.standard_normal(n + 200))[200:]


def places(random: Random, n: int, number: int, apart: int) -> list[int]:
    """Random places, none nearer to another or to an end than ``apart``."""
    free = n - (number + 1) * apart
    return [int(p) + (k + 1) * apart for k, p in enumerate(np.sort(random.integers(0, free + 1, number)))]


def stairs(random: Random, n: int, at: list[int], low: float, high: float) -> np.ndarray:
    """Levels that step by a size between two, up or down."""
    y = np.zeros(n)
    for one in at:
        y[one:] += random.uniform(low, high) * random.choice([-1.0, 1.0])
    return y


def turns(random: Random, n: int, at: list[int], rise: float) -> np.ndarray:
    """Joined lines: each turn moves the series by about ``rise`` over a tenth of its length or more."""
    t = np.arange(n)
    slope = random.uniform(-1.0, 1.0) * rise / n
    y = slope * t
    for one in at:
        y = y + random.choice([-1.0, 1.0]) * random.uniform(2.0, 5.0) * rise / n * np.maximum(t - one, 0)
    return y


def level_steps(random: Random) -> Series:
    n = int(random.integers(60, 400))
    at = places(random, n, int(random.integers(1, 5)), max(12, n // 12))
    return stairs(random, n, at, 2.0, 6.0) + random.standard_normal(n), at


def steps_with_memory(random: Random) -> Series:
    n = int(random.integers(100, 400))
    at = places(random, n, int(random.integers(1, 4)), n // 8)
    return stairs(random, n, at, 4.0, 8.0) + red(random, n, random.uniform(0.3, 0.8)), at


def slopes_turn(random: Random) -> Series:
    n = int(random.integers(80, 300))
    at = places(random, n, int(random.integers(1, 3)), n // 5)
    return turns(random, n, at, 10.0) + random.standard_normal(n), at


def few_years(random: Random) -> Series:
    """24 to 70 yearly figures, smooth: growth that changes once, or does not."""
    n = int(random.integers(24, 70))
    at = places(random, n, int(random.integers(0, 2)), n // 4)
    growth = np.full(n, random.uniform(0.5, 1.5))
    for one in at:
        growth[one:] = growth[0] * random.uniform(-1.0, 0.2)
    shocks = 0.25 * red(random, n, 0.5)
    return np.cumsum(growth + shocks), at


def spread_changes(random: Random) -> Series:
    n = int(random.integers(120, 400))
    at = places(random, n, int(random.integers(1, 3)), n // 5)
    wide = np.ones(n)
    for k, one in enumerate(at):
        wide[one:] = random.uniform(3.0, 5.0) if k % 2 == 0 else 1.0
    return 10.0 + wide * random.standard_normal(n), at


def walks(random: Random) -> Series:
    """A walk, half of them with a drift: nothing changes."""
    n = int(random.integers(60, 400))
    return np.cumsum(random.standard_normal(n) + random.choice([0.0, 0.3])), []


def walks_that_jump(random: Random) -> Series:
    n = int(random.integers(80, 300))
    at = places(random, n, 1, n // 4)
    return np.cumsum(random.standard_normal(n)) + stairs(random, n, at, 12.0, 25.0), at


def seasons(random: Random) -> Series:
    """Months or hours: a season, a slope, and a step or a turn in most."""
    n, period = int(random.integers(120, 400)), int(random.choice([12, 24]))
    t = np.arange(n)
    shape = np.sin(2 * np.pi * t / period) + random.uniform(0.0, 0.6) * np.cos(4 * np.pi * t / period + 1.0)
    y = random.uniform(2.0, 6.0) * shape + 0.4 * red(random, n, 0.4) * random.uniform(1.0, 2.0)
    y += random.uniform(-0.02, 0.02) * t
    at = places(random, n, int(random.integers(0, 3)), n // 5)
    return y + stairs(random, n, at, 4.0, 8.0), at


def months(random: Random) -> Series:
    """A season of any shape, on a growth in per cent in half of them; a step or a turn in most."""
    n, period = int(random.integers(120, 400)), int(random.choice([12, 12, 7, 24]))
    shape = random.standard_normal(period)[np.arange(n) % period] * random.uniform(1.0, 3.0)
    at = places(random, n, int(random.integers(0, 3)), n // 5)
    y = shape + stairs(random, n, at, 4.0, 8.0) + red(random, n, 0.4)
    return (100.0 * np.exp(0.06 * y + np.arange(n) / n) if random.random() < 0.5 else y), at


def memory_only(random: Random) -> Series:
    n = int(random.integers(60, 400))
    return red(random, n, random.uniform(0.0, 0.95)), []


def wild_readings(random: Random) -> Series:
    n = int(random.integers(80, 300))
    at = places(random, n, int(random.integers(0, 2)), n // 4)
    y = stairs(random, n, at, 3.0, 6.0) + random.standard_normal(n)
    wild = random.random(n) < 0.03
    y[wild] += random.choice([-1.0, 1.0], int(wild.sum())) * random.uniform(10.0, 40.0, int(wild.sum()))
    return y, at


def growth(random: Random) -> Series:
    """So many per cent each time, at one rate."""
    n = int(random.integers(30, 200))
    total = random.uniform(1.0, 4.0)
    y = np.exp(total * np.arange(n) / n + 0.02 * red(random, n, 0.5))
    return y * 10.0 ** random.uniform(-1, 12), []


def growth_that_breaks(random: Random) -> Series:
    """So many per cent each time, and then none, or a fall."""
    n = int(random.integers(40, 200))
    at = places(random, n, 1, n // 4)
    rate = np.full(n, random.uniform(1.5, 3.0) / n)
    rate[at[0] :] = random.uniform(-0.6, 0.1) * rate[0]
    return np.exp(np.cumsum(rate) + 0.02 * red(random, n, 0.5)) * 10.0 ** random.uniform(-1, 12), at


def counts(random: Random) -> Series:
    n = int(random.integers(60, 300))
    at = places(random, n, int(random.integers(1, 4)), max(10, n // 8))
    rate = random.uniform(3.0, 30.0)
    y = np.full(n, rate)
    for one in at:
        y[one:] = y[one] * random.choice([0.4, 0.5, 2.0, 2.5])
    return random.poisson(np.clip(y, 0.3, None)).astype(float), at


def shares(random: Random) -> Series:
    """A percentage that ends at 0 and 100."""
    n = int(random.integers(80, 300))
    at = places(random, n, int(random.integers(0, 3)), n // 6)
    y = np.full(n, random.uniform(85.0, 99.0))
    for one in at:
        y[one:] = random.uniform(10.0, 70.0) if y[one] > 80.0 else random.uniform(85.0, 99.0)
    return np.clip(y + 4.0 * random.standard_normal(n), 0.0, 100.0), at


def gaps(random: Random) -> Series:
    y, at = level_steps(random)
    y[random.random(y.size) < 0.15] = np.nan
    start = int(random.integers(0, y.size - 10))
    y[start : start + 6] = np.nan
    return y, at


def smooth_turns(random: Random) -> Series:
    """Smoother than a walk: a growth that itself wanders a little, with one clear turn, or none."""
    n = int(random.integers(60, 250))
    at = places(random, n, int(random.integers(0, 2)), n // 4)
    pace = np.full(n, 1.0)
    for one in at:
        pace[one:] = random.uniform(-1.0, 0.1)
    return np.cumsum(pace + 0.2 * red(random, n, 0.9)) + 0.2 * random.standard_normal(n), at


def ramps(random: Random) -> Series:
    """Levels with a passage of 3 to 8 samples; the change is its middle."""
    n = int(random.integers(100, 300))
    at = places(random, n, int(random.integers(1, 4)), n // 7)
    y = stairs(random, n, at, 5.0, 10.0)
    width = int(random.integers(3, 9))
    y = np.convolve(np.pad(y, width, mode="edge"), np.ones(width) / width, "same")[width:-width]
    return y + random.standard_normal(n), at


def several(random: Random) -> Series:
    n, channels = int(random.integers(80, 300)), int(random.integers(2, 7))
    at = places(random, n, int(random.integers(1, 4)), max(12, n // 8))
    y = np.column_stack([red(random, n, random.uniform(0.0, 0.6)) for _ in range(channels)])
    for one in at:
        moved = random.permutation(channels)[: max(1, channels // 2)]
        y[one:, moved] += random.uniform(2.5, 5.0, moved.size) * random.choice([-1.0, 1.0], moved.size)
    return y * 10.0 ** random.uniform(-2, 3, channels), at


FAMILIES: tuple[Callable[[Random], Series], ...] = (
    level_steps, steps_with_memory, slopes_turn, few_years, spread_changes, walks, walks_that_jump, seasons, months,
    memory_only, wild_readings, growth, growth_that_breaks, counts, shares, gaps, smooth_turns, ramps, several,
)  # fmt: skip


def ours(x: np.ndarray) -> list[int]:
    return change_points(x).at if x.ndim == 1 else [one.at for one in change_points_together(x)]


def plain(x: np.ndarray, method: str) -> list[int]:
    """A search of an open library as people use it."""
    import ruptures

    two = x[:, None] if x.ndim == 1 else x
    for column in two.T:  # as a table would be filled: the last value holds
        there = np.flatnonzero(np.isfinite(column))
        which = np.clip(np.searchsorted(there, np.arange(column.size), side="right") - 1, 0, None)
        column[:] = column[there[which]]
    two = (two - two.mean(axis=0)) / np.maximum(two.std(axis=0), 1e-300)
    search = ruptures.KernelCPD(kernel="linear", min_size=2) if method == "pelt" else ruptures.Binseg("l2", jump=1)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found: list[int] = search.fit(two).predict(pen=2.0 * math.log(len(two)) * two.shape[1])[:-1]
    return found


def judged(make: Callable[[Random], Series], number: int, seed: int) -> tuple[np.ndarray, float, float]:
    """Return F1 and covering (means over the series) of ours, nothing, exact, binary; found and true per series."""
    scores = np.zeros((4, 2))
    said = true = 0
    for k in range(number):
        x, at = make(np.random.default_rng([seed, k]))
        found = [ours(x), [], plain(x.copy(), "pelt"), plain(x.copy(), "binary")]
        scores += [[f1([at], one), covering([at], one, len(x))] for one in found]
        said, true = said + len(found[0]), true + len(at)
    return scores / number, said / number, true / number


def main(given: list[str]) -> int:
    """Print the table; 1 when a family is not met."""
    number = int(given[given.index("--series") + 1]) if "--series" in given else 16
    seed = int(given[given.index("--seed") + 1]) if "--seed" in given else 20330401
    named = [make for make in FAMILIES if make.__name__ in given] or FAMILIES
    start = process_time()
    print(
        f"\n| family, {number} series each | true changes | found | ours F1 / cover | nothing | exact | binary | met |"
    )
    print("|---|---:|---:|---|---|---|---|---|")
    whole, missed = np.zeros((4, 2)), []
    for make in named:
        scores, said, true = judged(make, number, seed)
        whole += scores / len(named)
        mean = scores.mean(axis=1)
        met = mean[0] >= mean[1:].max() - SLACK
        missed += [] if met else [make.__name__]
        cells = " | ".join(f"{one[0]:.3f} / {one[1]:.3f}" for one in scores)
        name = make.__name__.replace("_", " ")
        print(f"| {name} | {true:.2f} | {said:.2f} | {cells} | {'yes' if met else 'NO'} |", flush=True)
    print(f"| all | | | {' | '.join(f'{one[0]:.3f} / {one[1]:.3f}' for one in whole)} | |")
    print(f"\nprocessor time {process_time() - start:.0f} s; not met: {', '.join(missed) or 'none'}")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
