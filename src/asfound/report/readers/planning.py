"""Planning: tasks with day, length, state of the engine and isolation, as a list, a table and a calendar."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.report.content_due_words import day_text, minutes_text
from asfound.report.readers.blocks import Cell, Data, Document, Head, Lack, Lines, Pairs, Row, Rows, Says
from asfound.report.readers.making import Reader
from asfound.report.readers.said import count
from asfound.report.wording import sentence

if TYPE_CHECKING:
    from asfound.report.content_due import TaskShown
    from asfound.report.readers.blocks import Block
    from asfound.report.readers.ground import Ground

COLUMNS = (
    "engine", "site", "kind", "id", "title", "due", "earliest", "latest", "grace_ends", "minutes", "engine_must_be",
    "isolation", "stop", "stop_day", "because", "interval", "parts", "cautions", "who",
)  # fmt: skip
ISOLATION = {
    "isolated": "every source of energy shut off, locked and tagged",
    "stopped": "none beyond the stop",
    "running": "none",
}
STATES = ("overdue", "due", "soon", "ok")
MOST = 30


def make(ground: Ground) -> Document:
    """Return the task list."""
    due = ground.due
    blocks: list[Block] = []
    if due.hours:
        doubt = f" ({due.hours_interval})" if due.hours_interval else ""
        blocks.append(
            Pairs(
                rows=(
                    ("Running hours", f"{due.hours}{doubt}"),
                    ("Pace", due.pace or "not known"),
                    ("Set-up of a stop", due.setup or "not known"),
                )
            )
        )
    for stop in due.stops:
        blocks += [
            Head(text=f"Stop {stop.number}: {day_text(date.fromisoformat(stop.iso), year=True)}"),
            Says(text=f"{stop.minutes} of work, engine {stop.needs}. {sentence(stop.says)}"),
            Rows(
                columns=("Serves", "Due by itself", "Work"), rows=tuple(stop.tasks), shares=(2.2, 1.2, 0.7), right=(2,)
            ),
        ]
        if stop.parts:
            blocks.append(Says(text=f"Must lie ready: {', '.join(_part(*one) for one in stop.parts)}."))
    served = {one.id for stop in (ground.view.due.stops.stops if ground.view.due.stops else ()) for one in stop.tasks}
    listed = [one for one in due.tasks if one.state in STATES and one.id not in served]
    if listed:
        blocks += [
            Head(text="Tasks beside the stops" if due.stops else "Tasks"),
            Rows(
                columns=("Due", "Task", "Work", "Engine", "Why"),
                rows=tuple(_row(one) for one in listed[:MOST]),
                shares=(1.05, 1.6, 0.6, 0.75, 1.5),
            ),
        ]
        if len(listed) > MOST:
            blocks.append(Says(text=f"{len(listed) - MOST} later ones stand in the table.", weight="quiet"))
    if points := tuple(_points(ground)):
        blocks += [Head(text="Open points of the visit"), Lines(rows=points)]
    if looks := tuple(_looks(ground)):
        blocks += [Head(text="Looks that wait for a stop"), Lines(rows=looks)]
    needs = {one.needs for one in due.stops} | {one.needs for one in listed[:MOST]}
    if needs:
        blocks += [Head(text="Isolation"), Lines(rows=tuple(_isolation(needs)))]
    return Document(
        headline=f"{ground.view.engine.tag}: {due.head}.",
        lead=f"Next: {due.next_says}. {due.next_why}" if due.next_says else "",
        blocks=tuple(blocks),
        lacks=tuple(_lacks(ground)),
        tags=tuple(dict.fromkeys(tag for stop in due.stops for tag in stop.tags)),
        data=Data(columns=COLUMNS, rows=tuple(_data(ground))),
    )


def _part(number: str, what: str) -> str:
    return f"{number} x {what}" if number else f"{what} (number not known)"


def _row(one: TaskShown) -> Row:
    return (
        (sentence(one.when), one.span),
        (one.title, one.interval),
        one.minutes,
        one.needs,
        (
            ", ".join(part for part in (one.left, one.because) if part),
            "" if one.set_by.startswith("set") else one.set_by,
        ),
    )


def _points(ground: Ground) -> Iterator[Cell]:
    for one in ground.view.open_points:
        content = one.content
        if content.get("done"):
            continue
        by = content.get("due")
        length = minutes_text(float(content["minutes"])) if content.get("minutes") else "length not said"
        when = day_text(date.fromisoformat(str(by)), year=True) if by else "no day"
        who = str(content.get("who") or "nobody named")
        yield (str(content["says"]), f"{when}; {who}; {length}; engine {content.get('state_needed', 'running')}")


def _looks(ground: Ground) -> Iterator[Cell]:
    found = ground.view.identification
    for one in (found.next_looks if found is not None else ())[:20]:
        if one.state_needed != "running" and one.share_of_doubt >= 0.01:
            yield (one.title, f"{minutes_text(one.minutes)}, engine {one.state_needed}")


def _isolation(needs: set[str]) -> Iterator[Cell]:
    for state, says in ISOLATION.items():
        if state in needs:
            yield f"Engine {state}: {says}."


def _lacks(ground: Ground) -> Iterator[Lack]:
    due = ground.due
    if not due.hours:
        yield Lack(what="The hour meter: nothing is due by hours.", fill="Read it on a visit, or asfound due hours.")
    unknown = due.of("unknown")
    if unknown:
        names = ", ".join(one.title.lower() for one in unknown[:6])
        more = f" and {len(unknown) - 6} more" if len(unknown) > 6 else ""
        yield Lack(
            what=f"When {count(len(unknown), 'task')} {'was' if len(unknown) == 1 else 'were'} last done: "
            f"{names}{more}.",
            fill="asfound due done.",
        )
    if not due.stops:
        yield Lack(what="A stop within 90 days: none is planned.", fill="It follows from tasks that have a day.")
    if any(number in ("", "?") for stop in due.stops for number, _ in stop.parts):
        yield Lack(what="How many of some parts: the layout of the engine is not on record.")
    yield Lack(what="Who does it: the record names nobody for a task.", fill="The plan of the site.")


def _data(ground: Ground) -> Iterator[tuple[Any, ...]]:
    view = ground.view
    tag, site = view.engine.tag, view.site.name if view.site else ""
    shown = {one.id: one for one in ground.due.tasks}
    stops = view.due.stops.stops if view.due.stops else ()
    served = {one.id: (at, stop.day) for at, stop in enumerate(stops, 1) for one in stop.tasks}
    for number, stop in enumerate(stops, 1):
        parts = "; ".join(f"{'' if one.number is None else one.number} {one.what}".strip() for one in stop.parts)
        yield (
            tag,
            site,
            "stop",
            f"stop {number}",
            f"Stop {number}",
            stop.day.isoformat(),
            "",
            "",
            "",
            stop.minutes,
            stop.state_needed,
            ISOLATION[stop.state_needed],
            number,
            stop.day.isoformat(),
            stop.driver.title,
            "",
            parts,
            " ".join(stop.tags),
            "",
        )
    for one in view.due.tasks:
        told = shown[one.id]
        at, day = served.get(one.id, (None, None))
        days = (one.day, one.earliest, one.latest, one.window_to)
        yield (
            tag,
            site,
            "task",
            one.id,
            one.title,
            *("" if each is None else each.isoformat() for each in days),
            one.task.minutes,
            one.task.state,
            ISOLATION[one.task.state],
            at,
            day.isoformat() if day else "",
            told.because,
            told.interval,
            "",
            " ".join(one.task.tags),
            "",
        )
    for point in view.open_points:
        content = point.content
        if not content.get("done"):
            needed = str(content.get("state_needed") or "running")
            yield (
                tag,
                site,
                "open point",
                point.id,
                content["says"],
                content.get("due") or "",
                "",
                "",
                "",
                content.get("minutes"),
                needed,
                ISOLATION[needed],
                None,
                "",
                "",
                "",
                "",
                "",
                content.get("who") or "",
            )


READER = Reader(
    name="planning",
    title="Planning",
    to="planning",
    wants="Tasks, how long, what must be isolated",
    form="a task list, a table, a calendar",
    advice="Days follow from hours run and move with them; the site plans.",
    make=make,
    table="one row for each stop, task and open point",
    calendar=True,
)
