"""Readings as the sheets show them: as typed, with interval, difference and instrument; many alike in one table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.content_fuel import COMPONENTS
from asfound.report.content_numbers import STEP_ORDER, difference_words, step_of
from asfound.report.wording import brief, clock, doubt, named, natural, say, title_of

if TYPE_CHECKING:
    from asfound.records.view_parts import Difference, KeptReading
    from asfound.records.visit import VisitView
    from asfound.report.wording import System

MANY = 4
"""Places from which on the same reading stands in one table."""
COLUMNS = 10
Alike = dict[str, dict[str, "KeptReading"]]


def readings(view: VisitView, system: System) -> list[dict[str, Any]]:
    """Return the readings by step: as found, as left, difference, instrument; the gas analysis stands with the gas.

    What was read alike at many places (cylinders, bearings) stands together, a column a place.
    """
    differences = {one.key: one for one in view.differences if not one.worksheet}
    steps: dict[str, dict[tuple[str, str], dict[str, KeptReading]]] = {}
    for kept in view.readings.values():
        if not _in_the_analysis(kept):
            steps.setdefault(step_of(kept.quantity), {}).setdefault((kept.quantity, kept.place), {})[kept.state] = kept
    titles: dict[str, str] = {name: progress.title for name, progress in view.steps.items()}
    tables = []
    for step in sorted(steps, key=lambda s: STEP_ORDER.index(s) if s in STEP_ORDER else len(STEP_ORDER)):
        alike, single = _alike(steps[step])
        rows = [
            _reading_row(name, place, both, differences.get(f"{place}/{name}"), system)
            for (name, place), both in sorted(single.items(), key=lambda row: (title_of(row[0][0]), natural(row[0][1])))
        ]
        tables.append(
            {
                "title": titles.get(step, step),
                "rows": rows,
                "alike": [_alike_table(name, kind, places, system) for (name, kind), places in alike.items()],
            }
        )
    return tables


def _in_the_analysis(kept: KeptReading) -> bool:
    return kept.quantity in COMPONENTS and kept.place == "fuel" and not kept.missing and kept.state == "as_found"


def _alike(
    readings: dict[tuple[str, str], dict[str, KeptReading]],
) -> tuple[dict[tuple[str, str], Alike], dict[tuple[str, str], dict[str, KeptReading]]]:
    """Part what was read alike at many numbered places from what stands alone."""
    families: dict[tuple[str, str, str], Alike] = {}
    for (name, place), both in readings.items():
        kind, _, number = place.rpartition("_")
        plain_ones = all(not one.missing and not one.note and one.reading is not None for one in both.values())
        if kind in ("cylinder", "bearing", "port") and number and plain_ones:
            said = " ".join(sorted({f"{one.said_by} {one.unit}" for one in both.values()}))
            families.setdefault((name, kind, said), {})[place] = both
    alike = {(name, kind): places for (name, kind, _), places in families.items() if len(places) >= MANY}
    taken = {(name, place) for (name, _), places in alike.items() for place in places}
    return alike, {key: both for key, both in readings.items() if key not in taken}


def _alike_table(name: str, kind: str, places: Alike, system: System) -> dict[str, Any]:
    """Return one reading at many places: a column a place, a row a state."""
    order = sorted(places, key=natural)
    one = next(iter(places[order[0]].values()))
    states = [state for state in ("as_found", "as_left") if any(state in places[place] for place in order)]
    parts = []
    for start in range(0, len(order), COLUMNS):
        shown = order[start : start + COLUMNS]
        rows = [[state.replace("_", " "), *(_bare(places[place].get(state)) for place in shown)] for state in states]
        parts.append({"head": [place.rpartition("_")[2] for place in shown], "rows": rows})
    times = sorted({clock(each.time) for both in places.values() for each in both.values()} - {""})
    return {
        "name": title_of(name),
        "kind": kind,
        "unit": _unit_typed(one, system),
        "parts": parts,
        "columns": COLUMNS,
        "instrument": brief(one.said_by),
        "doubt": doubt(one, system),
        "time": times[0] if len(times) == 1 else f"{times[0]} to {times[-1]}" if times else "",
    }


def _bare(kept: KeptReading | None) -> str:
    """Return what was typed without its unit."""
    return "" if kept is None else kept.as_typed.removesuffix(kept.unit).strip() if kept.unit else kept.as_typed


def _unit_typed(kept: KeptReading, system: System) -> str:
    return kept.unit or (say(kept.reading, system).unit if kept.reading is not None else "")


def _reading_row(
    name: str, place: str, both: dict[str, KeptReading], difference: Difference | None, system: System
) -> dict[str, Any]:
    one = both.get("as_found") or both["as_left"]
    return {
        "name": named(name, place),
        "found": _typed(both.get("as_found"), system),
        "left": _typed(both.get("as_left"), system),
        "difference": difference_words(difference, name, system),
        "instrument": brief(one.said_by),
        "doubt": doubt(one, system),
        "note": "; ".join(dict.fromkeys(k.note for k in both.values() if k.note)),
    }


def _typed(kept: KeptReading | None, system: System) -> dict[str, str] | None:
    if kept is None:
        return None
    if kept.missing:
        return {"value": "not taken", "unit": "", "interval": "", "time": clock(kept.time)}
    value = kept.as_typed if not kept.unit or kept.unit in kept.as_typed else f"{kept.as_typed} {kept.unit}"
    interval = say(kept.reading, system) if kept.reading is not None else None
    return {
        "value": value,
        "unit": "",
        "time": clock(kept.time),
        "interval": f"{interval.interval} {interval.unit}".strip()
        if interval is not None and interval.interval
        else "",
    }
