"""What a person types about upkeep becomes an entry: the same checks behind page, command and HTTP door.

Numbers are taken with any decimal sign; hours are held against what the meter showed before and after.
"""

from __future__ import annotations

import re
from datetime import date
from math import isfinite
from typing import TYPE_CHECKING, Any

from asfound.errors import InputError, UnknownNameError
from asfound.quantities.parse import parse_number
from asfound.records.upkeep_of_engine import METER, of_kind, tasks_of, upkeep_of
from asfound.upkeep.durations import interval_of
from asfound.upkeep.meter_seen import MeterSeen, sound_readings
from asfound.upkeep.meters import MeterReading, true_hours
from asfound.upkeep.oil_of_engine import PROPERTIES

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.quantities.numerals import DecimalSign
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord

NUMBERS: Mapping[str, tuple[str, ...]] = {
    "task_done": ("hours", "part_life"),
    "meter_exchanged": ("last_of_old", "first_of_new"),
    "oil_sample": ("hours", "hours_on_oil", "topped_up", *PROPERTIES),
    "oil_limit": ("low", "high"),
    "upkeep_plan": ("hours", "grace_hours", "grace_days", "sump", "setup_minutes", "most_minutes"),
    "work_order": ("hours", "minutes_active", "minutes_down"),
    "failure": ("hours", "minutes_active"),
}
"""Fields of each kind that are numbers."""
FLAGS = ("old_meter", "new_oil", "permit", "applies")
LISTS = ("tasks", "activities")
NEEDS: Mapping[str, tuple[str, ...]] = {
    "task_done": ("task", "hours"),
    "meter_exchanged": ("last_of_old",),
    "oil_sample": (),
    "oil_limit": ("property", "source"),
    "upkeep_plan": (),
    "work_order": ("number", "text"),
    "failure": ("text",),
}
TITLES: Mapping[str, str] = {
    "task": "Task",
    "hours": "Hours on the meter",
    "last_of_old": "Last reading of the old meter",
    "number": "Number",
    "text": "What is to be done",
    "property": "Property",
    "source": "Where it is written",
}
DATED = ("task_done", METER, "oil_sample", "work_order", "failure", "upkeep_plan")
_UNIT = re.compile(r"\s*(h|hours?|l|min|mg/kg|%)\.?$", re.IGNORECASE)


def keep_typed(
    records: Records,
    engine: EngineRecord,
    kind: str,
    typed: Mapping[str, str],
    *,
    who: str,
    decimal: DecimalSign | None = None,
    visit: str | None = None,
) -> Entry:
    """Keep one entry of upkeep from what was typed; nothing where one field cannot be.

    Parameters
    ----------
    kind : str
        One of `NUMBERS`.
    typed : mapping of str to str
        Field to text; what is empty is left out. The values of an oil sample stand under their own names.
    visit : str, optional
        The visit in which it was done, by its identifier.

    Raises
    ------
    InputError
        Names the field, what it may be, and what to do.
    """
    content = content_of(kind, typed, decimal=decimal, today=records.clock.now().date())
    if visit:
        content["visit"] = visit
    if kind in ("task_done", "upkeep_plan") and content.get("task"):
        _known_task(records, str(content["task"]))
    _fits(records, engine, kind, content)
    _not_twice(records, engine, kind, content)
    return records.append(kind, content, engine=engine.id, who=who)


def content_of(kind: str, typed: Mapping[str, str], *, decimal: DecimalSign | None, today: date) -> dict[str, Any]:
    """Return the content of an entry from typed text.

    Raises
    ------
    InputError
        The first field that cannot be.
    """
    if kind not in NUMBERS:
        raise UnknownNameError("kind of upkeep", kind, NUMBERS)
    given = {name: text.strip() for name, text in typed.items() if text.strip()}
    for name in NEEDS[kind]:
        if name not in given:
            raise InputError(name, "", "is missing", try_next=f"Fill in: {TITLES.get(name, name)}.")
    content: dict[str, Any] = {}
    values: dict[str, float] = {}
    for name, text in given.items():
        if name in NUMBERS[kind]:
            number = _number(text, name, decimal)
            if name in PROPERTIES:
                values[name] = number
            else:
                content[name] = int(number) if name == "grace_days" else number
        elif name in FLAGS:
            content[name] = text.lower() in ("yes", "true", "1", "on")
        elif name in LISTS:
            content[name] = [one.strip() for one in text.split(",") if one.strip()]
        else:
            content[name] = text
    if content.get("calendar"):
        interval_of(str(content["calendar"]))
        content["calendar"] = str(content["calendar"]).upper()
    if kind == "upkeep_plan" and content.get("hours") is not None and content["hours"] < 1:
        raise InputError("hours", given["hours"], "is no interval of work", allowed="1 h or more")
    if kind == "oil_sample":
        for name, value in values.items():
            _of_oil(name, value, given[name])
        content["values"] = values
        if not values:
            raise InputError("values", "", "are missing", try_next="Fill in at least one of what the laboratory found.")
        if not content.get("new_oil") and "hours_on_oil" not in content:
            raise InputError("hours_on_oil", "", "is missing", try_next="Give the hours since the oil was changed.")
    if kind == "upkeep_plan" and content.get("applies") is False and not content.get("why"):
        raise InputError("why", "", "is missing", try_next="Say why this engine does not have the task.")
    if kind == "oil_limit" and "low" in content and "high" in content and content["low"] >= content["high"]:
        raise InputError("low", given["low"], "is not below the highest value", allowed=f"less than {given['high']}")
    if kind == "oil_limit" and "low" not in content and "high" not in content:
        raise InputError("high", "", "is missing", try_next="Give a highest or a lowest value.")
    if kind in DATED:
        content["date"] = _date(content.get("date"), today)
    return content


MOST: Mapping[str, float] = {
    "mg KOH/g": 100.0, "mm²/s": 1000.0, "% (volume)": 100.0, "%": 100.0, "1/cm": 500.0, "mg/kg": 100_000.0
}  # fmt: skip
"""Highest value of a property that a laboratory can have meant, by unit (own settings)."""


def _of_oil(name: str, value: float, text: str) -> None:
    """Refuse what no oil holds; a spectrum set against new oil may read a little below nothing."""
    title, unit = PROPERTIES[name]
    least = -50.0 if unit == "1/cm" else 0.0
    if not least <= value <= MOST[unit]:
        raise InputError(
            name, text, f"cannot be {title.lower()} of an oil", allowed=f"{least:g} to {MOST[unit]:,.0f} {unit}",
            try_next="Look at the unit and the sign on the laboratory's sheet.",
        )  # fmt: skip


def _number(text: str, name: str, decimal: DecimalSign | None) -> float:
    bare = _UNIT.sub("", text)
    value = parse_number(bare, field=name, decimal=decimal).value
    if value is None:
        raise InputError(name, text, "is no number", try_next="Write digits, or leave it empty.")
    if not isfinite(value):
        raise InputError(name, text, "is no number", try_next="Write digits, or leave it empty.")
    if name == "grace_days" and value != int(value):
        raise InputError(name, text, "are no whole days", allowed="a whole number")
    return float(value)


def _date(text: object, today: date) -> str:
    """Return a day that is not in the future; today where nothing was typed."""
    if not text:
        return today.isoformat()
    try:
        day = date.fromisoformat(str(text))
    except ValueError:
        raise InputError("date", str(text), "is no date", allowed="as 2032-07-08") from None
    if day > today:
        raise InputError(
            "date", str(text), "lies in the future", allowed=f"up to {today.isoformat()}",
            try_next="What is still to be done is an order for work.",
        )  # fmt: skip
    return day.isoformat()


def _known_task(records: Records, name: str) -> None:
    known = tasks_of(records)[0].tasks
    if name not in known:
        raise UnknownNameError("task", name, known)


def _not_twice(records: Records, engine: EngineRecord, kind: str, content: Mapping[str, Any]) -> None:
    """Refuse what stands there already word for word: a button pressed twice is one sample, one piece of work."""
    if kind in ("oil_sample", "task_done") and any(
        _said(one.content) == _said(content) for one in of_kind(records, engine.id, kind)
    ):
        raise InputError(
            "date", str(content["date"]), "has the same entry already", try_next="Take that back first, or say more."
        )


def _said(content: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in content.items() if value not in ("", None, False) and name != "visit"}


def _fits(records: Records, engine: EngineRecord, kind: str, content: Mapping[str, Any]) -> None:
    """Refuse hours that cannot stand between what the meter showed before and after."""
    if kind == METER:
        shown, old, name = float(content["last_of_old"]), True, "last_of_old"
    elif content.get("hours") is not None and kind in ("task_done", "oil_sample", "work_order", "failure"):
        shown, old, name = float(content["hours"]), bool(content.get("old_meter")), "hours"
    else:
        return
    day = date.fromisoformat(str(content["date"]))
    known = upkeep_of(records, engine)
    true = true_hours(MeterReading(day, shown, old), known.exchanges)
    new = MeterSeen(day=day, shown=shown, true=true, source=kind)
    others = [one for one in known.readings if kind != METER or one.day <= day]  # what follows an exchange is moved
    if kind == METER and any(one.source == METER and one.day == day for one in others):
        raise InputError(
            "date", day.isoformat(), "has an exchange of the meter already", try_next="Take that back first."
        )
    faults = sound_readings([*others, new])[1]
    if faults:
        raise InputError(
            name, f"{shown:g}", f"does not fit: {faults[0].says.rstrip('.')}",
            try_next="Read the meter again; if it was exchanged or set back, note the exchange first.",
        )  # fmt: skip
