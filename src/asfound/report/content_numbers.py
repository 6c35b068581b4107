"""Readings, results, limits and trails as the sheets show them: text, units and small pictures."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from asfound.exhaust.limits import NOT_YOURS
from asfound.quantities.display import chance
from asfound.quantities.words import Reading, Result
from asfound.records.view_parts import concerns
from asfound.report.axis import Mark, Wall
from asfound.report.deciding import deciding
from asfound.report.numbering import Sources
from asfound.report.scales import scale
from asfound.report.wording import (
    System,
    clean,
    day_words,
    in_units,
    interval_of,
    named,
    place_words,
    say,
    title_of,
)

if TYPE_CHECKING:
    from asfound.quantities.words import Limit
    from asfound.records.view_parts import Difference, LimitState
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
    keys = [key for key in dict.fromkeys(_ledger_keys(view)) if not key[1].startswith("run_")]
    for name, place in keys:
        if len(rows) >= LEDGER_ROWS:
            break
        found, left = (_number(view, f"{state}/{place}/{name}") for state in ("as_found", "as_left"))
        limits = [limit for limit in view.limits if limit.quantity == name and concerns(limit, place)]
        if found is None and left is None:
            continue
        picture, label = scale_picture(name, found, left, limits, system, width)
        walls = "; ".join(f"{limit.name} {limit.as_typed}" for limit in limits)
        alone = sum(one == name for one, _ in keys) == 1
        rows.append(
            {
                "name": title_of(name) if alone or not walls else named(name, place),
                "note": walls or place_words(place),
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
        if step_of(one.quantity) in ("load", "exhaust", "cylinders") and one.place != "site"
    ]
    for one in sorted(about_engine, key=lambda d: (not d.changed, d.worksheet == "", d.key)):
        yield one.quantity, one.place


def _number(view: VisitView, key: str) -> Number | None:
    """Return the number that the sheet goes on with; a reading that the sheet left out is shown all the same."""
    taken = view.worked.taken(key)
    kept = view.readings.get(key)
    return taken if taken is not None or kept is None else kept.reading


def _cell(view: VisitView, number: Number | None, limits: Sequence[Limit], system: System) -> dict[str, str] | None:
    if number is None:
        return None
    said = say(number, system)
    near = [view.worked.probability_beyond(number, limit) for limit in limits]
    note = f"{chance(max(near))} to be beyond" if near and max(near) >= 0.005 else ""
    return {**said.as_dict(), "note": note}


def step_of(name: str) -> str:
    """Return the step of a quantity; ``other`` for one that the register does not know."""
    from asfound.errors import UnknownNameError
    from asfound.quantities.register import quantity

    try:
        return quantity(name).step
    except UnknownNameError:
        return "other"


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
        places = list(dict.fromkeys(n.place for n in (*state.found, *state.left) if not n.place.startswith("run_")))
        for place in places or [limit.place]:
            found = next((n for n in state.found if n.place == place), None)
            left = next((n for n in state.left if n.place == place), None)
            picture, label = scale_picture(limit.quantity, found, left, [limit], system, width)
            beside = [(words, n) for words, n in (("As found", found), ("As left", left)) if n is not None]
            blocks.append(
                {
                    "step": step_of(limit.quantity),
                    "name": named(limit.quantity, place),
                    "limit": f"{limit.name} {limit.as_typed}",
                    "basis": limit.basis,
                    "source": sources.mark(limit.text) if limit.name != NOT_YOURS else "",
                    "text": limit.text,
                    "general": limit.name == NOT_YOURS,
                    "svg": picture,
                    "alt": label,
                    "rows": [_beside(state, number, words, system) for words, number in beside],
                    "decides": [
                        f"{words}: {says}"
                        for words, number in beside
                        if (says := deciding(view.worked, number, limit, system))
                    ],
                }
            )
    return blocks


def _beside(state: LimitState, number: Number, words: str, system: System) -> dict[str, str]:
    said = say(number, system)
    beyond = state.beyond.get(number.key)
    side = "over" if state.limit.side == "upper" else "under"
    risk = f"{chance(beyond)} to be {side}" if beyond is not None else "chance not worked out"
    interval = f" ({said.interval})" if said.interval else ""
    return {"state": words, "value": f"{said.whole}{interval}", "chance": risk}


def missing(view: VisitView) -> list[str]:
    """Return what gave no answer by any way, and why, as sentences."""
    numbers: tuple[Number, ...] = (*view.worked.readings, *view.worked.results)
    answered = {(one.quantity, one.place) for one in numbers}
    said = [
        f"{named(name, one.place)}: no answer. {_in_words(one.says)}"
        for one in view.worked.refused
        for name in one.quantities
        if (name, one.place) not in answered
    ]
    return list(dict.fromkeys(said))


_KEY = re.compile(r"\bas_(?:found|left)/(\w+)/(\w+)")


_NAME = re.compile(r"\b[a-z0-9]+(?:_[a-z0-9]+)+\b")


def _titled(met: re.Match[str]) -> str:
    return named(met[2], met[1])


def _in_words(text: str) -> str:
    """Return a text with titles in the place of keys and names of the register."""
    return _NAME.sub(lambda met: title_of(met[0]), _KEY.sub(_titled, text))


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
