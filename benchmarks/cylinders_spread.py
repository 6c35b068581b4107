"""A year of hourly snapshots of twenty cylinders judged in one call, against the same formulas hour by hour.

Masks, medians of two banks, pooled MAD, modified z, cut-off by the number of valid sensors, odd cylinders; stopped
hours, masked and dead cylinders among them. Sides: plain Python with lists and ``sorted`` (the same formulas written a
second time), plain Python with the standard library's ``statistics.median``, and the program's own functions called
once an hour. Answers are compared before the race: odd cylinders exactly, z to 1e-9. Sides take turns; processor time
per hour, median over turns. Targets: in one call 100 times the functions hour by hour, 10 times plain Python: sorting
ten or twenty numbers is most of the work, and the interpreter does that in C as well.
"""

from __future__ import annotations

import math
import statistics
import sys
from collections.abc import Callable
from statistics import median
from time import process_time

import numpy as np

from asfound.cylinders.mask import mask, valid
from asfound.cylinders.own_pattern import residual, usual
from asfound.cylinders.robust import cutoffs
from asfound.cylinders.spread import spread
from asfound.quantities.run_arrays import keep_heap

HOURS, CYLINDERS, ALONE, FEW, TURNS = 8760, 20, 500, 40, 7
ROWS = [0] * 10 + [1] * 10
BY_FUNCTION, BY_PLAIN = 100.0, 10.0
WALLS = {sensors: row.cutoff_1pct for (banks, sensors), row in cutoffs().items() if banks == 2}
Snapshot = list[float]


def year() -> tuple[np.ndarray, np.ndarray]:
    """Return ports and load: own pattern of 9 K, 2 K of noise, a week of a dead cylinder, open sensors, stops."""
    draw = np.random.default_rng(6)
    load = draw.uniform(0.6, 1.0, HOURS)
    ports = (
        760 + 80 * load[:, None] + 9 * draw.standard_normal(CYLINDERS) + 2 * draw.standard_normal((HOURS, CYLINDERS))
    )
    ports[1000:1168, 3] -= 180.0
    ports[draw.random((HOURS, CYLINDERS)) < 0.002] = 1645.0
    ports[draw.random(HOURS) < 0.05] = 310.0
    return ports, load


def middle_by_sorting(values: Snapshot) -> float:
    ordered = sorted(values)
    at = len(ordered)
    return 0.5 * (ordered[(at - 1) // 2] + ordered[at // 2])


def plain(ports: Snapshot, middle: Callable[[Snapshot], float] = middle_by_sorting) -> tuple[list[int], Snapshot]:
    """Return odd cylinders and modified z of one snapshot, by floats alone."""
    nothing = [0] * len(ports), [math.nan] * len(ports)
    if middle(ports) <= 473.15:
        return nothing
    counts = [363.15 <= one <= 1073.15 for one in ports]
    middles = [middle([t for t, row, ok in zip(ports, ROWS, counts, strict=True) if row == r and ok]) for r in (0, 1)]
    away = [t - middles[row] if ok else math.nan for t, row, ok in zip(ports, ROWS, counts, strict=True)]
    scatter = middle([abs(one) for one, ok in zip(away, counts, strict=True) if ok])
    if scatter <= 0.0:
        return nothing
    fewest = min(sum(ok for row, ok in zip(ROWS, counts, strict=True) if row == r) for r in (0, 1))
    z = [0.6745 * one / scatter for one in away]
    odd = [
        int(math.copysign(1, d)) if abs(d) > 30 and abs(s) > WALLS[fewest] else 0 for d, s in zip(away, z, strict=True)
    ]
    return odd, z


def ours(ports: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return odd cylinders and modified z, of one hour or of all."""
    seen = spread(valid(ports, mask(ports, frozen_rows=HOURS + 1)), ROWS)
    return seen.odd, seen.z


def timed(run: Callable[[], object], per: int) -> float:
    start = process_time()
    run()
    return 1e6 * (process_time() - start) / per


def main() -> int:
    """Print the table; 1 where a target is missed."""
    keep_heap()  # as the sheet does before it works out a visit
    ports, load = year()
    odd, z = ours(ports)
    rows = ports[:ALONE].tolist()
    for at in range(0, HOURS, 7):
        want_odd, want_z = plain(ports[at].tolist())
        assert odd[at].tolist() == want_odd, at
        np.testing.assert_allclose(z[at], want_z, rtol=1e-9)
    log = valid(ports, mask(ports))
    sides: dict[str, Callable[[], float]] = {
        "**a year in one call**": lambda: timed(lambda: ours(ports), HOURS),
        "plain Python, `sorted`": lambda: timed(lambda: [plain(one) for one in rows], ALONE),
        "plain Python, `statistics.median`": lambda: timed(
            lambda: [plain(one, statistics.median) for one in rows], ALONE
        ),
        "our functions, hour by hour": lambda: timed(lambda: [ours(one) for one in ports[:FEW]], FEW),
        "own pattern found in a year, and its residuals": lambda: timed(
            lambda: residual(log, usual(log, load, ROWS), load, ROWS), HOURS
        ),
    }
    times: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(TURNS):
        for name, side in sides.items():
            times[name].append(side())
    found = {name: median(all_) for name, all_ in times.items()}
    own, by_sort, _, single, _ = found.values()
    print(f"\n{int((odd != 0).any(axis=1).sum())} of {HOURS:,} hours with an odd cylinder\n")
    print(f"| {HOURS:,} hours, {CYLINDERS} cylinders | µs per hour | times ours |\n|---|---:|---:|")
    for name, one in found.items():
        print(f"| {name} | {one:.2f} | {one / own:.1f} |")
    missed = [
        words
        for words, ratio, target in (("hour by hour", single / own, BY_FUNCTION), ("plain", by_sort / own, BY_PLAIN))
        if ratio < target
    ]
    print(f"missed: {', '.join(missed)}" if missed else "all targets met")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
