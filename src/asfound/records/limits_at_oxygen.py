"""Limits and readings counted at a reference oxygen: what each states, and all of one visit put on one level.

The numbers of a visit are counted at one reference oxygen. A limit that states another (250 mg/m³ at 5 % beside results
at 15 %) is put on theirs before anything is compared: both sides of the comparison shift by the same factor. So is a
reading that was typed with a level of its own (an analyser that shows 90 ppm at 3 % O2).
"""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from asfound.errors import AsFoundError
from asfound.exhaust.limits import of_permit
from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR, at_reference_oxygen
from asfound.exhaust.worksheets_permit import REFERENCE_OXYGEN
from asfound.quantities.display import number_text, unit_words
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantities
from asfound.quantities.words import Limit, Reading

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from asfound.records.view_parts import KeptReading

LEVEL, AIR = "permit_reference_oxygen", "permit_oxygen_in_air"
_AT = re.compile(r"(?:\bat|@)\s*(\d+(?:[.,]\d+)?)\s*%\s*(?:O2|O₂|oxygen)", re.IGNORECASE)


def stated(quantity: str, as_typed: str, basis: str) -> float | None:
    """Return the reference oxygen that a limit states, with its value or in its basis; None where it states none."""
    known = quantities().get(quantity)
    if known is None or not known.reference_oxygen:
        return None
    found = _AT.search(as_typed) or _AT.search(basis)
    share = float(found[1].replace(",", ".")) / 100 if found else None
    return share if share is not None and share < OXYGEN_IN_AIR else None


def on_one_level(
    limits: Sequence[Limit], readings: Mapping[str, KeptReading], time: str
) -> tuple[tuple[Limit, ...], dict[str, KeptReading], tuple[Reading, ...]]:
    """Return limits and readings at the reference oxygen of the visit, and that level where only a limit states it.

    The level is that which somebody read, else that of the first limit that states one, the permit's before a general
    rule's, else that which the worksheets assume.

    Parameters
    ----------
    limits : sequence of Limit
        In force on the day; ``reference_oxygen`` is what each states.
    readings : mapping
        The reading that holds at each key; of those at a level of their own, the answer holds ``reading`` for the sheet
        at that of the visit, and the rest as it was typed.
    time : str
        ISO 8601: the beginning of the visit.
    """
    level, air = _read(readings, LEVEL), _read(readings, AIR) or OXYGEN_IN_AIR
    brought: tuple[Reading, ...] = ()
    if level is None:
        first = next((one for one in (*of_permit(tuple(limits)), *limits) if one.reference_oxygen is not None), None)
        if first is not None and first.reference_oxygen is not None:
            level, brought = first.reference_oxygen, (_as_reading(first, time),)
    if level is None:
        assumed = REFERENCE_OXYGEN.assume
        level = assumed.value if assumed else 0.15
    here = {key: _read_at(one, level, air) for key, one in readings.items()}
    return tuple(_at(one, level, air) for one in limits), here, brought


def _read(readings: Mapping[str, KeptReading], quantity: str) -> float | None:
    values = (one.reading.value for one in readings.values() if one.quantity == quantity and one.reading is not None)
    return next((one for one in values if one >= 0.0), None)


def _as_reading(limit: Limit, time: str) -> Reading:
    level = float(limit.reference_oxygen or 0.0)
    return Reading(
        quantity=LEVEL, place="engine", state="as_found", time=time, value=level, unit=quantities()[LEVEL].si_unit,
        as_typed=f"{100 * level:g} %", standard_uncertainty=0.0, origin="typed",
        said_by=f"{limit.name} {limit.text}".strip(), entry=limit.entry,
    )  # fmt: skip


def _at(limit: Limit, level: float, air: float) -> Limit:
    """Return a limit at a level; one that states none is meant at that of the visit."""
    own = limit.reference_oxygen
    if own is None or abs(own - level) < 1e-9 or not own < air > level:
        return limit
    factor = float(at_reference_oxygen(1.0, own, level, air))
    return replace(
        limit,
        value=limit.value * factor,
        as_typed=f"{limit.as_typed}, which is {_said(limit, factor)} at {100 * level:.3g} % O2",
    )


def _read_at(kept: KeptReading, level: float, air: float) -> KeptReading:
    """Return a reading with what the sheet takes of it at a level; one that states none is meant at the visit's."""
    own, one = kept.reference_oxygen, kept.reading
    if one is None or own is None or abs(own - level) < 1e-9 or not own < air > level:
        return kept
    factor = float(at_reference_oxygen(1.0, own, level, air))
    return replace(
        kept,
        reading=replace(
            one,
            value=one.value * factor,
            standard_uncertainty=one.standard_uncertainty * factor,
            said_by=f"{one.said_by}; taken at {100 * own:.3g} % O2, counted here at {100 * level:.3g} %",
        ),
    )


def _said(limit: Limit, factor: float) -> str:
    """Return the limit times a factor, in the unit it was typed in."""
    try:
        symbol = parse_amount(limit.as_typed, quantity=limit.quantity, decimal=".").unit
        known = quantities()[limit.quantity]
        one = parse_amount(f"1 {symbol}", quantity=limit.quantity, decimal=".").value or 1.0
        bare = _AT.sub("", symbol).strip()
        return f"{number_text(limit.value * factor / one, 3)} {bare or unit_words(known, known.si_display)}"
    except AsFoundError:
        return f"{number_text(limit.value * factor, 3)} {quantities()[limit.quantity].si_unit}"
