"""`asfound due`: what is due on an engine, its stops and its oil, as text and as files; the tasks by name."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from cyclopts import App

from asfound.cli.answer import answer
from asfound.cli.find import opened
from asfound.cli.options import Home, Paper
from asfound.errors import InputError, RecordError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from asfound.records.store import Records
    from asfound.records.things import EngineRecord
    from asfound.upkeep.engine_due import EngineDue

due = App(name="due")


@due.default
def show(
    engine: str = "",
    /,
    *,
    every: bool = False,
    day: str = "",
    csv: Path | None = None,
    ical: Path | None = None,
    todo: bool = False,
    pdf: Path | None = None,
    paper: Paper = "home",
    home: Home = Home(),
) -> None:
    """Show what is due on an engine, the stops that serve it, and its oil; without an engine, a line for each.

    asfound due D1

    asfound due D1 --pdf stops.pdf --ical d1.ics

    asfound due --csv due.csv        all engines as one table

    Parameters
    ----------
    engine
        Tag of the engine.
    every
        Also what is due beyond the next 90 days.
    day
        As seen from another day: 2032-08-01.
    csv
        Write the list as a table to this file.
    ical
        Write tasks and stops as a calendar (RFC 5545) to this file.
    todo
        In the calendar, tasks to be ticked off (VTODO) instead of events.
    pdf
        Write due list and stop plan as PDF to this file.
    paper
        Its sheet: that of the home, or a4, letter.
    """
    from asfound.cli.due_told import told
    from asfound.records.upkeep_of_engine import fleet, upkeep_of
    from asfound.report.content_due_data import due_data

    records = opened(home)
    from_day = _day(day)
    if engine:
        found = records.engine(engine)
        engines = [(found, upkeep_of(records, found, from_day))]
    else:
        engines = fleet(records, from_day) if home.json or any((csv, ical, pdf)) else []
    written = _files(records, engines, csv=csv, ical=ical, todo=todo, pdf=pdf, paper=paper)
    if not engine:
        answer(home, [due_data(one) for _, one in engines], lambda: [*_all(records, from_day), *written])
        return
    answer(home, due_data(engines[0][1]), lambda: [*told(engines[0][1], every=every), *written])


def _all(records: Records, day: date | None) -> Iterator[str]:
    from asfound.cli.due_told import fleet_told
    from asfound.report.due_rows import due_rows

    return fleet_told(due_rows(records, day))


def _day(text: str) -> date | None:
    from datetime import date

    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError("day", text, "is no date", allowed="as 2032-08-01") from None


def _files(
    records: Records,
    engines: list[tuple[EngineRecord, EngineDue]],
    *,
    csv: Path | None,
    ical: Path | None,
    todo: bool,
    pdf: Path | None,
    paper: Paper,
) -> list[str]:
    """Write the files that were asked for; return a line for each."""
    from asfound.cli.speaking import reader_of_home
    from asfound.language import reading_as

    lines = []
    if csv is not None:
        from asfound.report.due_files import due_csv

        rows = [(one.tag, one.site.name if one.site else "", seen) for one, seen in engines]
        lines.append(_write(csv, due_csv(rows).encode("utf-8-sig")))
    if ical is not None:
        from asfound.records.upkeep_files import calendar_of
        from asfound.report.due_files import due_calendar

        with reading_as(reader_of_home(records)):
            content = due_calendar(calendar_of(records, [one for one, _ in engines]), kind="todo" if todo else "event")
        lines.append(_write(ical, content))
    if pdf is not None:
        from asfound.report.typeset import stop_sheets

        if len(engines) != 1:
            raise InputError("engine", "", "is missing", try_next="A PDF holds one engine: asfound due D1 --pdf FILE")
        with reading_as(reader_of_home(records, paper=paper)):
            lines.append(_write(pdf, stop_sheets(engines[0][1], engines[0][0])))
    return lines


def _write(path: Path, content: bytes) -> str:
    try:
        path.write_bytes(content)
    except OSError as fault:
        raise RecordError(f"{path} cannot be written: {fault.strerror}. Name another file.") from fault
    return f"Written: {path}, {len(content):,} bytes"


@due.command
def tasks(*, home: Home = Home()) -> None:
    """List the tasks by name: what they are, and the span in which their intervals lie."""
    from asfound.cli.answer import columns
    from asfound.records.upkeep_of_engine import tasks_of

    known, company, problem = tasks_of(opened(home))

    def span(ends: tuple[float, float] | None, unit: str) -> str:
        if ends is None:
            return ""
        low, high = ends
        return f"{low:,.0f} {unit}" if low == high else f"{low:,.0f} to {high:,.0f} {unit}"

    rows = [
        (one.id, one.title, span(one.hours, "h"), span(one.days, "days"), one.state, "yes" if one.id in company else "",
         one.condition)
        for one in known.tasks.values()
    ]  # fmt: skip
    data = [
        {"task": one.id, "title": one.title, "hours": one.hours, "days": one.days, "condition": one.condition,
         "engine_must_be": one.state, "minutes": one.minutes, "company": one.id in company, "source": one.source}
        for one in known.tasks.values()
    ]  # fmt: skip
    head = ("task", "title", "hours", "calendar", "engine", "company's", "or by condition")
    answer(home, data, lambda: [*([problem] if problem else []), *columns(rows, head)])
