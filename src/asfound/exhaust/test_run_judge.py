"""Judge an emission test: each run beside each criterion of its methods and of its rule, and what follows."""

from __future__ import annotations

import statistics
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from asfound.exhaust.reference_oxygen import at_reference_oxygen
from asfound.exhaust.test_run import EmissionTest, Read, Run, Setup, title_of
from asfound.exhaust.test_run_criteria import Criterion, for_gas, for_rule
from asfound.exhaust.test_run_measures import ONCE, PER_RUN, LackingError, Measured
from asfound.exhaust.test_run_results import Corrected, results

SIX_INCHES, TWELVE_INCHES = 0.1524, 0.3048  # m; ZZZZ Table 4
MANY_POINTS = 12
"""Points where neither one nor three are enough (Method 7E sec. 8.1.2, from memory)."""
REFERENCE = 0.15
"""Oxygen at which runs are compared with each other; which one does not matter to their ratio."""
OPEN = "not entered"
EITHER = {"7e.converter": "7e.converter_bag", "7e.converter_bag": "7e.converter"}
"""Two ways to show one thing: what is not entered is not missed where the other way is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """One criterion of one gas in one run."""

    criterion: Criterion
    gas: str = ""
    """Empty: of the run as a whole."""
    run: int | None = None
    """None: of the whole test."""
    value: float | None = None
    """In the unit of the criterion; None where nothing is to be counted, or it was not entered."""
    absolute: float | None = None
    of: str = ""
    """What the value is of: ``up-scale after``."""
    holds: bool | None = None
    """None: cannot be told, see ``lacking``."""
    lacking: str = ""
    """What to enter so that it can be told."""

    @property
    def fails(self) -> bool:
        """It was measured and does not hold."""
        return self.holds is False

    @property
    def invalidates(self) -> bool:
        """It fails, and by its clause the run is invalid for this gas."""
        return self.fails and self.criterion.consequence == "run"

    @property
    def says(self) -> str:
        """In words: which, how much of what, with clause and doubt."""
        one = self.criterion
        where = ", ".join(part for part in (title_of(self.gas), f"run {self.run}" if self.run else "") if part)
        if self.value is not None:
            unit = one.unit if not one.unit.startswith("% of") else "%"
            stands = f"{self.value:.3g} {unit}".strip() + (f" ({self.of})" if self.of else "")
        else:
            stands = OPEN if self.holds is None else ("kept" if self.holds else "not kept")
        asked = f", asked {one.limit}" if one.limit and one.limit != "required" else ""
        cited = ", ".join(part for part in (one.clause, one.doubt) if part)
        return f"{where + ': ' if where else ''}{one.says} {stands}{asked}" + (f" [{cited}]" if cited else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """What a test is worth: every criterion judged, and what each run comes to."""

    test: EmissionTest
    judged: tuple[Judged, ...]
    results: Mapping[tuple[int, str], Corrected]
    """By run and gas, invalid ones too: see `valid`."""

    @property
    def failed(self) -> tuple[Judged, ...]:
        """Criteria that do not hold; sample points only where too few were taken."""
        return tuple(one for one in self.judged if one.fails and one.criterion.consequence != "points")

    @property
    def open(self) -> tuple[Judged, ...]:
        """Criteria that cannot be told yet, with what to enter."""
        return tuple(one for one in self.judged if one.holds is None)

    def invalid_because(self, run: int, gas: str = "") -> tuple[Judged, ...]:
        """Return why a run is invalid for a gas, or as a whole where no gas is named; empty where it stands."""
        return tuple(
            one
            for one in self.judged
            if one.invalidates and one.run in (run, None) and one.gas in ("", gas)
        )  # fmt: skip

    def valid(self, run: int, gas: str = "") -> bool:
        """Tell whether nothing that was entered makes the run invalid for the gas."""
        return not self.invalid_because(run, gas)

    def stands(self, gas: str) -> tuple[Corrected, ...]:
        """Return what the valid runs come to for a gas."""
        return tuple(
            self.results[run.number, gas]
            for run in self.test.runs
            if (run.number, gas) in self.results and self.valid(run.number, gas)
        )

    def mean(self, gas: str) -> float | None:
        """Return the arithmetic mean of the valid runs as measured, in the unit of the gas; None without any."""
        runs = self.stands(gas)
        return statistics.fmean(one.value for one in runs) if runs else None

    @property
    def recalibrate(self) -> tuple[Judged, ...]:
        """Drift that lets the data stand but asks for a calibration before the next run."""
        return tuple(one for one in self.failed if one.criterion.consequence == "next_run")

    def calibrate_after(self, run: int) -> bool:
        """Tell whether calibration error and bias are to be passed anew before the run that follows."""
        return any(one.run == run and one.criterion.measure in ("bias", "drift") for one in self.failed)

    @property
    def complete(self) -> bool:
        """Tell whether enough runs stand for every gas, and the rule of the test is kept."""
        return not any(one.fails and one.criterion.consequence in ("run", "test") for one in self.judged)


def judge(test: EmissionTest) -> Assessment:
    """Return the test beside every criterion of its methods and of its rule.

    Examples
    --------
    >>> from asfound.exhaust.test_run import EmissionTest
    >>> assessment = judge(EmissionTest.from_dict({
    ...     "gases": {"co": {"method": "10", "span": 500, "upscale_gas": 250, "direct": [[0, 0.5], [250, 251]]}},
    ...     "runs": [{"start": "2032-05-02T09:00Z", "end": "2032-05-02T10:00Z",
    ...               "gases": {"co": {"average": 198, "zero": [1, 2.5], "upscale": [246, 229]}}}],
    ... }))
    >>> [one.criterion.id for one in assessment.failed], assessment.valid(1, "co")
    (['10.all.drift'], True)
    """
    found = {(run.number, gas): one for run in test.runs for gas, one in results(dict(test.gases), run).items()}
    judged = [*_by_method(test), *_by_run(test), *_of_results(test, found)]
    first = Assessment(test=test, judged=tuple(judged), results=found)
    return Assessment(test=test, judged=(*judged, *_of_test(first)), results=found)


def _by_method(test: EmissionTest) -> Iterator[Judged]:
    """Yield the criteria of the methods, gas by gas."""
    found = tuple(_each_by_method(test))
    shown = {(one.gas, one.criterion.id) for one in found if one.holds is not None}
    for one in found:
        # good practice asks for nothing, and how many points are needed is asked once, of the stack
        asked = "*" not in one.criterion.methods and one.criterion.consequence != "points"
        other = (one.gas, EITHER.get(one.criterion.id, "")) in shown
        if one.holds is not None or (asked and not other):
            yield one


def _each_by_method(test: EmissionTest) -> Iterator[Judged]:
    for gas, setup in test.gases.items():
        for one in for_gas(setup.method, gas):
            if one.measure in ONCE:
                yield _measured(one, gas, None, lambda c=one, s=setup: ONCE[c.measure](c, s))
            elif one.measure in PER_RUN:
                for run in test.runs:
                    if gas in run.gases:
                        yield _in_run(one, setup, run, run.gases[gas])
            elif one.measure == "checked_both":
                for run in test.runs:
                    if gas in run.gases:
                        read = run.gases[gas]
                        both = read.zero is not None and read.upscale is not None
                        yield Judged(criterion=one, gas=gas, run=run.number, holds=both)


def _in_run(criterion: Criterion, setup: Setup, run: Run, read: Read) -> Judged:
    return _measured(criterion, setup.gas, run.number, lambda: PER_RUN[criterion.measure](criterion, setup, read))


def _measured(criterion: Criterion, gas: str, run: int | None, measure: object) -> Judged:
    """Return a criterion as measured, or with what is lacking for it."""
    assert callable(measure)
    try:
        found: Measured = measure()
    except LackingError as lacking:
        return Judged(criterion=criterion, gas=gas, run=run, lacking=str(lacking))
    if criterion.unit == "% absolute" and found.absolute is not None:
        found = Measured(found.absolute, found.absolute, found.of)
    return Judged(
        criterion=criterion, gas=gas, run=run, value=found.value, absolute=found.absolute, of=found.of,
        holds=criterion.holds(found.value, found.absolute),
    )  # fmt: skip


def _of_results(test: EmissionTest, found: Mapping[tuple[int, str], Corrected]) -> Iterator[Judged]:
    """Yield the criteria for the uncertainty of a result."""
    for (run, gas), one in found.items():
        setup = test.gases[gas]
        for criterion in for_gas(setup.method, gas):
            if criterion.measure != "expanded_uncertainty":
                continue
            whole = setup.limit if criterion.unit == "% of limit" else one.value
            if not whole or whole <= 0:
                yield Judged(criterion=criterion, gas=gas, run=run, lacking="limit")
                continue
            value = 100 * 2 * one.standard_uncertainty / whole
            yield Judged(criterion=criterion, gas=gas, run=run, value=value, holds=criterion.holds(value))


def _by_run(test: EmissionTest) -> Iterator[Judged]:
    """Yield what the rule asks of each run."""
    for one in for_rule(test.rule):
        for run in test.runs:
            if one.measure == "run_minutes":
                yield Judged(criterion=one, run=run.number, value=run.minutes, holds=one.holds(run.minutes))
            elif one.measure == "load":
                yield _load(one, test, run)
            elif one.measure == "undisturbed":
                yield Judged(criterion=one, run=run.number, holds=run.undisturbed)
            elif one.measure == "oxygen_too":
                alone = bool(set(run.gases) - {"o2", "co2"}) and not {"o2", "co2"} & set(run.gases)
                yield Judged(criterion=one, run=run.number, holds=not alone)


def _load(criterion: Criterion, test: EmissionTest, run: Run) -> Judged:
    """Judge the load of a run; the highest that could be reached will do where it is said why."""
    load = test.load_of(run)
    if load is None:
        lacking = "load_percent of each run, or peak_power_kw and engine_power of each run"
        return Judged(criterion=criterion, run=run.number, lacking=lacking)
    value = 100 * load
    reason = test.highest_achievable_load
    holds = criterion.holds(value) or (bool(reason) and criterion.high is not None and value <= criterion.high)
    return Judged(criterion=criterion, run=run.number, value=value, of=reason, holds=holds)


def _of_test(first: Assessment) -> Iterator[Judged]:
    """Yield what the rule asks of the test as a whole: number of runs that stand, sample points, runs alike."""
    test = first.test
    for one in for_rule(test.rule):
        if one.measure == "runs":
            for gas in test.gases:
                number = len(first.stands(gas))
                yield Judged(criterion=one, gas=gas, value=number, of="that stand", holds=one.holds(number))
        elif one.measure == "points":
            yield _points(one, test)
        elif one.measure == "apart":
            for gas in test.gases:
                if gas not in ("o2", "co2"):
                    yield from _apart(one, first, gas)


def points_needed(test: EmissionTest) -> tuple[int | None, str]:
    """Return how many sample points the stack needs, and why; None where nobody measured the stack.

    References
    ----------
    .. [1] 40 CFR 63 subpart ZZZZ, Table 4; Method 7E sec. 8.1.2 for the stratification test (from memory).
    """
    if test.stack_diameter is None:
        return None, "stack_diameter_mm"
    if test.stack_diameter <= SIX_INCHES + 1e-9:
        return 1, "up to 6 in"
    if test.stack_diameter <= TWELVE_INCHES + 1e-9:
        return 3, "over 6 to 12 in"
    if test.far_from_disturbance:
        return 3, "over 12 in, far enough from bends"
    verdicts = [_stratified(setup) for setup in test.gases.values() if len(setup.stratification) >= 3]
    if not verdicts:
        return None, "far_from_disturbance, or stratification"
    return max(verdicts), "over 12 in, by the stratification test"


def _stratified(setup: Setup) -> int:
    """Return how many points one gas's stratification test asks for."""
    for one in for_gas(setup.method if setup.method in ("7e",) else "7e", setup.gas):
        if one.measure in ("strat1", "strat3"):
            found = ONCE[one.measure](one, setup)
            if one.holds(found.value, found.absolute):
                return 1 if one.measure == "strat1" else 3
    return MANY_POINTS


def _points(criterion: Criterion, test: EmissionTest) -> Judged:
    needed, why = points_needed(test)
    if needed is None or test.sample_points is None:
        return Judged(criterion=criterion, lacking=why if needed is None else "sample_points")
    return Judged(
        criterion=criterion, value=test.sample_points, of=f"{needed} needed: {why}", holds=test.sample_points >= needed
    )


def _apart(criterion: Criterion, first: Assessment, gas: str) -> Iterator[Judged]:
    """Yield how far the runs of a gas lie apart, at one oxygen where that was read."""
    values = []
    for one in first.stands(gas):
        oxygen = first.results.get((one.run, "o2"))
        at = one.value if oxygen is None else float(at_reference_oxygen(one.value, oxygen.value / 100, REFERENCE))
        values.append(at)
    mean = statistics.fmean(values) if values else 0.0
    if len(values) > 1 and mean > 0:
        value = 100 * (max(values) - min(values)) / mean
        yield Judged(criterion=criterion, gas=gas, value=value, holds=criterion.holds(value))
