"""Oil and work orders of the demo's engines after the day of A2's open visit, as they came in: one action for each.

They are drawn with the logs of the same days, so that what the oil says and when an engine stood agree with them.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date, datetime
from typing import Any

from asfound.records.demo_upkeep import CREWS
from asfound.records.demo_visit import Action, Names
from asfound.records.store import Draft

SEED = 48
SAYS = {
    "acid number": "acid_number", "base number": "base_number", "viscosity 100 C": "viscosity_100",
    "oxidation": "oxidation", "nitration": "nitration", "water": "water", "iron": "iron", "copper": "copper",
    "lead": "lead", "aluminium": "aluminium", "tin": "tin", "chromium": "chromium", "silicon": "silicon",
    "sodium": "sodium", "potassium": "potassium",
}  # fmt: skip
"""Heads of the laboratory's columns, without their units, and the property each is."""


def actions(names: Names, after: date, before: date) -> Iterator[Action]:
    """Yield what came in after a day and before another.

    Parameters
    ----------
    names : Names
        Identifiers of the engines, and the clocks of their sites.
    after, before : date
    """
    from asfound.history.demo import generate, papers

    for tag, engine in names.engines.items():
        log = generate(tag, SEED)
        drafts = [_oil(row) for row in papers.oil_rows(log, SEED)]
        drafts += [_order(tag, row) for row in papers.work_orders(log, SEED)]
        for minute, (kind, content) in enumerate(drafts):
            day = date.fromisoformat(content["date"])
            if after < day < before:
                hour, rest = divmod(minute, 60)
                time = datetime.fromisoformat(f"{day}T{7 + hour:02d}:{rest:02d}:00{names.zones[tag]}")
                yield Action(
                    time=time, visit="", who=CREWS[tag[0]], draft=Draft(kind=kind, content=content, engine=engine)
                )


def _oil(row: Mapping[str, Any]) -> tuple[str, dict[str, Any]]:
    """Return a sample as the record keeps it; what lies below what the laboratory can see is left out."""
    values = {}
    for head, value in row.items():
        name = SAYS.get(re.sub(r" (mg KOH/g|mm2/s|A/cm|%|mg/kg)$", "", head))
        if name is not None and not str(value).startswith("<"):
            values[name] = float(value)
    return "oil_sample", {
        "date": str(row["sampled"]),
        "hours": float(row["hours on counter"]),
        "hours_on_oil": float(row["hours on oil"]),
        "laboratory": "Laboratory at Norrenthwick",
        "methods": str(row["method"]),
        "values": values,
    }


def _order(tag: str, row: Mapping[str, Any]) -> tuple[str, dict[str, Any]]:
    """Return a work order as the record keeps it: in the words, with the code or without it."""
    day = str(row["opened"])[:10]
    content: dict[str, Any] = {
        "number": str(row["order"]), "date": day, "text": str(row["text"]), "language": str(row["language"]),
        "mode": str(row["failure code"]), "state": "done", "closed": day, "by": CREWS[tag[0]],
    }  # fmt: skip
    if row["down h"] not in ("", None):
        content["minutes_down"] = 60 * float(row["down h"])
    return "work_order", content
