"""What `asfound due` prints: the list, the stops, the oil, and all engines in one table."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.cli.answer import coloured, columns, wrapped
from asfound.report.content_due import due_shown
from asfound.report.content_due_words import day_text

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.records.things import EngineRecord
    from asfound.report.content_due import DueShown
    from asfound.report.due_rows import DueRow
    from asfound.upkeep.engine_due import EngineDue

COLOURS = {"overdue": "stop", "due": "visit", "soon": "soon"}


def told(due: EngineDue, *, every: bool = False) -> Iterator[str]:
    """Yield the due list of an engine; ``every`` also with what lies beyond the ruler."""
    shown = due_shown(due)
    yield coloured(f"{due.tag}, {day_text(due.today, year=True)}: {shown.head}", "head")
    yield from _hours(shown)
    for said in (*due.problems, *(one.says for one in due.faults)):
        yield from wrapped(said)
    if shown.next_says:
        yield from wrapped(f"Next: {shown.next_says}. {shown.next_why}")
    rows = [
        (one.state_words, one.title, one.when, one.span, one.left, one.because,
         "" if one.stop is None else str(one.stop + 1))
        for one in shown.tasks
        if (one.near or every) and one.state in ("overdue", "due", "soon", "ok")
    ]  # fmt: skip
    if rows:
        yield ""
        yield from columns(
            [(row[0], row[1], row[2], row[3], row[4], row[6], row[5]) for row in rows],
            ("state", "task", "due", "95 in 100", "left", "stop", "because"),
        )
    unknown = [one.title for one in shown.of("unknown")]
    if unknown:
        yield ""
        yield from wrapped(f"Never noted as done, so without a date: {', '.join(unknown)}.")
    for said in shown.due.remarks:
        yield ""
        yield from wrapped(said)
    yield from _stops(shown)
    yield from _oil(shown)


def _hours(shown: DueShown) -> Iterator[str]:
    doubt = f" ({shown.hours_interval})" if shown.hours_interval else ""
    parts = [f"{shown.hours} run{doubt}" if shown.hours else "", shown.pace]
    said = "; ".join(part for part in parts if part)
    yield from wrapped(f"{said}. {shown.meter}".strip()) if said else wrapped("No reading of the hour meter yet.")


def _stops(shown: DueShown) -> Iterator[str]:
    if not shown.stops:
        return
    yield ""
    saved = f", {shown.saved} saved against a stop for each task" if shown.saved else ""
    yield coloured(f"Stop plan{saved}", "head")
    for stop in shown.stops:
        yield from wrapped(f"{stop.number}. {stop.day}: {stop.minutes} of work, engine {stop.needs}. {stop.says}", "  ")
        yield from wrapped(f"serves {'; '.join(f'{title} ({when})' for title, when, _ in stop.tasks)}", "     ")
        if stop.parts:
            ready = ", ".join(f"{number or '?'} x {what}" for number, what in stop.parts)
            yield from wrapped(f"must lie ready: {ready}", "     ")
    if shown.running:
        needs = "; ".join(f"{one.title} ({one.when})" for one in shown.running)
        yield from wrapped(f"Needs no stop: {needs}", "  ")


def _oil(shown: DueShown) -> Iterator[str]:
    if not shown.oil_says:
        return
    yield ""
    yield coloured("Oil", "head")
    for said in shown.oil_says:
        yield from wrapped(said, "  ")
    rows = [
        (one.title, one.value, one.unit, f"{one.limit} ({one.rule})" if one.rule else one.limit, one.says)
        for one in shown.oil
    ]
    if rows:
        yield from columns(rows, ("property", "last", "unit", "limit", "trend"), right=(1,))


def fleet_told(rows: list[tuple[EngineRecord, DueRow]]) -> Iterator[str]:
    """Yield one line for each engine: what presses most, and its next stop."""
    told = [
        (engine.tag, engine.site.name if engine.site else "", row.hours, row.head, row.first, row.stop)
        for engine, row in rows
    ]
    yield from columns(told, ("engine", "site", "run", "due", "first", "next stop"), right=(2,))
