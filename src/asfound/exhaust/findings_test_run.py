"""Findings of the exhaust: what an emission test is worth, and when the next one is due.

The tests of a visit stand in ``case.visit["emission_tests"]``, earlier ones of the engine in
``case.engine["emission_tests"]``: lists of the plain dicts that `EmissionTest.from_dict` takes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import Any, Literal

from asfound.errors import InputError
from asfound.exhaust.test_run import EmissionTest, rules_of_tests, title_of
from asfound.exhaust.test_run_judge import Assessment, Judged, judge
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, Severity
from asfound.sources.register import cite

STEP = "exhaust"
DAYS_IN_MONTH = 365.25 / 12
SOON = 0.9
"""Share of the interval from which the next test is spoken of; engineering judgement. [1]"""
SAID = 3
"""Criteria that one finding spells out; the others are counted."""
SPAN_MEASURES = ("span_use", "of_upscale")
LOAD_MEASURE = "load"
SCATTER_MEASURES = ("apart", "spread", "trend", "minutes_single")


def find(case: Case) -> Iterator[Finding]:
    """Yield what the tests of this visit are worth, then whether a test is due."""
    known: list[EmissionTest] = []
    for given in _listed(case.visit):
        try:
            test = EmissionTest.from_dict(given)
        except InputError as error:
            yield _unreadable(error)
            continue
        known.append(test)
        yield from of_test(judge(test))
    for given in _listed(case.engine):
        try:
            known.append(EmissionTest.from_dict(given))
        except InputError:
            continue  # said on the visit that holds it
    yield from _due(case, known)


def of_test(found: Assessment) -> Iterator[Finding]:
    """Yield the findings of one test."""
    test = found.test
    alike: dict[tuple[str, tuple[str, ...]], list[tuple[Judged, ...]]] = {}
    for run in test.runs:
        for gas in ("", *run.gases):
            because = tuple(one for one in found.invalid_because(run.number, gas) if one.gas == gas)
            loads = tuple(one for one in because if one.criterion.measure == LOAD_MEASURE)
            others = tuple(one for one in because if one not in loads)
            if others:
                alike.setdefault((gas, tuple(one.criterion.id for one in others)), []).append(others)
            if loads:
                yield _load(test, loads)
    for (gas, _), runs in alike.items():
        yield _invalid(test, gas, runs)
    yield from _recalibrate(found)
    yield from _span(found)
    yield from _scatter(found)
    yield from _incomplete(found)
    yield from _ask(found)
    yield from _open(found)
    if found.complete:
        yield _stands(found)


def _finding(
    test: EmissionTest, code: str, severity: Severity, says: str, next_step: str, judged: Iterable[Judged] = (),
    cautions: tuple[str, ...] = ("local",),
) -> Finding:  # fmt: skip
    """Return a finding about a test, with the clauses that it rests on."""
    clauses = dict.fromkeys(
        cite(source.strip(), one.criterion.clause) for one in judged for source in one.criterion.source.split(";")
    )
    return Finding(
        code=code, subject=STEP, says=f"Emission test of {test.day}: {says}", severity=severity, next_step=next_step,
        compared_with="; ".join(clauses), cautions=cautions, state=test.state,
    )  # fmt: skip


def _words(judged: Iterable[Judged]) -> str:
    """Return the criteria in words, the first few spelled out."""
    listed = tuple(judged)
    said = "; ".join(one.says for one in listed[:SAID])
    return said + (f"; and {len(listed) - SAID} more" if len(listed) > SAID else "")


def _invalid(test: EmissionTest, gas: str, runs: list[tuple[Judged, ...]]) -> Finding:
    """Return the finding of runs that the same criteria make invalid; the numbers are those of the first."""
    of = f" for {title_of(gas)}" if gas else ""
    numbers = [str(one[0].run) for one in runs]
    which = f"run {numbers[0]} is" if len(runs) == 1 else f"runs {', '.join(numbers[:-1])} and {numbers[-1]} are"
    alike = "" if len(runs) == 1 else f"; in the other{'s' if len(runs) > 2 else ''} alike"
    return _finding(
        test, "EX-20", "visit", f"{which} invalid{of}: {_words(runs[0])}{alike}",
        "It is left out of the mean. Put right what failed, pass calibration and bias checks, and make it again.",
        tuple(one for run in runs for one in run), ("calgas", "co", "local"),
    )  # fmt: skip


def _load(test: EmissionTest, loads: tuple[Judged, ...]) -> Finding:
    return _finding(
        test, "EX-22", "visit", f"the load was not what a formal test asks: {_words(loads)}",
        "Make the run again within 10 % of full load, or write down why no more could be reached and that it was the "
        "highest.", loads,
    )  # fmt: skip


def _recalibrate(found: Assessment) -> Iterator[Finding]:
    if found.recalibrate:
        yield _finding(
            found.test, "EX-21", "visit", f"drift over the run is too large: {_words(found.recalibrate)}",
            "The data of the run stand. Pass a three-point calibration error test and a bias check before another run.",
            found.recalibrate, ("calgas", "local"),
        )  # fmt: skip


def _span(found: Assessment) -> Iterator[Finding]:
    misused = _failed(found, SPAN_MEASURES)
    if misused:
        yield _finding(
            found.test, "EX-23", "soon", f"readings do not fit the span: {_words(misused)}",
            "Choose gases so that readings lie within the span and not at its foot; ask the authority about this run.",
            misused,
        )  # fmt: skip


def _scatter(found: Assessment) -> Iterator[Finding]:
    apart = _failed(found, SCATTER_MEASURES)
    if apart:
        yield _finding(
            found.test, "EX-24", "soon", f"not steady: {_words(apart)}",
            "Look at load, gas and mixture over the test before its mean is believed; lengthen the warm-up.", apart,
        )  # fmt: skip


def _incomplete(found: Assessment) -> Iterator[Finding]:
    short = tuple(one for one in found.failed if one.criterion.consequence == "test")
    if short:
        yield _finding(
            found.test, "EX-25", "visit", f"too few runs stand: {_words(short)}",
            "Make the runs that are missing on the same day, engine and load unchanged.", short,
        )  # fmt: skip


def _ask(found: Assessment) -> Iterator[Finding]:
    doubtful = tuple(
        one
        for one in found.failed
        if one.criterion.consequence == "ask" and one.criterion.measure not in (*SPAN_MEASURES, *SCATTER_MEASURES)
    )
    if doubtful:
        yield _finding(
            found.test, "EX-26", "soon", f"not as the method has it: {_words(doubtful)}",
            "Ask the authority whether the test stands with this; put it into the report.", doubtful,
        )  # fmt: skip


def _open(found: Assessment) -> Iterator[Finding]:
    ids = dict.fromkeys(
        f"{title_of(one.gas) or 'test'}: {one.criterion.says}"
        for one in found.open
        if one.criterion.consequence not in ("points", "words")
    )
    if ids:
        listed = list(ids)
        more = f"; and {len(listed) - SAID} more" if len(listed) > SAID else ""
        yield _finding(
            found.test, "EX-27", "note", f"{len(listed)} criteria are not shown: {'; '.join(listed[:SAID])}{more}",
            "Enter what the test report says of them; until then they count neither for nor against the test.",
        )  # fmt: skip


def _stands(found: Assessment) -> Finding:
    """Say that the test stands, and how much of that rests on numbers nobody has read in the text."""
    met = [one for one in found.judged if one.holds]
    doubtful = sum(1 for one in met if one.criterion.doubt)
    says = f"{len(found.test.runs)} runs stand, {len(met)} criteria met"
    if doubtful:
        says += f", {doubtful} of them by numbers that were not read in the text itself"
    return _finding(
        found.test, "EX-28", "note", says,
        "The mean of the runs stands beside the limit. Numbers marked 'from memory' are to be read up before it is "
        "relied on.",
    )  # fmt: skip


def _failed(found: Assessment, measures: tuple[str, ...]) -> tuple[Judged, ...]:
    """Return what fails of some measures, invalid runs left out: they are said already."""
    return tuple(one for one in found.failed if one.criterion.measure in measures and not one.invalidates)


def _unreadable(error: InputError) -> Finding:
    return Finding(
        code="EX-27", subject=STEP, says=f"An emission test cannot be read: {error}", severity="soon",
        next_step="Correct the entry of the test.",
    )  # fmt: skip


def _due(case: Case, known: list[EmissionTest]) -> Iterator[Finding]:
    """Yield that the next test is due, by the last one, the day of the visit and the hours run since."""
    today = _day(case.visit.get("date"))
    last = max(known, key=lambda test: test.day, default=None)
    rule = rules_of_tests()[last.rule] if last else None
    shares: list[tuple[float, str]] = []
    if last is not None and rule is not None and today is not None and rule["retest_months"]:
        months = (today - date.fromisoformat(last.day)).days / DAYS_IN_MONTH
        shares.append((months / float(rule["retest_months"]), f"{months:.0f} of {rule['retest_months']} months"))
    hours = _hours_since(case, last)
    interval = float(rule["retest_hours"]) if rule is not None and rule["retest_hours"] else None
    if hours is not None and last is None:
        rule = rules_of_tests()["jjjj"]
        interval = float(rule["retest_hours"])
    if hours is not None and interval is not None:
        shares.append((hours / interval, f"{hours:,.0f} of {interval:,.0f} h"))
    if not shares or rule is None:
        return
    share, says = max(shares)
    if share < SOON:
        return
    when: Literal["is due", "will soon be due"] = "is due" if share >= 1 else "will soon be due"
    said_last = f"The last emission test was on {last.day}" if last else "By the hours since the last emission test"
    yield Finding(
        code="EX-29", subject=STEP, severity="soon",
        says=f"{said_last}; the next {when}: {says}, for {rule['retest_who']}",
        next_step="Compare with the permit, which goes first; plan the test at full load, and give notice.",
        compared_with=cite(rule["source"], rule["clause"]), cautions=("local",), state=STATES[0],
    )  # fmt: skip


def _hours_since(case: Case, last: EmissionTest | None) -> float | None:
    """Return the engine hours since the last test: as read, else the counter now less the counter then. [h]"""
    at = {one.quantity: one.value for one in case.readings if one.place == "engine"}
    if "hours_since_emission_test" in at:
        return at["hours_since_emission_test"] / 3600
    if last is not None and last.engine_hours is not None and "engine_hours" in at:
        return max(0.0, at["engine_hours"] / 3600 - last.engine_hours)
    return None


def _day(given: object) -> date | None:
    try:
        return date.fromisoformat(str(given)[:10])
    except ValueError:
        return None


def _listed(holder: Mapping[str, Any]) -> tuple[Mapping[str, Any], ...]:
    """Return the tests that a visit or an engine holds."""
    found = holder.get("emission_tests", ())
    return tuple(one for one in found if isinstance(one, Mapping)) if isinstance(found, list | tuple) else ()
