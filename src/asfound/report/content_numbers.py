"""Readings, results, limits and trails as the sheets show them: text, units and small pictures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from asfound.quantities.display import chance
from asfound.quantities.words import Reading, Result
from asfound.report.axis import Mark, Wall
from asfound.report.numbering import Sources
from asfound.report.scales import scale
from asfound.report.wording import (
    System,
    clean,
    clock,
    day_words,
    doubt,
    in_units,
    interval_of,
    named,
    natural,
    place_words,
    say,
    title_of,
)

if TYPE_CHECKING:
    from asfound.quantities.words import Limit
    from asfound.records.view_parts import Difference, KeptReading, LimitState
    from asfound.records.visit import VisitView

Number = Reading | Result
LEDGER_ROWS = 4
"""Rows of the ledger on sheet 1; all numbers stand on the sheets behind it."""
LEADING = (
    "engine_power",
    "load_fraction",
    "excess_air_ratio",
    "methane_number",
    "nox_mass_per_energy",
    "co_mass_per_energy",
)
"""Numbers that a reader looks for first, when no limit says which."""
STEP_ORDER = ("fuel", "load", "exhaust", "cylinders", "other", "fitted")


def scale_picture(
    name: str, found: Number | None, left: Number | None, limits: Sequence[Limit], system: System, width: float
) -> tuple[str, str]:
    """Return the scale of a number as found and as left, and the sentence that says what it shows."""
    marks = [None if one is None else _mark(one, system) for one in (found, left)]
    said = [title_of(name)]
    for words, one in (("as found", found), ("as left", left)):
        if one is not None:
            said.append(f"{words} {say(one, system).whole}")
    walls = []
    for limit in limits:
        walls.append(Wall(in_units(limit.value, name, system), f"{limit.name} {limit.as_typed}", limit.side))
        said.append(f"{limit.name} {limit.as_typed}")
    label = clean(", ".join(said))
    zero = bool(walls) and all(w.value > 0 and w.side == "upper" for w in walls) and _reaches_down(marks, walls)
    picture = scale(
        label=label,
        found=marks[0],
        left=marks[1],
        limit=[Wall(w.value, clean(w.text), w.side) for w in walls],
        zero=zero,
        width=width,
        paper=True,
    )
    return picture, label


def _reaches_down(marks: Sequence[Mark | None], walls: Sequence[Wall]) -> bool:
    """Return whether a ratio to the wall is read, so that nought belongs in the picture: below four fifths of it."""
    values = [m.value for m in marks if m is not None]
    return bool(values) and 0 <= min(values) < 0.8 * min(w.value for w in walls)


def _mark(number: Number, system: System) -> Mark:
    low, high = (in_units(end, number.quantity, system) for end in interval_of(number))
    value = in_units(number.value, number.quantity, system)
    return Mark(value, min(low, high), max(low, high)) if high != low else Mark(value)


def ledger(view: VisitView, system: System, width: float = 318) -> list[dict[str, Any]]:
    """Return the rows of the ledger: numbers with limits first, then the leading ones, then what surely changed."""
    rows: list[dict[str, Any]] = []
    seen: set[tuple[str, str]] = set()
    for name, place in _ledger_keys(view):
        if (name, place) in seen or len(rows) >= LEDGER_ROWS:
            continue
        seen.add((name, place))
        found, left = (_number(view, f"{state}/{place}/{name}") for state in ("as_found", "as_left"))
        limits = [limit for limit in view.limits if limit.quantity == name and limit.place in ("", place)]
        if found is None and left is None:
            continue
        picture, label = scale_picture(name, found, left, limits, system, width)
        note = "; ".join(f"{limit.name} {limit.as_typed}" for limit in limits) or place_words(place)
        rows.append(
            {
                "name": title_of(name),
                "note": note,
                "found": _cell(view, found, limits, system),
                "left": _cell(view, left, limits, system),
                "svg": picture,
                "alt": label,
            }
        )
    return rows


def _ledger_keys(view: VisitView) -> Iterable[tuple[str, str]]:
    for state in view.limit_states:
        for number in (*state.found, *state.left):
            yield number.quantity, number.place
    read = (key.split("/") for key in view.readings)
    both = {(one.quantity, one.place) for one in view.worked.results} | {(name, place) for _, place, name in read}
    for name in LEADING:
        yield from sorted(key for key in both if key[0] == name)
    about_engine = [
        one
        for one in view.differences
        if _step(one.quantity) in ("load", "exhaust", "cylinders") and one.place != "site"
    ]
    for one in sorted(about_engine, key=lambda d: (not d.changed, d.worksheet == "", d.key)):
        yield one.quantity, one.place


def _number(view: VisitView, key: str) -> Number | None:
    result = view.worked.result(key)
    if result is not None:
        return result
    kept = view.readings.get(key)
    return kept.reading if kept is not None else None


def _cell(view: VisitView, number: Number | None, limits: Sequence[Limit], system: System) -> dict[str, str] | None:
    if number is None:
        return None
    said = say(number, system)
    near = [view.worked.probability_beyond(number, limit) for limit in limits]
    note = f"{chance(max(near))} to be beyond" if near and max(near) >= 0.005 else ""
    return {**said.as_dict(), "note": note}


def readings(view: VisitView, system: System) -> list[dict[str, Any]]:
    """Return the readings by step: as found, as left, difference, instrument."""
    differences = {one.key: one for one in view.differences if not one.worksheet}
    steps: dict[str, dict[tuple[str, str], dict[str, KeptReading]]] = {}
    for kept in view.readings.values():
        steps.setdefault(_step(kept.quantity), {}).setdefault((kept.quantity, kept.place), {})[kept.state] = kept
    titles: dict[str, str] = {name: progress.title for name, progress in view.steps.items()}
    tables = []
    for step in sorted(steps, key=lambda s: STEP_ORDER.index(s) if s in STEP_ORDER else len(STEP_ORDER)):
        rows = [
            _reading_row(name, place, both, differences.get(f"{place}/{name}"), system)
            for (name, place), both in sorted(
                steps[step].items(), key=lambda row: (title_of(row[0][0]), natural(row[0][1]))
            )
        ]
        tables.append({"title": titles.get(step, step), "rows": rows})
    return tables


def _step(name: str) -> str:
    from asfound.errors import UnknownNameError
    from asfound.quantities.register import quantity

    try:
        return quantity(name).step
    except UnknownNameError:
        return "other"


def _reading_row(
    name: str, place: str, both: dict[str, KeptReading], difference: Difference | None, system: System
) -> dict[str, Any]:
    one = both.get("as_found") or both["as_left"]
    return {
        "name": named(name, place),
        "found": _typed(both.get("as_found"), system),
        "left": _typed(both.get("as_left"), system),
        "difference": difference_words(difference, name, system),
        "instrument": one.said_by,
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


def difference_words(one: Difference | None, name: str, system: System) -> str:
    """Say how much it moved; an amount of difference has no offset."""
    if one is None:
        return ""
    nought = in_units(0.0, name, system)
    moved = in_units(one.difference, name, system) - nought
    low, high = sorted(in_units(end, name, system) - nought for end in one.interval)
    places = _places((high - low) / 2)
    unit = say(one.left, system).unit
    said = f"{_signed(moved, places)} ({_signed(low, places)} to {_signed(high, places)}) {unit}".strip()
    return said if one.changed else f"{said}; no sure change"


def _places(half_width: float) -> int:
    from math import floor, log10

    return min(max(1 - floor(log10(half_width)), 0), 6) if half_width > 0 else 3


def _signed(value: float, places: int) -> str:
    text = f"{abs(value):,.{places}f}"
    return f"−{text}" if value < 0 else f"+{text}"


def limits(view: VisitView, system: System, sources: Sources, width: float = 310) -> list[dict[str, Any]]:
    """Return each limit with the numbers that it concerns, their chance of being beyond it, and the picture."""
    blocks = []
    for state in view.limit_states:
        limit = state.limit
        places = list(dict.fromkeys(n.place for n in (*state.found, *state.left)))
        for place in places or [limit.place]:
            found = next((n for n in state.found if n.place == place), None)
            left = next((n for n in state.left if n.place == place), None)
            picture, label = scale_picture(limit.quantity, found, left, [limit], system, width)
            blocks.append(
                {
                    "name": named(limit.quantity, place),
                    "limit": f"{limit.name} {limit.as_typed}",
                    "basis": limit.basis,
                    "source": sources.mark(limit.text),
                    "text": limit.text,
                    "svg": picture,
                    "alt": label,
                    "rows": [
                        row
                        for row in (_beside(state, found, "As found", system), _beside(state, left, "As left", system))
                        if row
                    ],
                }
            )
    return blocks


def _beside(state: LimitState, number: Number | None, words: str, system: System) -> dict[str, str] | None:
    if number is None:
        return None
    said = say(number, system)
    beyond = state.beyond.get(number.key)
    side = "over" if state.limit.side == "upper" else "under"
    risk = f"{chance(beyond)} to be {side}" if beyond is not None else "chance not worked out"
    interval = f" ({said.interval})" if said.interval else ""
    return {"state": words, "value": f"{said.whole}{interval}", "chance": risk}


def missing(view: VisitView) -> list[str]:
    """Return what could not be worked out and what is missing for it, and what gave no answer, as sentences."""
    said = [
        f"{title_of(name)} at {place_words(one.place) or 'the engine'}: no answer. {one.says}"
        for one in view.worked.refused
        for name in one.quantities
    ]
    return list(dict.fromkeys(said))


def instruments(view: VisitView) -> list[dict[str, str]]:
    """Return the instruments that were used, with their calibration."""
    used = {kept.instrument.id: kept.instrument for kept in view.readings.values() if kept.instrument is not None}
    rows = []
    for one in sorted(used.values(), key=lambda i: str(i.content.get("name", ""))):
        content = one.content
        calibrated = content.get("calibrated")
        rows.append(
            {
                "name": str(content.get("name", "")),
                "serial": str(content.get("serial", "") or "no serial"),
                "calibrated": day_words(str(calibrated)) if calibrated else "calibration not known",
                "source": str(content.get("source", "")),
            }
        )
    return rows
