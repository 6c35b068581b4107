"""The oil of an engine in words and pictures: each property beside its limit, and when it gets there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.report.content_due_words import count, day_text, hours_text, near_text, source_words, span_text, value
from asfound.report.oil_trend import Reached

if TYPE_CHECKING:
    from asfound.upkeep.engine_due import EngineDue
    from asfound.upkeep.oil_of_engine import OilMarkSeen

MOST_TRENDS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class OilShown:
    """A property of the oil as it is shown."""

    property: str
    title: str
    unit: str
    value: str
    limit: str
    rule: str
    source: str
    own: bool
    state: str
    says: str
    picture: dict[str, Any] | None


def oil_shown(due: EngineDue) -> Iterable[OilShown]:
    """Yield the properties that have a limit, those that pass or reach it first; the first few with a picture."""
    assert due.oil is not None
    marks = sorted(due.oil.marks, key=lambda one: (not one.passed, one.expected or date.max, one.title, one.falling))
    drawn = 0
    for one in marks:
        wanted = (one.passed or one.expected is not None) and drawn < MOST_TRENDS and one.line is not None
        drawn += wanted
        yield OilShown(
            property=one.property,
            title=one.title,
            unit=one.unit,
            value=value(one.value),
            limit=f"{'not below' if one.falling else 'not above'} {value(one.limit)}",
            rule=_value_rule(one, due),
            source=source_words(one.source),
            own=one.own,
            state="passed" if one.passed else "expected" if one.expected else "inside",
            says=_oil_line(one, due.today),
            picture=_trend(one, due) if wanted else None,
        )


def _oil_line(one: OilMarkSeen, today: date) -> str:
    """Return what the trend says of a property."""
    if one.passed:
        bent = "; it has bent towards it" if one.bent and one.moves else ""
        return f"past its limit in the sample of {near_text(one.day, today)}{bent}"
    if one.expected is not None:
        span = span_text(one.expected_low, one.expected_high, today)
        bent = ", by the later samples: the trend has bent" if one.bent else ""
        return f"at its limit about {near_text(one.expected, today)}" + (f" ({span})" if span else "") + bent
    if one.line is None:
        return "too few samples of this oil for a trend"
    if not one.moves:
        return "no date: it is not known to go towards its limit"
    return "inside"


def _trend(one: OilMarkSeen, due: EngineDue) -> dict[str, Any]:
    """Return what the picture of a property is drawn from."""
    assert due.oil is not None
    assert one.line is not None
    points = [(each.hours_on_oil, each.values[one.property]) for each in due.oil.charge if one.property in each.values]
    reached = None
    if one.at is not None and one.moves and not one.passed and one.at.at == one.at.at and one.at.at > 0:
        reached = Reached(at=one.at.at, low=one.at.lower, high=one.at.upper)
    wall = f"limit {value(one.limit)}" + (f", {_value_rule(one, due)}" if one.rule != "value" else "")
    return {
        "points": points,
        "wall": one.limit,
        "wall_text": wall,
        "falling": one.falling,
        "unit_words": f"{one.title}, {one.unit}",
        "line": (one.line.intercept, one.line.slope),
        "begins": one.begins if one.bent and one.begins is not None else 0.0,
        "reached": reached,
        "label": f"{one.title} over hours on the oil: {value(one.value)} {one.unit}, {_oil_line(one, due.today)}",
    }


def _value_rule(one: OilMarkSeen, due: EngineDue) -> str:
    """Return how the wall follows from new oil: ``3.0 above new oil``."""
    assert due.oil is not None
    new = due.oil.new.get(one.property)
    if new is None or one.rule == "value":
        return ""
    if one.rule == "above":
        return f"{value(one.limit - new)} above new oil"
    if one.rule == "share":
        return f"{value(100 * one.limit / new)} % of new oil"
    return f"{value(abs(100 * (one.limit / new - 1)))} % off new oil"


def oil_says(due: EngineDue) -> Iterable[str]:
    """Yield sentences about the oil as a whole."""
    oil = due.oil
    if oil is None:
        return
    last = oil.samples[-1]
    yield (
        f"Last sample {day_text(last.day, year=True)} at {hours_text(last.hours_on_oil)} on the oil; "
        f"{count(len(oil.charge), 'sample')} of this charge, {len(oil.samples)} in all."
    )
    if oil.changed_since:
        yield "The oil was changed since: what follows is of the oil that was drained."
    if oil.governing is not None and oil.governing.passed:
        yield "Confirm by a second sample before a stop, except for glycol or a jump of a bearing metal."
    if len(oil.charge) < 5:
        yield "Few samples of this charge: the interval of a date is wide."
    if oil.without_mark:
        yield f"Not judged for want of a sample of new oil: {', '.join(oil.without_mark)}."
