"""A visit of 60 readings and more than 80 results, worked out with 10,000 draws: the sheet beside bare NumPy.

All sides compute the same formulas, those of the program's own worksheets, on the same draws. They take turns, and each
turn has other readings, so that nothing but the random streams can be kept. Bare NumPy gets its draws ready made and
calls the formulas one after the other; the sheet starts from the readings.
"""

from __future__ import annotations

import math
import statistics
import sys
import time
from collections.abc import Callable
from typing import Any

import numpy as np
from uncertainties import ufloat, umath

from asfound.quantities import worksheets
from asfound.quantities.draws import draw
from asfound.quantities.plan import Assumed, Default, Made, Read
from asfound.quantities.plan import plan as plan_of
from asfound.quantities.register import quantities, quantity
from asfound.quantities.sheet import assumed_reading, checked, work_out
from asfound.quantities.words import STATES, Reading
from asfound.quantities.worked import Worked
from benchmarks.sheet_formulas import ONE_BY_ONE

NUMBER, SEED, TURNS = 10_000, 1, 40
MOST_OVER_NUMPY, LEAST_UNDER_PYTHON = 1.5, 15.0
PLACES = ("stack", "left_bank", "right_bank")


def taken() -> dict[str, worksheets.Worksheet]:
    """Return the worksheets that are raced; what the program has beside them would join in by what it gives."""
    return {name: sheet for name, sheet in worksheets.load().items() if name in ONE_BY_ONE}


def visit(turn: int) -> list[Reading]:
    """Return the readings of a visit, as found and as left, each turn a little other than the one before."""
    found = []
    for state, more in zip(STATES, (1.0, 0.97), strict=True):
        near = more * (1.0 + 1e-4 * turn)
        for at, place in enumerate(PLACES):
            found += [
                _reading("exhaust_nox_dry", place, state, (110e-6 + 4e-6 * at) * near, 0.05, "analyser"),
                _reading("exhaust_co_dry", place, state, (430e-6 - 9e-6 * at) * near, 0.03, "analyser"),
                _reading("exhaust_oxygen_dry", place, state, 0.094 * near, 0.016, "analyser"),
            ]
        found += [
            _reading("ambient_temperature", "site", state, 299.0 + near, 0.003),
            _reading("relative_humidity", "site", state, 0.42 * near, 0.1),
            _reading("barometric_pressure", "site", state, 84_900.0 + near, 0.002),
            _reading("engine_power", "engine", state, 815e3 * near, 0.012),
            _reading("fuel_flow", "engine", state, 0.0581 * near, 0.01),
        ]
        found += [
            _reading("exhaust_temperature", f"cylinder_{one}", state, 790.0 + one * near, 0.004, "scanner")
            for one in range(1, 9)
        ]
    gas = {"methane": 0.93, "ethane": 0.034, "propane": 0.009, "isobutane": 0.001, "butane": 0.002, "nitrogen": 0.014}
    gas |= {"isopentane": 4e-4, "pentane": 4e-4, "hexanes_plus": 2e-4, "carbon_dioxide": 0.009, "oxygen": 1e-4}
    gas |= {"hydrogen": 1e-5, "carbon_monoxide": 1e-5}
    found += [_reading(f"fuel_{name}", "fuel", "as_found", x * (1 + 1e-4 * turn), 0.01) for name, x in gas.items()]
    found.append(_reading("gross_heating_value", "fuel", "as_found", 40.2e6 * (1 + 1e-4 * turn), 0.004))
    found.append(_reading("permit_reference_oxygen", "site", "as_found", 0.15, 0.0))
    found.append(_reading("permit_oxygen_in_air", "site", "as_found", 0.209, 0.0))
    return found


def _reading(name: str, place: str, state: Any, value: float, relative: float, shared: str = "") -> Reading:
    return Reading(
        quantity=name, place=place, state=state, time="2032-07-08T10:00:00-06:00", value=value,
        unit=quantity(name).si_unit, as_typed=f"{value:.6g}", standard_uncertainty=relative * abs(value),
        shared_with=f"{shared}/{name}" if shared else "", shared_fraction=0.5 if shared else 0.0,
    )  # fmt: skip


class Bare:
    """The same calculation with nothing around it: a list of formulas and of where their inputs and answers lie."""

    def __init__(self, readings: list[Reading]) -> None:
        kinds = quantities()
        given = checked(readings, kinds)
        signature = tuple((spot, one.gauge) for spot, one in given.items())
        carrying = frozenset(name for name, kind in kinds.items() if kind.carries)
        planned = plan_of(signature, tuple(taken().values()), carrying, frozenset())
        self.columns: list[Reading | float | None] = []
        self.steps: list[tuple[str, Callable[..., Any], list[int], int]] = []
        where: dict[Any, int] = {}
        for step in planned.steps:
            inputs = [self.column(origin, given, where) for origin in step.inputs]
            self.steps.append((step.worksheet.name, step.worksheet.formula, inputs, len(step.worksheet.gives)))
            for name in step.worksheet.gives:
                where[step.state, step.place, name, step.worksheet.name] = len(self.columns)
                self.columns.append(None)

    def column(self, origin: Any, given: Any, where: dict[Any, int]) -> int:
        """Return the column of an input; a new one where it was not met before."""
        if isinstance(origin, Made):
            return where[*origin.spot, origin.worksheet]
        if origin not in where:
            where[origin] = len(self.columns)
            if isinstance(origin, Read):
                self.columns.append(given[origin.spot])
            elif isinstance(origin, Assumed):
                unit = quantity(origin.spot.quantity).si_unit
                self.columns.append(assumed_reading(origin.spot, origin.assumption, unit))
            elif isinstance(origin, Default):
                self.columns.append(origin.value)
        return where[origin]

    def filled(self, make: Callable[[Reading], Any]) -> list[Any]:
        """Return the columns with the readings' numbers in them, the results' still open."""
        return [make(one) if isinstance(one, Reading) else one for one in self.columns]

    def run(self, columns: list[Any]) -> list[Any]:
        """Compute all results by the formulas as they are."""
        for _, formula, inputs, many in self.steps:
            answer = formula(*[columns[at] for at in inputs])
            self.put(columns, answer, many)
        return columns

    def run_one(self, columns: list[Any], module: Any) -> list[Any]:
        """Compute all results by the formulas for one number at a time."""
        for name, _, inputs, many in self.steps:
            answer = ONE_BY_ONE[name](module, *[columns[at] for at in inputs])
            self.put(columns, answer, many)
        return columns

    def put(self, columns: list[Any], answer: Any, many: int) -> None:
        """Put an answer into the next open columns."""
        if many == 1:
            columns[self.open] = answer
        else:
            columns[self.open : self.open + many] = answer
        self.open += many
        while self.open < len(columns) and self.columns[self.open] is not None:
            self.open += 1

    open = 0

    def begin(self) -> None:
        """Go back to the first open column."""
        self.open = next(at for at, one in enumerate(self.columns) if one is None)


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Return the seconds that work takes, and what it gives."""
    start = time.perf_counter()
    made = work()
    return time.perf_counter() - start, made


def best_of(sides: dict[str, Callable[[], Any]], times: int = 3) -> dict[str, float]:
    """Return the shortest of some runs of each side, the sides in turn: what other programs do only makes it longer."""
    found: dict[str, float] = {}
    for _ in range(times):
        for name, work in sides.items():
            found[name] = min(found.get(name, math.inf), timed(work)[0])
    return found


def main() -> int:
    """Measure, print the table, and return 1 where a target is missed."""
    rows: dict[str, list[float]] = {name: [] for name in ("bare", "sheet", "bare all", "sheet all", "python", "linear")}
    compare(visit(0))
    for turn in range(TURNS):
        readings = visit(turn)
        bare = Bare(readings)
        draws = bare.filled(lambda one: draw(one, NUMBER, SEED)[1:].copy())

        def formulas(bare: Bare = bare, draws: list[Any] = draws) -> list[Any]:
            bare.begin()
            return bare.run(list(draws))

        def formulas_and_intervals(bare: Bare = bare, draws: list[Any] = draws) -> Any:
            columns = formulas(bare, draws)
            made = [column for column, was in zip(columns, bare.columns, strict=True) if was is None]
            return columns, [(one.std(ddof=1), np.quantile(one, [0.025, 0.975])) for one in made]

        def sheet(readings: list[Reading] = readings) -> Worked:
            return work_out(readings, number=NUMBER, seed=SEED, worksheets=taken())

        def sheet_and_intervals(readings: list[Reading] = readings) -> Any:
            worked = sheet(readings)
            return worked, [(one.standard_uncertainty, one.interval) for one in worked.results]

        sides = {"bare": formulas, "sheet": sheet, "bare all": formulas_and_intervals, "sheet all": sheet_and_intervals}
        for name, seconds in best_of(sides).items():
            rows[name].append(seconds)
        if turn % 20 == 0:
            lists = [column.tolist() if isinstance(column, np.ndarray) else column for column in draws]
            rows["python"].append(timed(lambda bare=bare, lists=lists: one_by_one(bare, lists))[0])
        if turn % 6 == 0:
            rows["linear"].append(timed(lambda bare=bare: linear(bare))[0])
    return report(rows, bare, readings)


def one_by_one(bare: Bare, lists: list[Any]) -> list[list[Any]]:
    """Compute all results draw by draw in plain Python, and keep them."""
    kept = []
    for at in range(NUMBER):
        bare.begin()
        kept.append(bare.run_one([one[at] if isinstance(one, list) else one for one in lists], math))
    return kept


def linear(bare: Bare) -> list[tuple[float, float]]:
    """Propagate linearly with a general library, correlations by its own bookkeeping; take every uncertainty."""
    bare.begin()
    columns = bare.run_one(bare.filled(lambda one: with_uncertainty(one)), umath)
    made = [one for one, was in zip(columns, bare.columns, strict=True) if was is None]
    return [(one.nominal_value, one.std_dev) for one in made if not isinstance(one, float)]


def with_uncertainty(one: Reading) -> Any:
    """Return a reading as the library wants it; one that is exact as a plain number."""
    return ufloat(one.value, one.standard_uncertainty) if one.standard_uncertainty else one.value


def compare(readings: list[Reading]) -> None:
    """Stop where the sides do not compute the same: a race between different sums would say nothing."""
    worked = work_out(readings, number=NUMBER, seed=SEED, worksheets=taken())
    bare = Bare(readings)
    bare.begin()
    best = bare.run_one(bare.filled(lambda one: one.value), math)
    bare.begin()
    arrays = bare.run(bare.filled(lambda one: draw(one, NUMBER, SEED)[1:].copy()))
    at = [place for place, was in enumerate(bare.columns) if was is None]
    assert len(at) == len(worked.results) >= 80
    assert len(readings) == 60, len(readings)
    for place, result in zip(at, worked.results, strict=True):
        assert math.isclose(best[place], result.value, rel_tol=1e-9), result.key
        assert np.allclose(arrays[place], worked.draws(result), rtol=1e-12, atol=0.0), result.key


def report(rows: dict[str, list[float]], bare: Bare, readings: list[Reading]) -> int:
    """Print the table and the verdicts."""
    middle = {name: 1e3 * statistics.median(times) for name, times in rows.items()}
    results = sum(many for *_, many in bare.steps)
    used = sum(isinstance(one, Reading) and one.origin != "assumed" for one in bare.columns)
    print(f"{len(readings)} readings ({used} of them under results), {results} results, {NUMBER:,} draws;")
    print(f"median of {TURNS} turns, each the best of 3, sides in turn (plain Python {len(rows['python'])} turns)\n")
    print("| what | ms | over bare NumPy, formulas alone |")
    print("|---|---:|---:|")
    for name, says in (
        ("bare", "bare NumPy: the formulas on ready draws"),
        ("sheet", "**the sheet, from readings to results**"),
        ("bare all", "bare NumPy: formulas, `std` and `quantile` of each result"),
        ("sheet all", "the sheet, with uncertainty and interval of each result taken"),
        ("python", "plain Python, draw by draw: the formulas alone"),
        ("linear", "`uncertainties`: linear propagation, once"),
    ):
        print(f"| {says} | {middle[name]:.2f} | {middle[name] / middle['bare']:.2f} |")
    over = statistics.median(one / two for one, two in zip(rows["sheet"], rows["bare"], strict=True))
    over_all = statistics.median(one / two for one, two in zip(rows["sheet all"], rows["bare all"], strict=True))
    strict = statistics.median(one / two for one, two in zip(rows["sheet all"], rows["bare"], strict=True))
    under = middle["python"] / middle["sheet all"]
    targets = (
        ("the sheet over bare NumPy, at most 1.5", over, over <= MOST_OVER_NUMPY),
        ("with every interval, over bare NumPy with the same, at most 1.5", over_all, over_all <= MOST_OVER_NUMPY),
        ("plain Python over the sheet with every interval, at least 15", under, under >= LEAST_UNDER_PYTHON),
    )
    print()
    for says, ratio, met in targets:
        print(f"{'met   ' if met else 'MISSED'} {ratio:6.2f}  {says}")
    print(
        f"       {strict:6.2f}  with every interval, over bare NumPy's formulas alone (no target; the severest reading)"
    )
    return 0 if all(met for *_, met in targets) else 1


if __name__ == "__main__":
    sys.exit(main())
