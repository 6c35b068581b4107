"""The logs of the demo world brought into its home the way any log comes: as dirty files, with questions answered.

What a person would answer from the panel's drawing (which tag is which column, what unit it has, that N2's site counts
its cylinders from the other end) is taken from the drawing of the demo loggers.
"""

from __future__ import annotations

import multiprocessing
import tempfile
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.records.demo import STORY_NOW, clock_after
from asfound.records.home import Home
from asfound.records.lock import held, take_over
from asfound.records.store import Records

if TYPE_CHECKING:
    from asfound.history.demo.dialects import Dialect
    from asfound.history.demo.log import DemoLog
    from asfound.history.mapping import ColumnIs
    from asfound.records.log_import import Imported
    from asfound.records.things import EngineRecord

WHO = "Office of Skellorby Gas Handling"
ABSOLUTE = ("manifold_pressure", "fuel_pressure")
DRAWING = "the panel's drawing"
SLOWEST_FIRST = ("N1", "N2", "A2", "A3", "D2", "D1", "A1")


@dataclass(frozen=True, slots=True, kw_only=True)
class Brought:
    """What became of one engine's logs."""

    tag: str
    files: int
    read: int
    kept: int
    refused: int
    duplicates: int
    clock: str
    """How its logger's clock was put right; empty where it was right."""
    indicators: int
    moving: int
    worst: str


def bring_logs(
    home: Home, *, until: str = "", engines: Sequence[str] = SLOWEST_FIRST, workers: int = 2, seed: int = 48,
    tell: Callable[[str], None] | None = None,
) -> list[Brought]:  # fmt: skip
    """Make the demo logs up to a day, take them in, and look at them; an engine for each process.

    Parameters
    ----------
    until : str
        Last day of the logs: that of the demo's clock without one. A later one sets the clock to the morning after it.
    """
    last = until or STORY_NOW.date().isoformat()
    if (now := clock_after(date.fromisoformat(last))) > STORY_NOW:
        home.change(clock_offset=(now - datetime.now(UTC)).total_seconds())
    jobs = [(str(home.folder), tag, last, seed) for tag in engines]
    found = []
    if workers == 1:
        for job in jobs:
            found.append(_one(job))
            _say(tell, found[-1])
    else:
        spawn = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(workers, mp_context=spawn, initializer=take_over, initargs=(held(),)) as pool:
            for done in as_completed([pool.submit(_one, job) for job in jobs]):
                found.append(done.result())
                _say(tell, found[-1])
    return sorted(found, key=lambda one: one.tag)


def _say(tell: Callable[[str], None] | None, one: Brought) -> None:
    if tell is not None:
        tell(one.tag)


def _one(job: tuple[str, str, str, int]) -> Brought:
    from asfound.history.demo import generate
    from asfound.history.engine_look import end_of

    folder, tag, last, seed = job
    with tempfile.TemporaryDirectory() as passing, Records.open(folder) as records:
        engine = records.engine(tag)
        log = cut(generate(tag, seed), _end_of_logs(last, end_of(last)))
        return _brought(records, engine, log, Path(passing), last, seed)


def _end_of_logs(last: str, end: int) -> int:
    """Return when the logs end: with the day, or with the demo's clock on its own day."""
    now = int(STORY_NOW.timestamp()) * 1_000_000
    return min(end, now) if last == STORY_NOW.date().isoformat() else end


def cut(log: DemoLog, end: int) -> DemoLog:
    """Return a demo log up to a time."""
    from dataclasses import replace

    keep = log.channels.time < end
    return replace(
        log, channels=log.channels.take(keep), actual={name: rows[keep] for name, rows in log.actual.items()},
        alarms=tuple(one for one in log.alarms if one.time < end),
    )  # fmt: skip


def _brought(records: Records, engine: EngineRecord, log: DemoLog, folder: Path, last: str, seed: int) -> Brought:
    from asfound.history.demo import papers
    from asfound.history.demo.dialects import DIALECTS
    from asfound.history.demo.files import write_log
    from asfound.history.events import read_alarm_log
    from asfound.records.log_clock import clock_of, corrected
    from asfound.records.log_import import import_alarms, import_planned, source_for
    from asfound.records.log_plan import answered, plan, usual_barometer
    from asfound.records.logs_of_engine import look_at_engine

    tag = log.spec.tag
    written = write_log(log, folder / "logs", seed)
    alarms = folder / f"{tag}_alarms.csv"
    papers.write_rows(alarms, papers.alarm_rows(log))
    import_alarms(records, engine, alarms, who=WHO)
    listed = read_alarm_log(alarms)
    done: list[Imported] = []
    clocks: list[str] = []
    for of in DIALECTS[tag]:  # a logger that was replaced is another source
        files = [folder / "logs" / one.name for one in written if one.dialect == of]
        if not files:
            continue
        planned = plan(
            files, source_for(records, engine, f"{tag} logger"), zone=of.zone, barometer=usual_barometer(engine)
        )
        planned.mapping = answered(planned.mapping, drawing(log, of, planned.mapping.columns))
        seen = clock_of(planned.files, planned.mapping, listed)
        if seen is not None:
            planned.mapping = corrected(planned.mapping, seen)
            clocks.append(seen.says)
        done.append(import_planned(records, engine, planned, who=WHO))
    if tag == "N1":
        _quick(records, engine, folder, int(log.channels.time[-1]), seed)
    look = look_at_engine(records, engine, last)
    moving = [one for one in look.indicators if one.judged in ("moves", "near", "beyond")]
    return Brought(
        tag=tag, files=len(written), read=sum(one.total("read") for one in done),
        kept=sum(one.total("kept") for one in done), refused=sum(one.total("refused") for one in done),
        duplicates=sum(one.total("duplicates") for one in done), clock=" ".join(clocks),
        indicators=len(look.indicators), moving=len(moving), worst=look.worst.says if look.worst else "",
    )  # fmt: skip


def drawing(log: DemoLog, of: Dialect, proposed: Sequence[ColumnIs]) -> dict[str, ColumnIs]:
    """Return what a person answers: columns that were left open, or taken for something else than the drawing says."""
    from asfound.history.channels import split_channel
    from asfound.history.demo.dialects import columns
    from asfound.history.mapping import ColumnIs

    known = {one.head: one for one in proposed}
    found: dict[str, ColumnIs] = {}
    for one in columns(of, log.channels, log.spec.tag):
        head = next((name for name in (one.head, f"{one.head} [{one.unit}]") if name in known), None)
        quantity, place = split_channel(one.channel)
        if (
            head is None
            or quantity.startswith("raw:")
            or (known[head].quantity, known[head].place) == (quantity, place)
        ):
            continue
        unit = one.unit
        if quantity in ABSOLUTE and unit.split()[-1] not in ("g", "abs"):
            unit = f"{unit} abs"
        found[head] = ColumnIs(head=head, unit=unit, quantity=quantity, place=place, score=1.0, why=(DRAWING,))
    return found


def _quick(records: Records, engine: EngineRecord, folder: Path, end: int, seed: int) -> None:
    """Take in the trend by the second that a visit to N1 recorded, where the logs reach that far."""
    from asfound.history.demo import papers
    from asfound.history.mapping import ColumnIs, moment_of
    from asfound.records.log_import import import_planned, source_for
    from asfound.records.log_plan import answered, plan

    rows = papers.fast_rows(seed)
    if moment_of(rows[-1]["time_utc"]) > end:
        return
    path = folder / "N1_trend_by_the_second.csv"
    papers.write_rows(path, rows)
    planned = plan([path], source_for(records, engine, "trend by the second"), zone="UTC")
    told = {"load": ("kW", "generator_power", "generator"), "speed": ("rpm", "engine_speed", "engine")}
    answers = {
        one.head: ColumnIs(head=one.head, unit=unit, quantity=quantity, place=place, score=1.0, why=(DRAWING,))
        for one in planned.mapping.columns
        for name, (unit, quantity, place) in told.items()
        if one.head.casefold().startswith(name)
    }
    planned.mapping = answered(planned.mapping, answers)
    import_planned(records, engine, planned, who=WHO)


def as_dict(found: Sequence[Brought]) -> list[dict[str, Any]]:
    """Return plain data."""
    from dataclasses import asdict

    return [asdict(one) for one in found]
