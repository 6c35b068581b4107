"""What is due on an engine, in words: for the page, the terminal, the papers and the tables."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from asfound.report.content_due_oil import OilShown, oil_says, oil_shown
from asfound.report.content_due_words import (
    SET_BY_WORDS,
    STATE_WORDS,
    because_text,
    count,
    day_text,
    hours_text,
    interval_text,
    left_text,
    minutes_text,
    near_text,
    sign_of,
    source_words,
    span_text,
    thousands,
    when_text,
)
from asfound.report.due_lane import Lane
from asfound.report.wording import sentence
from asfound.upkeep.engine_due import EngineDue, TaskDue
from asfound.upkeep.meter_seen import MeterSeen
from asfound.upkeep.oil_of_engine import PROPERTIES

if TYPE_CHECKING:
    from asfound.upkeep.stops_of_engine import Stop

_OIL = frozenset(title for title, _ in PROPERTIES.values())
DAYS = 90
"""Days of the ruler."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskShown:
    """A task as it is shown."""

    id: str
    title: str
    state: str
    state_words: str
    sign: str
    when: str
    span: str
    because: str
    left: str
    interval: str
    set_by: str
    source: str
    why: str
    last: str
    last_note: str
    minutes: str
    needs: str
    stop: int | None
    lane: Lane
    label: str
    day: date | None
    near: bool
    """It lies on the ruler."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StopShown:
    """A stop as it is shown."""

    number: int
    day: str
    iso: str
    minutes: str
    needs: str
    driver: str
    tasks: tuple[tuple[str, str, str], ...]
    """Title, when it would be due by itself, minutes."""
    parts: tuple[tuple[str, str], ...]
    """Number and what."""
    also: tuple[str, ...]
    tags: tuple[str, ...]
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DueShown:
    """All upkeep of an engine as it is shown."""

    due: EngineDue
    head: str
    hours: str
    hours_interval: str
    pace: str
    meter: str
    next_says: str
    next_why: str
    tasks: tuple[TaskShown, ...]
    stops: tuple[StopShown, ...]
    stop_days: tuple[date, ...]
    running: tuple[TaskShown, ...]
    saved: str
    setup: str
    best: bool
    oil: tuple[OilShown, ...]
    oil_says: tuple[str, ...]
    made: tuple[tuple[str, str, str, str], ...]

    def of(self, *states: str, near: bool | None = None) -> list[TaskShown]:
        """Return the tasks in these states; on the ruler or beyond it where that is asked."""
        return [one for one in self.tasks if one.state in states and near in (None, one.near)]


def due_shown(due: EngineDue) -> DueShown:
    """Return what a page or paper shows of an engine's upkeep."""
    stops = due.stops.stops if due.stops else ()
    serves = {one.id: at for at, stop in enumerate(stops) for one in stop.tasks}
    tasks = tuple(_task(one, due.today, serves.get(one.id)) for one in due.tasks)
    by_id = {one.id: one for one in tasks}
    hours = due.hours
    oil = due.oil
    next_says, next_why = _next(due)
    return DueShown(
        due=due,
        head=head_of(due),
        hours="" if hours is None else hours_text(hours.value),
        hours_interval=""
        if hours is None or round(hours.low) == round(hours.high)
        else f"{thousands(hours.low)} to {thousands(hours.high)}",
        pace=_pace(due),
        meter=_meter(due),
        next_says=next_says,
        next_why=next_why,
        tasks=tasks,
        stops=tuple(_stop(at + 1, one, due) for at, one in enumerate(stops)),
        stop_days=tuple(one.day for one in stops),
        running=tuple(by_id[one.id] for one in due.stops.running) if due.stops else (),
        saved=minutes_text(due.stops.saved) if due.stops and due.stops.saved >= 1 else "",
        setup=minutes_text(due.stops.setup) if due.stops else "",
        best=bool(due.stops and due.stops.best),
        oil=tuple(oil_shown(due)) if oil else (),
        oil_says=tuple(oil_says(due)),
        made=tuple(
            (
                one.title,
                f"{one.per_1000_h:.1f}",
                f"{one.plain_per_1000_h:.1f}",
                "" if one.alert is None else f"alert {one.alert:.1f}, act {one.act:.1f}",
            )
            for one in (oil.made if oil else ())
        ),
    )


def head_of(due: EngineDue) -> str:
    """Return the first sentence: how many are overdue, due and soon."""
    counts = [(len(due.in_state(state)), word) for state, word in (("overdue", "overdue"), ("due", "due now"),
                                                                   ("soon", "soon due"))]  # fmt: skip
    said = [f"{number} {word}" for number, word in counts if number]
    if said:
        return ", ".join(said)
    known = [one for one in due.tasks if one.day is not None]
    return "nothing due" if known else "nothing can be said yet"


def _pace(due: EngineDue) -> str:
    if due.pace is None:
        return ""
    pace = due.pace
    doubt = "" if pace.scatter is None else f" ({pace.low:.1f} to {pace.high:.1f})"
    since = day_text(pace.since, year=True)
    return f"{pace.per_day:.1f} h a day{doubt}, from {count(pace.stretches + 1, 'reading')} since {since}"


def _meter(due: EngineDue) -> str:
    """Return what the meter shows beside the true hours, where it was exchanged."""
    if not due.readings or not due.exchanges:
        return ""
    last: MeterSeen = due.readings[-1]
    offset = last.true - last.shown
    said = ", ".join(
        f"{day_text(one.day, year=True)} at {hours_text(one.last_of_old)}, new one from {hours_text(one.first_of_new)}"
        for one in due.exchanges
    )
    return f"The meter shows {hours_text(offset)} less than was run: exchanged {said}."


def _next(due: EngineDue) -> tuple[str, str]:
    """Return the next thing to do and why."""
    if due.faults:
        return "put the hour meter right", due.faults[0].says
    if not due.readings:
        return "read the hour meter", "Without a reading nothing is due by hours."
    stops = due.stops.stops if due.stops else ()
    coming = [one for one in due.tasks if one.state in ("overdue", "due") and not one.needs_stop]
    if coming:
        one = coming[0]
        return (
            f"{one.title[:1].lower()}{one.title[1:]}",
            f"{sentence(when_text(one, due.today))}. No stop is needed.",
        )
    if stops:
        stop = stops[0]
        driver = stop.driver
        day = "now" if stop.day <= due.today else f"on {near_text(stop.day, due.today)}"
        serves = count(len(stop.tasks), "task")
        work = f"One stop serves {serves}, {minutes_text(stop.minutes)} of work."
        why = " ".join((work, f"Due {because_text(driver)}."))
        seen = driver.condition if driver.reason == "condition" else None
        if seen is not None and due.oil is not None and seen.what in _OIL and seen.what != "Glycol":
            why += " A second sample before the stop confirms it."
        return f"stop {day} for {driver.title[:1].lower()}{driver.title[1:]}", why
    if any(one.state == "unknown" for one in due.tasks):
        return "say when work was done last", "A task that was never noted as done has no date."
    return "", ""


def _task(one: TaskDue, today: date, stop: int | None) -> TaskShown:
    near = one.day is not None and (min(one.day, one.earliest or one.day) - today).days <= DAYS
    when, span = when_text(one, today), span_text(one.earliest, one.latest, today)
    if one.day is not None and one.day <= today and one.state in ("overdue", "due"):
        span = ""
    because = because_text(one)
    last = ""
    if one.last is not None:
        last = f"{day_text(one.last.day, year=True)} at {hours_text(one.last.shown)}"
        if round(one.last.true) != round(one.last.shown):
            last += f" ({hours_text(one.last.true)} true)"
    wall = one.window_to
    if wall is None and one.interval is not None and one.set_by != "generic" and one.reason != "condition":
        wall = one.latest or one.day
    label = f"{one.title}: {STATE_WORDS[one.state].lower()}, {when}" + (f", {span}" if span else "")
    return TaskShown(
        id=one.id,
        title=one.title,
        state=one.state,
        state_words=STATE_WORDS[one.state],
        sign=sign_of(one.state),
        when=when,
        span=span,
        because=because,
        left=left_text(one, today),
        interval=interval_text(one),
        set_by=SET_BY_WORDS[one.set_by],
        source=source_words(one.source),
        why=one.why,
        last=last,
        last_note=one.last.note if one.last else "",
        minutes=minutes_text(one.task.minutes),
        needs=one.task.state,
        stop=stop,
        lane=Lane(
            day=one.day,
            earliest=one.earliest,
            latest=one.latest,
            wall=wall,
            limit=one.reason == "condition" or bool(one.interval and one.interval.permit),
            stop=stop,
        ),
        label=label,
        day=one.day,
        near=near,
    )


def stop_day(stop: Stop, today: date) -> str:
    """Return the day of a stop in words."""
    return "now" if stop.day <= today else day_text(stop.day, year=True)


def _stop(number: int, stop: Stop, due: EngineDue) -> StopShown:
    today = due.today
    parts: dict[str, int | None] = {}
    for part in stop.parts:
        parts[part.what] = None if part.number is None or parts.get(part.what, 0) is None else (
            (parts.get(part.what) or 0) + part.number
        )  # fmt: skip
    early = [one for one in stop.tasks if one.day and one.day > stop.day]
    says = f"{stop.driver.title} fixes the day."
    if early:
        says += f" {count(len(early), 'task')} would be due later and {'is' if len(early) == 1 else 'are'} done early."
    return StopShown(
        number=number,
        day=stop_day(stop, today),
        iso=stop.day.isoformat(),
        minutes=minutes_text(stop.minutes),
        needs=stop.state_needed,
        driver=stop.driver.title,
        tasks=tuple((one.title, when_text(one, today), minutes_text(one.task.minutes)) for one in stop.tasks),
        parts=tuple(("" if count is None else str(count), what) for what, count in parts.items()),
        also=tuple(one.title for one in stop.also),
        tags=stop.tags,
        says=says,
    )
