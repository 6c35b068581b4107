"""What is due on every engine of a home, a line each: worked out where something changed, else as it was kept.

A line says what presses most and when the next stop is. It is kept beside the record for what it rests on: the entries
of its engine and of the home, the list of tasks, the day, the program.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from asfound.records.kept_store import kept_store, program_stamp
from asfound.records.stamps import digest_of, file_stamp
from asfound.records.upkeep_of_engine import TASK_FILE, upkeep_of_each
from asfound.report.content_due import head_of, stop_day
from asfound.report.content_due_words import hours_text, when_text

if TYPE_CHECKING:
    from datetime import date

    from asfound.records.store import Records
    from asfound.records.things import EngineRecord
    from asfound.upkeep.engine_due import EngineDue

WHAT = "due in a line 1"


@dataclass(frozen=True, slots=True, kw_only=True)
class DueRow:
    """What a list of engines says of the upkeep of one."""

    hours: str
    """True hours run; empty: nobody read the meter."""
    head: str
    """How many tasks are overdue, due and soon."""
    first: str
    """The most pressing task that has a date, and when."""
    stop: str
    """Day of the next stop and how many tasks it serves."""


def due_rows(records: Records, day: date | None = None) -> list[tuple[EngineRecord, DueRow]]:
    """Return a line for each engine of the home, by site and tag.

    Parameters
    ----------
    day : date, optional
        The day from which it is seen; today by the clock of the home.
    """
    with records.steady():
        engines = records.engines()
        store = kept_store(records)
        keys = _keys(records, engines, day or records.clock.now().date()) if store is not None else {}
        found = {name: DueRow(**row) for name, row in store.get(WHAT, keys).items()} if store is not None else {}
        left = [one for one in engines if one.id not in found]
        for name, due in upkeep_of_each(records, left, day, remarks=False).items():
            found[name] = due_row(due)
            if store is not None:
                store.put(WHAT, name, keys[name], asdict(found[name]))
    return [(one, found[one.id]) for one in engines]


def due_row(due: EngineDue) -> DueRow:
    """Return the upkeep of an engine in a line."""
    first = next((one for one in due.tasks if one.day is not None), None)
    stop = next(iter(due.stops.stops), None) if due.stops else None
    return DueRow(
        hours=hours_text(due.hours.value) if due.hours else "",
        head=head_of(due),
        first=f"{first.title}: {when_text(first, due.today)}" if first else "",
        stop=f"{stop_day(stop, due.today)} ({len(stop.tasks)} tasks)" if stop else "",
    )


def _keys(records: Records, engines: tuple[EngineRecord, ...], day: date) -> dict[str, str]:
    """Return by engine what changes whenever its line may say something else."""
    records.read_newest([one.id for one in engines])
    common = (
        program_stamp(), day.isoformat(), repr(records.newest_of(None)),
        repr(file_stamp(records.home.folder, (TASK_FILE,))),
    )  # fmt: skip
    return {one.id: digest_of((*common, repr(records.newest_of(one.id)))) for one in engines}
