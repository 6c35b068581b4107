"""Any registered worksheet on values typed as people write them, outside any visit: for its page and for the API."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from asfound.errors import InputError
from asfound.quantities.as_data import finite
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading, Result
from asfound.quantities.worksheets import SAME
from asfound.sources.register import cite

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.quantities.numerals import DecimalSign
    from asfound.quantities.worked import Worked
    from asfound.quantities.worksheets import Take, Worksheet

BAROMETER = "barometric_pressure"
SEVERAL = ";"
"""Stands between the values of several places in one field."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calculated:
    """What a worksheet made of what was typed."""

    worked: Worked | None
    results: tuple[Result, ...]
    complaints: Mapping[str, InputError] = field(default_factory=dict)
    """By name of the field."""
    missing: tuple[str, ...] = ()
    """Quantities that are still needed."""


def field_name(take: Take) -> str:
    """Return the name of a take's field: the quantity, with its place where it is fixed."""
    return take.quantity if take.place == SAME else f"{take.quantity}@{take.place}"


def calculate(
    sheet: Worksheet,
    typed: Mapping[str, str],
    *,
    system: str = "si",
    decimal: DecimalSign | None = None,
    units: Mapping[str, str] | None = None,
    draws: int = 10_000,
    seed: int = 1,
) -> Calculated:
    """Work out a worksheet.

    Parameters
    ----------
    sheet : Worksheet
    typed : mapping
        Field name to text; what a number claims may follow it (``8.5 % +- 0.2 %``).
    system, decimal
        How a number without unit, or with one sign, is read.
    units : mapping, optional
        Field name to the unit that stands beside the field.
    draws, seed : int
        Of the intervals.
    """
    readings: list[Reading] = []
    complaints: dict[str, InputError] = {}
    for take in sheet.takes:
        name = field_name(take)
        given = typed.get(name, typed.get(take.quantity, "")).strip()
        if not given:
            continue
        unit = (units or {}).get(name)
        try:
            readings += _readings(take, sheet, given, name, system=system, decimal=decimal, unit=unit)
        except InputError as refused:
            complaints[name] = refused
    if any(one.gauge for one in readings) and typed.get(BAROMETER, "").strip():
        readings.append(_barometer(typed[BAROMETER], complaints, system, decimal))
    if complaints:
        return Calculated(worked=None, results=(), complaints=complaints)
    worked = work_out(readings, number=draws, seed=seed)
    results = tuple(one for one in worked.results if one.worksheet == sheet.name)
    for one in worked.refused:
        if one.worksheet == sheet.name:
            complaints[one.error.field.rsplit("/", 1)[-1]] = one.error
    missing = tuple(
        dict.fromkeys(name for one in worked.missing if one.worksheet == sheet.name for name in one.quantities)
    )
    if not results and not missing and not complaints:
        missing = tuple(take.quantity for take in sheet.takes if not take.optional and take.assume is None)
    return Calculated(worked=worked, results=results, complaints=complaints, missing=() if results else missing)


def _readings(
    take: Take, sheet: Worksheet, given: str, name: str, *, system: str, decimal: DecimalSign | None, unit: str | None
) -> list[Reading]:
    """Return what was typed into a field: one value, or those of several places with a semicolon between them."""
    how: dict[str, Any] = {"system": system, "decimal": decimal, "unit": unit}
    if not take.each:
        return [_reading(take, sheet.at if take.place == SAME else take.place, given, name, **how)]
    parts = [part.strip() for part in given.split(SEVERAL) if part.strip()]
    return [_reading(take, take.place_of(at), part, name, **how) for at, part in enumerate(parts, 1)]


def _reading(
    take: Take, place: str, given: str, name: str, *, system: str, decimal: DecimalSign | None, unit: str | None
) -> Reading:
    amount = parse_amount(
        given,
        quantity=take.quantity,
        field=name,
        decimal=decimal,
        system=system,  # type: ignore[arg-type]
        default_unit=unit,
        plus_minus="limit",
    )
    if amount.value is None or amount.censored:
        raise InputError(name, given, "is not one value", try_next="A calculation needs a number, with its unit.")
    u = amount.standard_uncertainty
    return Reading(
        quantity=take.quantity,
        place=place,
        state="as_found",
        time="",
        value=amount.value,
        unit=quantity(take.quantity).si_unit,
        as_typed=amount.as_typed,
        standard_uncertainty=u or 0.0,
        distribution="rectangular" if u else "normal",
        gauge=amount.gauge,
    )


def _barometer(given: str, complaints: dict[str, InputError], system: str, decimal: DecimalSign | None) -> Reading:
    """Return the barometer that makes gauge pressures absolute."""
    value = 101_325.0
    try:
        amount = parse_amount(given, quantity=BAROMETER, field=BAROMETER, decimal=decimal, system=system)  # type: ignore[arg-type]
        value = amount.value if amount.value is not None else value
    except InputError as refused:
        complaints[BAROMETER] = refused
    return Reading(
        quantity=BAROMETER,
        place="site",
        state="as_found",
        time="",
        value=value,
        unit="Pa",
        as_typed=given,
        standard_uncertainty=0.0,
    )


# ---------------------------------------------------------------------- as JSON


def sheet_as_dict(sheet: Worksheet) -> dict[str, Any]:
    """Return what a caller must know of a worksheet."""
    return {
        "name": sheet.name,
        "title": sheet.title,
        "room": sheet.room,
        "says": sheet.help,
        "takes": [_take(one) for one in sheet.takes],
        "gives": list(sheet.gives),
        "method": sheet.method.name,
        "source": cite(sheet.method.source, sheet.method.clause),
        "source_key": sheet.method.source,
        "cautions": list(sheet.cautions),
        "valid": {name: said for name, (_, _, said) in sheet.valid.items()},
    }


def _take(one: Take) -> dict[str, Any]:
    about = quantity(one.quantity)
    return {
        "field": field_name(one),
        "quantity": one.quantity,
        "title": about.title,
        "place": one.place,
        "several": one.each,
        "needed": not one.optional and one.assume is None,
        "default": None if one.default is None else finite(one.default),
        "assumed": {"says": one.assume.says, "value": finite(one.assume.value), "source": one.assume.source}
        if one.assume
        else None,
        "unit": about.si_unit,
        "units": list(about.units),
        "plausible": list(about.plausible),
    }
