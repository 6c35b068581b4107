"""Failures and hours of all engines of a home, as rates and as spares to hold."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import numpy as np

from asfound.records.upkeep_of_engine import fleet, of_kind
from asfound.upkeep.failure_rates import ItemRate, rates
from asfound.upkeep.fleet_spares import FleetEngine, HeldPart, Stock, example_parts, read_parts, stocks

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.upkeep.failure_records import Record
    from asfound.upkeep.meter_seen import MeterSeen

PARTS_FILE = "spares.yaml"
"""In the home: the parts that the company may hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OnRecord:
    """What the record holds of failures, and the hours in which it was kept."""

    engines: tuple[FleetEngine, ...]
    watched: Mapping[str, tuple[float, float]]
    failures: tuple[Record, ...]
    works: tuple[Record, ...]
    counted: Mapping[tuple[str, str], int]
    """Engine and item to failures, and work that exchanged or repaired it without a failure of its own."""
    left_out: tuple[str, ...]
    """Engines without two readings of the hour meter: nobody knows how long they were watched."""


def on_record(records: Records) -> OnRecord:
    """Return failures, work and hours of every engine, from the day on which the home began to keep them.

    That day is the first of any failure or work order of any engine: hours run before it tell nothing of failures.
    """
    known = [(engine, due, _entries(records, engine.id)) for engine, due in fleet(records)]
    days = [str(one.content["date"]) for _, _, kept in known for one in kept]
    begin = min(days, default="")
    engines, watched, failures, works, left_out = [], {}, [], [], []
    counted: Counter[tuple[str, str]] = Counter()
    for engine, due, kept in known:
        seen = sorted(due.readings, key=lambda one: one.day)
        if not begin or len(seen) < 2 or not seen[-1].true > _hours_at(seen, begin):
            left_out.append(engine.tag)
            continue
        first, last = _hours_at(seen, begin), seen[-1].true
        watched[engine.tag] = (first, last)
        cylinders = int((engine.content.get("layout") or {}).get("cylinders", 0))
        pace = due.pace.per_day if due.pace else 0.0
        engines.append(FleetEngine(tag=engine.tag, cylinders=cylinders, hours=last - first, per_day=pace))
        of_engine = [one for one in kept if one.kind == "failure"]
        told = {one.content.get("work_order") for one in of_engine}
        for one in of_engine:
            hours = min(_hours_at(seen, str(one.content["date"])), last)
            failures.append({**one.content, "equipment": engine.tag, "record": one.id, "hours": hours})
            works.append({"failure": one.id, "category": one.content.get("category"), **_times(one.content)})
            counted[engine.tag, str(one.content.get("item") or "")] += 1
        for one in kept:
            alone = one.kind == "work_order" and one.content.get("number") not in told
            if alone and one.content.get("state") == "done":
                counted[engine.tag, str(one.content.get("item") or "")] += 1
    return OnRecord(
        engines=tuple(engines), watched=watched, failures=tuple(failures), works=tuple(works), counted=counted,
        left_out=tuple(left_out),
    )  # fmt: skip


def _entries(records: Records, engine: str) -> list[Entry]:
    return [one for kind in ("failure", "work_order") for one in of_kind(records, engine, kind)]


def _hours_at(readings: Sequence[MeterSeen], day: str) -> float:
    """Return the true hours on a day, straight between readings of the meter; at the ends those of the end."""
    at = date.fromisoformat(day).toordinal()
    days = [one.day.toordinal() for one in readings]
    return float(np.interp(at, days, [one.true for one in readings]))


def _times(content: Mapping[str, Any]) -> dict[str, float]:
    """Return active and down hours of a failure where it says them."""
    found = {}
    if content.get("minutes_active") is not None:
        found["active_hours"] = float(content["minutes_active"]) / 60.0
    if content.get("down_from") and content.get("down_until"):
        stood = datetime.fromisoformat(content["down_until"]) - datetime.fromisoformat(content["down_from"])
        found["down_hours"] = stood.total_seconds() / 3600.0
    return found


def rates_on_record(records: Records, *, by: str = "item") -> tuple[ItemRate, ...]:
    """Return the rate of each item over all engines, most failures first; empty where nothing was watched."""
    seen = on_record(records)
    return rates(seen.failures, seen.works, seen.watched, by=by) if seen.watched else ()


def parts_of(records: Records, path: Path | None = None) -> tuple[tuple[HeldPart, ...], str]:
    """Return the parts that may be held and where they stand: a file, the home's own, else the packaged example."""
    own = records.home.folder / PARTS_FILE if path is None else path
    if path is None and not own.exists():
        return example_parts(), "the packaged example: lead times and what is wanted are yours to say"
    return read_parts(own), str(own)


def spares_of(records: Records, path: Path | None = None) -> tuple[tuple[Stock, ...], str, OnRecord]:
    """Return the stock of each part, where the parts are from, and what is on record."""
    parts, source = parts_of(records, path)
    seen = on_record(records)
    return stocks(parts, seen.engines, seen.counted), source, seen
