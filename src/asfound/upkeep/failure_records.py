"""Records of failures and of the work that followed, in terms of ISO 14224: what is missing, unknown or contradicts.

Mode is what was seen, and belongs to the whole engine; mechanism is the physical process, cause the reason, and both
belong to the item. A code that nobody has judged stays open: it is never filled in (`failure_words` proposes). Rules
and tables as two public texts quote ISO 14224:2016; the standard itself was not seen, and the numbering of detection
methods differs between the two, so words are exported and not numbers.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from functools import cache
from typing import Any

from asfound.sources.tables import load_csv

FAILURE_FIELDS = ("mode", "mechanism", "cause", "detection", "impact", "operating")
_NEEDED = ("record", "equipment", "detected", "mode", "impact", "operating")
_WISHED = ("mechanism", "cause", "subunit", "item", "detection", "hours")
_WORK_NEEDED = ("record", "equipment", "date", "category", "activity", "active_hours", "down_hours")
_ONLY = {
    "check": "corrective",
    "repair": "corrective",
    "service": "preventive",
    "test": "preventive",
    "inspection": "preventive",
}
_FIRST = ("replace", "repair", "overhaul", "modify")
_NOT_FIRST = ("refit", "adjust")
_SEPARATOR = re.compile(r"[ ,_-]+")
Record = Mapping[str, Any]


@cache
def codes() -> Mapping[str, Mapping[str, str]]:
    """Return field to code to its meaning."""
    found: dict[str, dict[str, str]] = {}
    for row in load_csv("asfound.upkeep", "data/failure_codes.csv", columns=("field", "code", "means")):
        found.setdefault(row["field"], {})[row["code"]] = row["means"]
    return found


@cache
def _rules() -> Mapping[str, str]:
    return {row["rule"]: row["says"] for row in load_csv("asfound.upkeep", "data/failure_rules.csv")}


def means(field: str, code: str) -> str:
    """Return what a code means; empty where it is not in the table."""
    return codes().get(field, {}).get(plain(field, code), "")


def plain(field: str, code: str) -> str:
    """Return a code as the table writes it: ``hot_standby`` and ``Standby, hot`` are one, ``start_up`` is start-up."""
    if field == "mode":
        return code.strip().upper()
    words = sorted(_SEPARATOR.split(code.strip().casefold()))
    joined = {tuple(sorted(_SEPARATOR.split(known))): known for known in codes().get(field, {})}
    return joined.get(tuple(words), code.strip())


def check_failure(record: Record) -> tuple[str, ...]:
    """Return what is wrong with a failure record, as codes in order: ``missing:mode``; `says` tells them."""
    given = {**record, **{name: plain(name, str(record[name])) for name in FAILURE_FIELDS if _there(record, name)}}
    return tuple(sorted(_failure(given)))


def _failure(record: Record) -> Iterator[str]:
    yield from (f"missing:{name}" for name in _NEEDED if not _there(record, name))
    yield from (f"advise:{name}" for name in _WISHED if not _there(record, name))
    yield from _unknown(record, FAILURE_FIELDS)
    yield from (f"advise:{n}_subcode" for n in ("mechanism", "cause") if str(record.get(n) or "").endswith(".0"))
    mode, detection, mechanism = record.get("mode"), record.get("detection"), record.get("mechanism")
    if mode in ("FTS", "STP") and detection and detection not in ("on demand", "functional test"):
        yield "conflict:mode_detection"
    if mode == "UST" and record.get("operating") in ("idle", "cold standby"):
        yield "conflict:mode_operating"
    if mode == "BRD" and record.get("impact") and record["impact"] != "critical":
        yield "conflict:mode_impact"
    if mode == "UNK" and mechanism and mechanism not in ("6.1", "6.4"):
        yield "conflict:mode_unknown_mechanism_known"
    if mechanism == "3.5" and record.get("cause") == "3.4":
        yield "conflict:software_does_not_wear"
    if record.get("hours") is not None and record["hours"] != "" and float(record["hours"]) < 0.0:
        yield "conflict:hours"


def check_work(record: Record) -> tuple[str, ...]:
    """Return what is wrong with a record of work, as codes in order; ``also`` holds further activities."""
    given = {**record, **{n: plain(n, str(record[n])) for n in ("category", "activity") if _there(record, n)}}
    return tuple(sorted(_work(given)))


def _work(record: Record) -> Iterator[str]:
    yield from (f"missing:{name}" for name in _WORK_NEEDED if not _there(record, name))
    yield from _unknown(record, ("category", "activity"))
    category, activity, failure = record.get("category"), record.get("activity"), record.get("failure")
    if category == "corrective" and not failure:
        yield "missing:failure"
    if category == "preventive" and failure:
        yield "conflict:preventive_with_failure"
    if category and activity in _ONLY and _ONLY[activity] != category:
        yield "conflict:activity_category"
    if activity in _NOT_FIRST and set(record.get("also") or ()) & set(_FIRST):
        yield "conflict:activity_priority"
    active, down = record.get("active_hours"), record.get("down_hours")
    if active is not None and down is not None and active > down and not record.get("while_running"):
        yield "conflict:active_longer_than_down"
    if (active or 0.0) < 0.0 or (down or 0.0) < 0.0:
        yield "conflict:negative_time"


def says(code: str, record: Record | None = None) -> str:
    """Return a code of `check_failure` or `check_work` in a sentence; ``record`` lets it name the value."""
    if code in _rules():
        return _rules()[code]
    kind, _, name = code.partition(":")
    word = name.replace("_", " ")
    if kind == "missing":
        return f"{word.capitalize()} is missing: the record cannot be counted without it."
    if kind == "unknown":
        given = "" if record is None else f" '{record.get(name)}'"
        return f"{word.capitalize()}{given} is not in the table; known: {', '.join(codes()[name])}."
    if word.endswith("subcode"):
        return f"{word.removesuffix(' subcode').capitalize()}: the general code says little; a closer one is better."
    return f"{word.capitalize()} is open: it may stay so, and is told as not known."


def _unknown(record: Record, fields: tuple[str, ...]) -> Iterator[str]:
    yield from (f"unknown:{name}" for name in fields if _there(record, name) and record[name] not in codes()[name])


def _there(record: Record, name: str) -> bool:
    return record.get(name) not in (None, "")


def of_entry(entry: Record, equipment: str) -> tuple[dict[str, Any], dict[str, Any] | None]:
    """Return the failure and the work of an entry ``failure`` of a record, in the fields that are checked here.

    The work is None where the entry tells nothing of any. Minutes become hours; down time runs from stop to back in
    service.
    """
    failure = {name: entry.get(name) for name in (*FAILURE_FIELDS, "hours", "subunit", "item")}
    failure |= {
        "record": entry.get("entry"), "equipment": equipment, "detected": entry.get("date"),
        "remarks": entry.get("text") or entry.get("note"),
    }  # fmt: skip
    activities = [plain("activity", str(one)) for one in entry.get("activities") or ()]
    if not (activities or entry.get("category") or entry.get("minutes_active")):
        return failure, None
    ranked = sorted(activities, key=lambda one: _FIRST.index(one) if one in _FIRST else len(_FIRST))
    minutes = entry.get("minutes_active")
    return failure, {
        "record": entry.get("work_order") or entry.get("entry"), "equipment": equipment, "failure": entry.get("entry"),
        "date": entry.get("date"), "category": entry.get("category"), "activity": ranked[0] if ranked else None,
        "also": ranked[1:], "active_hours": None if minutes is None else minutes / 60.0,
        "down_hours": _hours_between(entry.get("down_from"), entry.get("down_until")),
    }  # fmt: skip


def _hours_between(begin: Any, end: Any) -> float | None:
    if not begin or not end:
        return None
    first, last = (datetime.fromisoformat(str(one)) for one in (begin, end))
    if (first.tzinfo is None) != (last.tzinfo is None):
        return None
    return (last - first).total_seconds() / 3600.0
