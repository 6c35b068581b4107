"""Which log belongs to which engine of the record, what the record tells of it, and the looks that are kept.

The store of logs is the folder ``logs`` of the home. An engine is called there by its tag at its first import; which
name that is stands in its entries of imports, so that another tag, or another engine of that tag, changes nothing.
"""

from __future__ import annotations

import math
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Literal

from asfound.records import readings as taken
from asfound.records import sheet_of_visit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from asfound.history.look_facts import Facts, LimitFact, VisitFact
    from asfound.history.look_parts import EngineLook
    from asfound.history.store import Store
    from asfound.quantities.typing import Array
    from asfound.quantities.words import Limit, Reading, Result
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, VisitRecord

KIND = "log_imported"
FOLDER = "logs"
SHOWN_BY = {
    "nox_mass_per_energy": "nox_sensor_reading",
    "nox_mass_concentration": "nox_sensor_reading",
    "exhaust_nox_dry": "nox_sensor_reading",
}
"""Limited quantity -> quantity of a log that shows it, once a measurement at a visit ties the two."""


def logs(records: Records) -> Store:
    """Return the store of logs of a home; nothing is made before something is added."""
    from asfound.history.store import Store

    return Store(records.home.folder / FOLDER)


def has_logs(records: Records) -> bool:
    """Return whether this home has a store of logs at all; costs nothing."""
    return (records.home.folder / FOLDER).is_dir()


def imports(records: Records, engine: EngineRecord, *, all_: bool = False) -> tuple[Entry, ...]:
    """Return the imports of an engine that stand, in the order of making; ``all_``: also those taken back."""
    if all_:
        return tuple(one for one in records.entries(engine=engine.id) if one.kind == KIND)
    return tuple(one for one in records.fold(engine.id).current if one.kind == KIND)


def stored_as(records: Records, engine: EngineRecord) -> str | None:
    """Return the name of an engine in the store; None where nothing of it was ever taken in."""
    found = imports(records, engine, all_=True)
    return str(found[-1].content["stored_as"]) if found else None


def name_for(records: Records, engine: EngineRecord) -> str:
    """Return the name under which an engine is, or will be, in the store: its tag, unless another engine has that.

    ``a2`` beside ``A2`` gets another name: on Windows and macOS both would lie in one folder.
    """
    known = stored_as(records, engine)
    if known is not None:
        return known
    others = {(stored_as(records, one) or "").casefold() for one in records.engines() if one.id != engine.id}
    return engine.tag if engine.tag.casefold() not in others else f"{engine.tag}-{engine.id[-8:]}"


def kept_look_of(records: Records, engine: EngineRecord, day: str | None = None) -> EngineLook | None:
    """Return the newest look at the log of an engine, up to a day; never worked out here."""
    if not has_logs(records):
        return None
    name = stored_as(records, engine)
    if name is None or not imports(records, engine):
        return None
    from asfound.history.look_disk import kept

    return kept(logs(records), name, day)


def look_stamp(records: Records, engine: str) -> tuple[str, ...]:
    """Return what tells whether another look is kept for an engine: the names of the files, nothing is read."""
    if not has_logs(records):
        return ()
    name = stored_as(records, records.engine(engine))
    if name is None:
        return ()
    from asfound.history.look_disk import days_kept

    return tuple(file for _, file in days_kept(logs(records), name))


def is_current(records: Records, engine: EngineRecord, look: EngineLook) -> bool:
    """Return whether nothing has come since a look: no rows, no visit, no limit."""
    from asfound.history.engine_look import current

    return current(logs(records), look, facts_of(records, engine, look.day))


def look_at_engine(
    records: Records, engine: EngineRecord, day: str | None = None, *, workers: int = 1,
    tell: Callable[[str], None] | None = None,
) -> EngineLook:  # fmt: skip
    """Return what the log of an engine says up to a day, worked out where it is not known; today without a day.

    Raises
    ------
    RecordError
        Nothing of it was taken in.
    """
    from asfound.errors import RecordError
    from asfound.history.engine_look import look_at

    name = stored_as(records, engine)
    if name is None or not imports(records, engine):
        raise RecordError(f"{engine.tag} has no log yet. Take one in: asfound log-import {engine.tag} FILE")
    until = day or last_day(records, engine)
    return look_at(
        logs(records),
        name,
        until,
        facts_of(records, engine, until),
        workers=workers,
        pattern_of=usual_pattern,
        tell=tell,
    )


def last_day(records: Records, engine: EngineRecord) -> str:
    """Return the day up to which a log is looked at: its last, or today by the clock of the home if that is earlier."""
    from asfound.history.look_words import day_of

    today = records.clock.now().date().isoformat()
    name = stored_as(records, engine)
    span = logs(records).span(name) if name else None
    return min(today, day_of(span[1])) if span else today


def fleet_looks(records: Records) -> list[tuple[EngineRecord, EngineLook | None]]:
    """Return every engine with the look that is kept, those that want a hand first; never worked out here."""
    from asfound.history.attention import attention

    found = [(one, kept_look_of(records, one)) for one in records.engines()]
    return sorted(found, key=lambda pair: (-attention(pair[1]).score if pair[1] else math.inf, pair[0].tag))


def usual_pattern(temperatures: Array, load: Array, places: Sequence[str]) -> dict[str, Any] | None:
    """Return the usual exhaust pattern as plain data; None where too little is known."""
    import numpy as np

    from asfound.cylinders.own_pattern import usual
    from asfound.cylinders.spread_of_case import bank_of, pattern_as_data

    named = [bank_of(place) for place in places]
    banks = list(dict.fromkeys(named))
    index = [banks.index(one) for one in named] if len(banks) == 2 else None
    known = load if np.isfinite(load).any() else None
    pattern = usual(temperatures, known, index)
    return pattern_as_data(pattern, places) if np.isfinite(pattern.middle).any() else None


def said_by_log(look: EngineLook | None, day: str, system: Literal["si", "us"]) -> dict[str, Any]:
    """Return what a log says against readings and of ports on a day, as plain data for the rooms that weigh it."""
    if look is None:
        return {}
    from asfound.history.look_doubts import channels_in_doubt
    from asfound.history.look_ports import ports_in_log

    return {"channels_in_doubt": channels_in_doubt(look, day, system), "ports_in_log": ports_in_log(look, day, system)}


# ---------------------------------------------------------------- what the record tells


def facts_of(records: Records, engine: EngineRecord, day: str | None = None) -> Facts:
    """Return what the record tells of an engine up to a day: ratings, visits, limits tied to what is logged."""
    from asfound.history.look_facts import Facts
    from asfound.records.works_of_log import stops_of, works_of

    rated = engine.content.get("rated") or {}
    visits = [one for one in records.visits(engine.id) if day is None or one.date <= day]
    return Facts(
        rated_power=float(rated.get("power") or math.nan), rated_speed=float(rated.get("speed") or math.nan),
        visits=tuple(_visit(records, one) for one in visits),
        limits=tuple(_limits(records, engine, visits, day or records.clock.now().date().isoformat())),
        stops=stops_of(records, engine, visits, day), works=works_of(records, engine, day),
    )  # fmt: skip


def _visit(records: Records, visit: VisitRecord) -> VisitFact:
    from asfound.history.look_facts import VisitFact
    from asfound.records.works_of_log import done_at

    times = [
        str(one.content["time"])
        for one in records.fold(visit.engine, visit.id).current
        if one.kind in ("visit_state", "reading", "look") and one.content.get("time")
    ]
    start = _us(visit.began)
    return VisitFact(name=visit.name, start=start, end=max([start, *map(_us, times)]), did=done_at(records, visit))


def _us(text: str) -> int:
    return round(datetime.fromisoformat(text.replace("Z", "+00:00")).timestamp()) * 1_000_000


def _limits(records: Records, engine: EngineRecord, visits: Sequence[VisitRecord], day: str) -> Iterator[LimitFact]:
    """Yield the limits of what is logged; a permit's limit goes with the last visit that measured it."""
    from asfound.history.look_facts import LimitFact

    for limit in taken.limits_on(records.fold(engine.id), day):
        above = limit.side == "upper"
        shown = SHOWN_BY.get(limit.quantity)
        if shown is None:
            yield LimitFact(
                quantity=limit.quantity, value=limit.value, above=above, source=f"{limit.name}, {limit.as_typed}",
                place=limit.place,
            )  # fmt: skip
            continue
        tied = next((found for one in reversed(visits) if (found := _measured(records, engine, one, limit))), None)
        if tied is not None:
            value, at, name = tied
            yield LimitFact(
                quantity=shown, value=limit.value, above=above, measured=value, at=at,
                source=f"{limit.name}, {limit.as_typed}, as the sensor shows it by the measurement of {name}",
            )  # fmt: skip


def _measured(
    records: Records, engine: EngineRecord, visit: VisitRecord, limit: Limit
) -> tuple[float, int, str] | None:
    """Return the limited number as a visit found it, and when; from memory where that sheet is known."""
    folded = records.fold(engine.id, visit.id)
    readings = taken.latest(taken.kept(folded, records.instruments()))
    sheet = sheet_of_visit.worked(records, visit, engine, folded.current, readings, (), [])
    every: tuple[Result | Reading, ...] = (*sheet.results, *sheet.readings)
    numbers = [
        one for one in every
        if one.quantity == limit.quantity and one.state == "as_found" and one.value == one.value
    ]  # fmt: skip
    times = [one.time for one in readings.values() if one.quantity == "exhaust_nox_dry" and one.state == "as_found"]
    if not numbers or not times:
        return None
    return float(numbers[0].value), _us(str(times[0])), visit.name


def days_ahead(day: str, today: date) -> int:
    """Return how many days lie between."""
    return (date.fromisoformat(day) - today).days
