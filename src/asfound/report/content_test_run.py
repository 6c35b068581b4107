"""A formal test of the exhaust, as page and report show it: runs beside each other, criteria with their clause."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.errors import AsFoundError
from asfound.exhaust.test_run import EmissionTest, title_of
from asfound.exhaust.test_run_judge import judge
from asfound.report.wording import clock, day_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.exhaust.test_run_judge import Assessment, Judged
    from asfound.records.visit import VisitView


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRow:
    """One gas in all runs."""

    gas: str
    unit: str
    values: tuple[tuple[str, str], ...]
    """By run: value, and why the run is invalid for this gas (empty where it stands)."""
    mean: str
    """Of the valid runs."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestShown:
    """One test."""

    title: str
    runs: tuple[str, ...]
    """Heads of the columns: run, times, load."""
    rows: tuple[RunRow, ...]
    complete: bool
    fails: tuple[str, ...]
    """Criteria that do not hold, with their clause."""
    open: tuple[str, ...]
    """What cannot be told yet, with what to enter."""
    kept: int
    """Criteria that hold."""
    problem: str = ""


def tests_shown(view: VisitView) -> tuple[TestShown, ...]:
    """Return the tests of a visit."""
    return tuple(_shown(one.content["test"]) for one in view.entries if one.kind == "emission_test")


def _shown(given: object) -> TestShown:
    try:
        test = EmissionTest.from_dict(given)  # type: ignore[arg-type]
        return _judged(judge(test))
    except AsFoundError as refused:
        return TestShown(
            title="Test runs", runs=(), rows=(), complete=False, fails=(), open=(), kept=0, problem=str(refused)
        )


def _judged(found: Assessment) -> TestShown:
    test = found.test
    runs = tuple(
        f"Run {run.number}, {clock(run.start.isoformat())} to {clock(run.end.isoformat())}"
        + (f", {100 * run.load:.0f} % load" if run.load is not None else "")
        for run in test.runs
    )
    return TestShown(
        title=f"Test of {day_words(test.day)}" + (f" by {test.by}" if test.by else ""),
        runs=runs,
        rows=tuple(_row(found, gas) for gas in test.gases),
        complete=found.complete,
        fails=tuple(dict.fromkeys(one.says for one in found.failed)),
        open=tuple(dict.fromkeys(_open(found.open))),
        kept=sum(one.holds is True for one in found.judged),
    )


def _open(judged: Iterable[Judged]) -> Iterable[str]:
    for one in judged:
        yield f"{one.says}; to be entered in the file of the test: {one.lacking}" if one.lacking else one.says


def _row(found: Assessment, gas: str) -> RunRow:
    values = []
    unit = ""
    for run in found.test.runs:
        one = found.results.get((run.number, gas))
        why = "; ".join(dict.fromkeys(judged.criterion.says for judged in found.invalid_because(run.number, gas)))
        unit = one.unit if one is not None else unit
        values.append((f"{one.value:.4g}" if one is not None else "", why))
    mean = found.mean(gas)
    return RunRow(
        gas=title_of(gas),
        unit=unit,
        values=tuple(values),
        mean=f"{mean:.4g}" if mean is not None else "no valid run",
    )
