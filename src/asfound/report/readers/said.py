"""Words that several readers' documents share: counts, times of a day, minutes, what findings ask for."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

from asfound.quantities.display import chance
from asfound.quantities.words import SEVERITIES
from asfound.records.standing import standing
from asfound.report.icons import SEVERITY_WORDS
from asfound.report.wording import clock, day_words, say, sentence, title_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from asfound.quantities.words import Finding, Result
    from asfound.quantities.words import Reading as TakenReading
    from asfound.records.view_parts import DaySpan, LimitState
    from asfound.records.visit import VisitView
    from asfound.report.readers.blocks import Cell
    from asfound.report.wording import System


def count(number: int, what: str, many: str = "") -> str:
    """Return a number with its noun.

    >>> count(1, "reading"), count(2, "reading")
    ('1 reading', '2 readings')
    """
    return f"{number} {what if number == 1 else many or what + 's'}"


def on_day(time: str, day: str) -> str:
    """Return the time of day, with its date where it is another day."""
    return clock(time) if time[:10] == day else f"{day_words(time)} {clock(time)}".strip()


def span_words(first: str, last: str) -> str:
    """Return ``08:40 to 10:04``, or one time."""
    return first if first == last or not last else f"{first} to {last}"


def short_day(text: str) -> str:
    """Return an ISO date as words; empty stays empty."""
    return day_words(text) if text else ""


def minutes_between(first: str, last: str) -> float:
    """Return minutes between two ISO times. [min]"""
    try:
        return (datetime.fromisoformat(last) - datetime.fromisoformat(first)).total_seconds() / 60.0
    except (ValueError, TypeError):
        return 0.0


def span_minutes(spans: Iterable[DaySpan], kind: str) -> float:
    """Return how long the stretches of a kind took together. [min]"""
    return sum(minutes_between(one.start, one.end) for one in spans if one.kind == kind)


def since(text: str, day: date) -> int:
    """Return days from an ISO date to a day; a very large number where it is none."""
    try:
        return (day - date.fromisoformat(text[:10])).days
    except ValueError:
        return 10**6


def asked(view: VisitView, *severities: str) -> list[Finding]:
    """Return the standing findings of these severities, the most pressing first."""
    found = [one for one in standing(view) if one.severity in severities]
    return sorted(found, key=lambda one: SEVERITIES.index(one.severity))


def asked_lines(view: VisitView, *severities: str, most: int = 6) -> tuple[Cell, ...]:
    """Return standing findings as lines: by when, what, what to do; what does not fit is counted."""
    found = asked(view, *severities)
    lines: list[Cell] = [
        (f"{SEVERITY_WORDS[one.severity]}: {one.says.rstrip('.')}.", sentence(one.next_step)) for one in found[:most]
    ]
    if len(found) > most:
        lines.append(f"{len(found) - most} more stand in the record.")
    return tuple(lines)


def judged(state: LimitState, system: System) -> Iterator[tuple[Result | TakenReading, str, str]]:
    """Yield each number beside a limit, in words, with its chance of being beyond; single runs of a test left out."""
    for number in (*state.found, *state.left):
        if number.place.startswith("run_"):
            continue
        said = say(number, system)
        risk = state.beyond.get(number.key)
        interval = f" ({said.interval})" if said.interval else ""
        yield number, f"{said.whole}{interval}", "" if risk is None else chance(risk)


def risk_lines(view: VisitView, system: System) -> tuple[Cell, ...]:
    """Return how near each limit is, as left where that was taken."""
    lines: list[Cell] = []
    for state in view.limit_states:
        rows = list(judged(state, system))
        left = {number.place for number, _, _ in rows if number.state == "as_left"}
        for number, said, risk in rows:
            if number.state == "as_found" and number.place in left:
                continue
            word = "as left" if number.state == "as_left" else "as found"
            tail = f", {risk} to be beyond it" if risk else ""
            lines.append(f"{title_of(number.quantity)} {word} {said}; {state.limit.name} {state.limit.as_typed}{tail}.")
        if not rows:
            lines.append(f"{title_of(state.limit.quantity)}: {state.limit.name} {state.limit.as_typed}; not taken.")
    return tuple(lines)
