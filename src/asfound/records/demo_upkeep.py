"""Upkeep of the demo's engines, as it was written down between the visits: one action for each entry, on its day.

What happened before the record began is written at its beginning, as somebody does who takes over a card index.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any

from asfound.records.demo_visit import Action, Names
from asfound.records.store import Draft
from asfound.sources.tables import load_yaml

BEGAN = "2031-12-01"
"""Day on which the record begins; everything older is taken over on that day."""
OFFICE = "Office of Skellorby Gas Handling"
CREWS = {"A": "Station crew", "N": "Duty crew", "D": "Works crew"}


def actions(names: Names, day: str) -> Iterator[Action]:
    """Yield every entry of upkeep, in the order in which it was written.

    Parameters
    ----------
    names : Names
        Identifiers of the engines, and the clocks of their sites.
    day : str
        The last day of the story: what lies after it is left out.
    """
    given = load_yaml("asfound.records", "data/demo/upkeep.yaml")["engines"]
    for tag, one in given.items():
        for minute, (kind, content) in enumerate(_entries(tag, one)):
            when = max(str(content.get("date", BEGAN)), BEGAN)
            if when > day:
                continue
            old = str(content.get("date", "")) < BEGAN
            zone = names.zones[tag]
            hour, rest = divmod(minute, 60)
            time = datetime.fromisoformat(f"{when}T{(10 if old else 6) + hour:02d}:{rest:02d}:00{zone}")
            draft = Draft(kind=kind, content=content, engine=names.engines[tag])
            yield Action(time=time, visit="", who=OFFICE if old else CREWS[tag[0]], draft=draft)


def _entries(tag: str, given: Mapping[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield kind and content of each entry of an engine."""
    yield "upkeep_plan", dict(given["stops"])
    for one in given["plan"]:
        yield "upkeep_plan", dict(one)
    for one in given.get("exchanged", ()):
        yield "meter_exchanged", _dated(one)
    for task, day, hours, *words in given["done"]:
        content = {"task": task, "date": str(day), "hours": float(hours), "by": CREWS[tag[0]]}
        yield "task_done", content | ({"note": words[0]} if words else {})
    for one in given["oil"]:
        yield "oil_sample", {"laboratory": "Laboratory at Norrenthwick", **_dated(one)}
    for one in given["oil_limits"]:
        yield "oil_limit", dict(one)
    if "upgrade" in given:
        yield "upgrade_plan", _dated(given["upgrade"])
    for one in given.get("orders", ()):
        yield "work_order", {"by": CREWS[tag[0]], **_dated(one)}
    for one in given.get("failures", ()):
        yield "failure", _dated(one)


def _dated(one: Mapping[str, Any]) -> dict[str, Any]:
    """Return a row with its dates as text; YAML reads them as dates."""
    return {name: str(value) if name in ("date", "closed") else value for name, value in one.items()}
