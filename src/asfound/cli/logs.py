"""`asfound log`, `log-look` and `log-fleet`: what is there of an engine's log, what it says, and which engine first."""

from __future__ import annotations

import contextlib
import sys
from typing import TYPE_CHECKING, Any

from asfound.cli.answer import answer, coloured, columns, wrapped
from asfound.cli.find import opened, tail
from asfound.cli.options import Home

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from asfound.history.look_parts import EngineLook
    from asfound.history.look_words import System
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord

ORDER = ("beyond", "near", "moves", "unknown", "still")


def log(engine: str, /, *, where: Home = Home()) -> None:
    """Say what there is of an engine's log: imports, channels, months, and looks that are kept.

    Parameters
    ----------
    engine
        Tag of the engine.
    """
    from asfound.history.look_disk import days_kept
    from asfound.records.log_import import out_of_step
    from asfound.records.logs_of_engine import has_logs, imports, logs, stored_as

    records = opened(where)
    found = records.engine(engine)
    name = stored_as(records, found)
    listed = imports(records, found)
    channels: dict[str, dict[str, Any]] = {}
    looks: list[str] = []
    if name is not None and has_logs(records):
        store = logs(records)
        for one in store.coverage(name):
            row = channels.setdefault(one.channel, {"n": 0, "first": one.first, "last": one.last})
            row["n"] += one.n
            row["first"], row["last"] = min(row["first"], one.first), max(row["last"], one.last)
        looks = [day for day, _ in days_kept(store, name)]
    data = {
        "engine": found.tag,
        "stored_as": name,
        "imports": [dict(one.content) | {"entry": one.id} for one in listed],
        "channels": channels,
        "looks": looks,
        "problems": out_of_step(records, found) if has_logs(records) else [],
    }
    answer(where, data, lambda: _there(found, data))


def _there(engine: EngineRecord, data: dict[str, Any]) -> Iterator[str]:
    from asfound.history.look_words import day_of

    if not data["imports"]:
        yield f"{engine.tag} has no log yet. Take one in: asfound log-import {engine.tag} FILE"
        return
    yield coloured(f"{engine.tag}: {len(data['imports'])} imports, {len(data['channels'])} channels", "head")
    rows = [
        (tail(one["entry"]), one["what"], one["source"], str(one.get("first", ""))[:10], str(one.get("last", ""))[:10],
         f"{one['kept']:,}", f"{one['refused']:,}", "; ".join(one["clock"]) or "-")
        for one in data["imports"]
    ]  # fmt: skip
    yield from columns(rows, ("entry", "what", "source", "from", "to", "kept", "refused", "clock"), right=(5, 6))
    yield ""
    yield from columns(
        [(name, f"{one['n']:,}", day_of(one["first"]), day_of(one["last"])) for name, one in data["channels"].items()],
        ("channel", "values", "from", "to"), right=(1,),
    )  # fmt: skip
    yield ""
    yield f"Looks kept: {', '.join(data['looks']) or 'none; asfound log-look ' + engine.tag}"
    for problem in data["problems"]:
        yield from wrapped(problem)


def log_look(engine: str, day: str = "", /, *, workers: int = 1, where: Home = Home()) -> None:
    """Work out what the log of an engine says up to a day, keep it, and tell it: drifts, steps, limits, sensors, stops.

    asfound log-look A2

    asfound log-look A2 2032-07-08

    Parameters
    ----------
    engine
        Tag of the engine.
    day
        Last day that counts; that of the log, or today, without it.
    workers
        Processes that share the work.
    """
    from asfound.records.logs_of_engine import look_at_engine
    from asfound.records.unit_system import system_of

    records = opened(where)
    found = records.engine(engine)
    with _told_parts(f"Looking at the log of {found.tag}") as tell:
        look = look_at_engine(records, found, day or None, workers=max(workers, 1), tell=tell)
    answer(where, look, lambda: _look(found.tag, look, system_of(records, found)))


def _look(tag: str, look: EngineLook, system: System) -> Iterator[str]:
    from asfound.history.findings import found_in
    from asfound.history.look_words import says_of

    yield coloured(f"{tag} up to {look.day}: {look.rows:,} rows, {len(look.channels)} channels", "head")
    for note in look.notes:
        yield from wrapped(note, "  ")
    for judged, title in (
        ("beyond", "Beyond its limit"), ("near", "Reaches its limit within half a year"), ("moves", "Moves"),
    ):  # fmt: skip
        rows = [one for one in look.indicators if one.judged == judged]
        if rows:
            yield coloured(title, "head")
            for one in rows:
                yield from wrapped(says_of(one, system), "  ")
    still = sum(one.judged == "still" for one in look.indicators)
    unknown = [one.title for one in look.indicators if one.judged == "unknown"]
    yield f"{still} of {len(look.indicators)} indicators stand still" + (
        f"; nothing can be said of {', '.join(unknown)}" if unknown else ""
    )
    other = [one for one in found_in(look, system) if one.code >= "HI-04"]
    if other:
        yield coloured("Found", "head")
        for finding in other:
            yield from wrapped(f"{finding.code}  {finding.says}", "  ")
    events = look.events
    yield coloured("Hours", "head")
    yield (
        f"  service {events.service_hours:,.0f} h of {events.period_hours:,.0f} h, availability "
        f"{events.availability.low:.1%} to {events.availability.high:.1%}, {events.starts} starts, "
        f"{len(events.trips)} trips"
    )


def log_fleet(*, day: str = "", workers: int = 2, where: Home = Home()) -> None:
    """Look at the logs of all engines, and list them: those that want a hand first.

    Parameters
    ----------
    day
        Last day that counts; that of each log, or today, without it.
    workers
        Processes that share the work, an engine each.
    """
    from asfound.history.attention import attention
    from asfound.records.logs_of_engine import fleet_looks, imports
    from asfound.records.unit_system import system_of

    records = opened(where)
    todo = [one for one in records.engines() if imports(records, one)]
    with _told_parts("Looking at the logs") as tell:
        faults = _all(records, todo, day or None, max(workers, 1), tell)
    ranked = fleet_looks(records)
    data: dict[str, Any] = {
        "engines": [
            {
                "engine": one.tag, "day": look.day if look else None, "score": attention(look).score if look else None,
                "says": attention(look, system_of(records, one)).says if look else (),
            }
            for one, look in ranked
        ],
        "faults": faults,
    }  # fmt: skip

    def told() -> Iterator[str]:
        rows = [
            (
                one["engine"],
                one["day"] or "no log",
                f"{one['score']:.0f}" if one["day"] else "",
                " ".join(one["says"][:2]),
            )
            for one in data["engines"]
        ]
        yield from columns(rows, ("engine", "up to", "score", "what"), right=(2,))
        for tag, why in faults.items():
            yield f"{tag}: {why}"

    answer(where, data, told)


def _all(
    records: Records, engines: list[EngineRecord], day: str | None, workers: int, tell: Callable[[str], None]
) -> dict[str, str]:
    """Look at all, an engine for each process; what fails is told and costs no other."""
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from multiprocessing import get_context

    where = str(records.home.folder)
    faults: dict[str, str] = {}
    if workers == 1 or len(engines) < 2:
        for one in engines:
            faults |= look_in_process(where, one.id, day)
            tell(one.tag)
        return faults
    from asfound.records.lock import held, take_over

    spawn = get_context("spawn")
    with ProcessPoolExecutor(workers, mp_context=spawn, initializer=take_over, initargs=(held(),)) as pool:
        jobs = {pool.submit(look_in_process, where, one.id, day): one for one in engines}
        for done in as_completed(jobs):
            faults |= done.result()
            tell(jobs[done].tag)
    return faults


def look_in_process(home: str, engine: str, day: str | None) -> dict[str, str]:
    """Look at one engine's log; return what went wrong by its tag."""
    from asfound.errors import AsFoundError
    from asfound.records.logs_of_engine import look_at_engine
    from asfound.records.store import Records

    with Records.open(home) as records:
        found = records.engine(engine)
        try:
            look_at_engine(records, found, day)
        except AsFoundError as fault:
            return {found.tag: str(fault)}
    return {}


@contextlib.contextmanager
def _told_parts(doing: str) -> Iterator[Callable[[str], None]]:
    """Show on standard error what is being looked at, while a person watches a terminal."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console

    with Console(stderr=True).status(doing) as status:
        yield lambda part: status.update(f"{doing}: {part}")
