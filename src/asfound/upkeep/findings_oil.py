"""Findings of the oil: past a mark, on its way to one, metal made faster than before, limits that cannot be told."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta
from typing import TYPE_CHECKING

from asfound.quantities.days import day_text
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding
from asfound.upkeep.findings_due import SUBJECT, due_of

if TYPE_CHECKING:
    from asfound.upkeep.oil_of_engine import MetalMade, OilMarkSeen, OilOfEngine

AT_ONCE = ("glycol",)
"""Properties that are no matter of a second sample: coolant gets into the oil."""
BEARINGS = ("lead", "tin", "copper")
AHEAD = 60
"""Days within which a mark that is expected is a finding; common practice, no source."""
_CONFIRM = "Confirm it by a second sample, taken warm and running, before anything is decided."
_FIRST = "Limits of the engine's manual, the oil's supplier and the laboratory go first; no uniform limits exist."


def find(case: Case) -> Iterator[Finding]:
    """Yield what the samples of the oil mean."""
    due = due_of(case)
    oil = None if due is None else due.oil
    if due is None or oil is None:
        return
    if not oil.changed_since:
        for mark in oil.marks:
            if mark.passed:
                yield _passed(mark)
            elif mark.expected is not None and mark.expected <= due.today + timedelta(days=AHEAD):
                yield _expected(mark, mark.expected)
        yield from _bent(oil)
    for metal in oil.made:
        yield from _made(metal)
    if oil.without_mark:
        yield Finding(
            code="UK-10", subject=SUBJECT, severity="note",
            says=f"Without a sample of new oil no limit can be told of: {', '.join(oil.without_mark)}.",
            next_step="Send a sample of the new oil from the tank that is used here, and enter it as new oil.",
        )  # fmt: skip


def _passed(mark: OilMarkSeen) -> Finding:
    at_once = mark.property in AT_ONCE
    side = "below" if mark.falling else "above"
    step = (
        "Coolant in the oil takes the bearings: have whoever is responsible decide today whether the engine runs on, "
        "and look for the leak."
        if at_once
        else f"{_CONFIRM} {_FIRST}"
    )
    return Finding(
        code="UK-06", subject=SUBJECT, severity="visit" if at_once or mark.own else "soon", next_step=step,
        says=f"{mark.title} of the oil is {side} its mark of {_number(mark.limit)} {mark.unit}: "
        f"{_number(mark.value)} {mark.unit} on {day_text(mark.day)}.",
        compared_with="the limit of this engine" if mark.own else "an outer mark that public texts give",
        cautions=("chemical",) if not at_once else ("chemical", "coolant"), extra={"property": mark.property},
    )  # fmt: skip


def _expected(mark: OilMarkSeen, day: date) -> Finding:
    span = ""
    if mark.expected_low is not None:
        late = "open" if mark.expected_high is None else day_text(mark.expected_high)
        span = f" (95 in 100: {day_text(mark.expected_low)} to {late})"
    return Finding(
        code="UK-07", subject=SUBJECT, severity="soon", extra={"property": mark.property},
        says=f"{mark.title} of the oil is expected at its mark of {_number(mark.limit)} {mark.unit} on "
        f"{day_text(day)}{span}.",
        compared_with="the samples of this charge",
        next_step=f"Plan the change for the early end, and take a sample before it. {_FIRST}",
    )  # fmt: skip


def _bent(oil: OilOfEngine) -> Iterator[Finding]:
    names = [mark.title for mark in oil.marks if mark.bent]
    if names:
        yield Finding(
            code="UK-08", subject=SUBJECT, severity="note", compared_with="a straight line over the hours on this oil",
            says=f"The rate has changed within this charge: {', '.join(dict.fromkeys(names))}.",
            next_step="Look for what changed on that day: gas, load, oil of another kind, a filter, water. Dates rest "
            "on the later samples alone.",
        )  # fmt: skip


def _made(metal: MetalMade) -> Iterator[Finding]:
    """Say that metal is made faster than in earlier charges, by the statistics of this engine."""
    act = metal.act is not None and metal.per_1000_h > metal.act
    if not act and not (metal.alert is not None and metal.per_1000_h > metal.alert):
        return
    wall = metal.act if act else metal.alert
    bearing = metal.property in BEARINGS
    yield Finding(
        code="UK-09", subject=SUBJECT, severity="visit" if act and bearing else "soon",
        says=f"{metal.title} comes into the oil faster than before: {metal.per_1000_h:.3g} mg/kg in 1,000 h without "
        f"the oil added ({metal.plain_per_1000_h:.3g} as read); {'act' if act else 'alert'} from {wall:.3g} on.",
        compared_with=f"{metal.number} earlier rates of this engine" + (", few" if metal.few else ""),
        next_step="Take a second sample at once, and cut the filter open. "
        + ("A bearing metal that jumps is no matter of waiting." if bearing else "Compare it with hours and load."),
        cautions=("hot", "chemical"), extra={"property": metal.property},
    )  # fmt: skip


def _number(value: float) -> str:
    return f"{value:.3g}"
