"""Upkeep of the demo's engines after the day of A2's open visit, as it came in: oil, work orders, work done.

They are drawn with the logs of the same days, so that what the oil says, when an engine stood, and how its hours went
agree with them; the hours go on from those of the record. What an interval asks for is done in time, but for what a
story leaves open.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from asfound.records.demo_upkeep import CREWS
from asfound.records.demo_visit import Action, Names
from asfound.records.store import Draft
from asfound.sources.tables import load_yaml

if TYPE_CHECKING:
    from asfound.history.demo.log import DemoLog

SEED = 48
DAY = 86_400_000_000
"""[µs]"""
IN_TIME = 0.97
"""Share of an interval after which the crews do what it asks for."""
LEFT_OPEN = {("D1", "top_end"), ("D1", "catalyst"), ("D2", "top_end"), ("A2", "oxygen_sensor")}
"""Not done by the interval: a story decides when."""
TOLD = {
    "D1": (("catalyst", date(2033, 3, 17), "Washed after the carbon of the gas cleaning was renewed on 16 March."),)
}
"""Work that a story tells, in the stop that its log shows."""
SETTLES = {("D1", "catalyst"): "D1: wash"}
"""Work that a visit had left as an open point, by the name of the point in the visit's file."""
BY_THE_OIL = ("oil_change", "oil_sample")
"""Told by the samples."""
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
        meter = _Meter(tag, log, after - timedelta(days=60))
        rows = papers.oil_rows(log, SEED)
        drafts = [_oil(row, meter) for row in rows]
        drafts += [_order(tag, row) for row in papers.work_orders(log, SEED)]
        drafts += _done(tag, meter, after, before)
        drafts += [_task(tag, "oil_change", day, meter.at(day)) for day in _changes(rows)]
        for task, day, note in TOLD.get(tag, ()):
            kind, content = _task(tag, task, day, meter.at(day))
            drafts.append((kind, content | {"note": note}))
            if (tag, task) in SETTLES:
                drafts.append(("point_done", {"point": SETTLES[tag, task], "date": str(day), "note": note}))
        for minute, (kind, content) in enumerate(drafts):
            day = date.fromisoformat(content["date"])
            if after < day < before:
                hour, rest = divmod(minute, 60)
                time = datetime.fromisoformat(f"{day}T{7 + hour:02d}:{rest:02d}:00{names.zones[tag]}")
                yield Action(
                    time=time, visit="", who=CREWS[tag[0]], draft=Draft(kind=kind, content=content, engine=engine)
                )


def _oil(row: Mapping[str, Any], meter: _Meter) -> tuple[str, dict[str, Any]]:
    """Return a sample as the record keeps it; what lies below what the laboratory can see is left out."""
    values = {}
    for head, value in row.items():
        name = SAYS.get(re.sub(r" (mg KOH/g|mm2/s|A/cm|%|mg/kg)$", "", head))
        if name is not None and not str(value).startswith("<"):
            values[name] = float(value)
    return "oil_sample", {
        "date": str(row["sampled"]),
        "hours": meter.at(date.fromisoformat(str(row["sampled"])) - timedelta(days=1)),
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


def _done(tag: str, meter: _Meter, after: date, before: date) -> list[tuple[str, dict[str, Any]]]:
    """Return the work that intervals asked for."""
    given = _given(tag)
    last = {task: (date.fromisoformat(str(day)), float(hours)) for task, day, hours, *_ in given["done"]}
    found: list[tuple[str, dict[str, Any]]] = []
    for one in given["plan"]:
        task = one["task"]
        if task not in last or task in BY_THE_OIL or (tag, task) in LEFT_OPEN:
            continue
        day, hours = last[task]
        while True:
            day = meter.day_at(hours + IN_TIME * one["hours"]) if "hours" in one else day + _share(one["calendar"])
            day = max(day, after + timedelta(days=2))
            if not day < before:
                break
            hours = meter.at(day)
            found.append(_task(tag, task, day, hours))
    return found


def _given(tag: str) -> dict[str, Any]:
    """Return what the record holds of an engine's upkeep up to the day of A2's visit."""
    given: dict[str, Any] = load_yaml("asfound.records", "data/demo/upkeep.yaml")["engines"][tag]
    return given


def _task(tag: str, task: str, day: date, hours: int) -> tuple[str, dict[str, Any]]:
    """Return an entry for work done."""
    return "task_done", {"task": task, "date": str(day), "hours": hours, "by": CREWS[tag[0]]}


def _share(calendar: str) -> timedelta:
    """Return the share of a span of months or years (``P3M``, ``P1Y``) after which the work is done."""
    days = int(calendar[1:-1]) * (365 if calendar.endswith("Y") else 30)
    return timedelta(days=int(IN_TIME * days))


def _changes(rows: Sequence[Mapping[str, object]]) -> list[date]:
    """Return the days on which the oil was changed: the next sample has fewer hours on the oil."""
    found = []
    for before, now in pairwise(rows):
        if float(str(now["hours on oil"])) < float(str(before["hours on oil"])):
            found.append(date.fromisoformat(str(before["sampled"])) + timedelta(days=1))
    return found


class _Meter:
    """The hour meter, run on by the log from where the record left it: what it shows on a day, and when so much."""

    def __init__(self, tag: str, log: DemoLog, after: date) -> None:
        import numpy as np

        shown = log.channels.values["engine_hours@engine"]
        known = np.isfinite(shown) & (log.channels.time >= _midnight(after) * DAY)
        self.days = log.channels.time[known] / DAY
        self.hours = shown[known] / 3600
        given = _given(tag)
        kept = [(date.fromisoformat(str(day)), hours) for _, day, hours, *_ in given["done"]]
        kept += [(date.fromisoformat(str(one["date"])), one["hours"]) for one in given["oil"] if "hours" in one]
        day, hours = max(kept)
        self.beside = int(hours) - math.ceil(float(np.interp(_midnight(day) + 1, self.days, self.hours)))
        """What the record's line of hours lies above the logger's. [h]"""

    def at(self, day: date) -> int:
        """Return what it shows at the end of a day. [h]"""
        import numpy as np

        return int(np.interp(_midnight(day) + 1, self.days, self.hours)) + self.beside

    def day_at(self, hours: float) -> date:
        """Return the first day on which it shows at least so much; the last there is where the log ends before."""
        import numpy as np

        (there,) = np.nonzero(self.hours + self.beside >= hours)
        return date(1970, 1, 1) + timedelta(days=int(self.days[there[0]])) if there.size else date.max


def _midnight(day: date) -> int:
    """Return the days since 1970 at which a day begins."""
    return (day - date(1970, 1, 1)).days
