"""Amounts as people write them: a number with its unit becomes SI at the door, once.

What cannot be, is refused with the field, the value and what fits. What can be read in two ways (``1.234``, ``60 psi``,
``950 Btu/scf``) is asked about and never guessed. What is only odd is kept; `register.implausible` says so.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from asfound.errors import AmbiguousError, InputError
from asfound.quantities.numerals import PLUS_MINUS, Number, leading, missing, parse_number, refuse_long
from asfound.quantities.register import quantity as registered
from asfound.quantities.typed_unit import TypedUnit, typed_unit
from asfound.quantities.words import LARGEST

if TYPE_CHECKING:
    from collections.abc import Callable

    from asfound.quantities.numerals import Censored, DecimalSign, Grouping
    from asfound.quantities.register import Quantity, System

__all__ = ["Amount", "Number", "parse_amount", "parse_number"]

PlusMinus = Literal["standard", "k2", "limit"]
_DIVISORS: dict[PlusMinus, float] = {"standard": 1.0, "k2": 2.0, "limit": math.sqrt(3)}
_COVERAGE = re.compile(r"\s*\(?\s*k\s*=\s*(?P<k>[123](?:\.\d+)?)\s*\)?$")
_NINETY_FIVE = re.compile(r"\s*(?:,|\()\s*95\s*%\s*(?:confidence|coverage|CI)?\s*\)?$")
_OF_READING = re.compile(r"%\s*(?:of\s+)?(?:the\s+)?(?:reading|rdg|mv|rel\.?|relative|of value)$", re.IGNORECASE)
_LOWEST_GAUGE = -110_000.0
_LOWEST_SHARE = -0.05
"""A zero that has drifted reads a little below nothing. Engineering judgement. [mol/mol]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """A typed amount, in the SI unit of its quantity."""

    value: float | None
    """In ``si_unit`` of the quantity; a gauge pressure stays gauge. None where it is missing."""
    unit: str
    """As typed; empty where the door showed it beside the field."""
    as_typed: str
    standard_uncertainty: float | None = None
    """Where the text says it: 12.30(12), ± 0.4 (k=2), or ± with the meaning that was set."""
    gauge: bool = False
    censored: Censored = ""
    about: bool = False
    missing: bool = False
    missing_because: str = ""
    plus_minus: float | None = None
    """Half-width behind ± whose meaning the text does not say: ask for it."""
    reference_oxygen: float | None = None
    """``at 15 % O2``, where it was typed. [mol/mol]"""
    says: tuple[str, ...] = ()
    """Words typed behind the unit: ``dry``, ``at 15 % O2``."""


def parse_amount(
    text: str,
    *,
    quantity: str,
    field: str = "",
    decimal: DecimalSign | None = None,
    system: System | None = None,
    default_unit: str | None = None,
    reference: str | None = None,
    plus_minus: PlusMinus | None = None,
    grouping: Grouping = "thousands",
) -> Amount:
    """Return what was typed for a quantity, in SI.

    Parameters
    ----------
    text : str
        As typed: ``8,5 %``, ``29.92 inHg``, ``1.2 bar g``, ``0.5 g/hp-h``, ``12.3 ± 0.4 bar``, ``> 20.9 %``, ``N/A``.
    quantity : str
        Its name in the register.
    field : str
        Name of the field, for a complaint; the quantity when empty.
    decimal : {'point', 'comma', '.', ','}, optional
        The site's decimal sign; without it ``1.234`` is ambiguous.
    system : {'si', 'us'}, optional
        Decides ``ton`` and ``therm``, nothing else.
    default_unit : str, optional
        The unit that stands beside the field: what a bare number is in.
    reference : str, optional
        State at which the site tells its gas volumes, ``60 F, 14.73 psia``; without it ``scf`` is ambiguous.
    plus_minus : {'standard', 'k2', 'limit'}, optional
        What ± means here: standard uncertainty, twice that, or the limits of a rectangle.
    grouping : {'thousands', 'indian'}
        Whether ``1,23,456`` is a number.

    Raises
    ------
    InputError
        No number, a unit that does not fit, below absolute zero, more than all of it; names field, value, what fits.
    AmbiguousError
        More than one reading; ``choices`` holds a plain text for each.
    UnknownNameError
        No such quantity.

    Examples
    --------
    >>> parse_amount("8,5 %", quantity="exhaust_oxygen_dry").value
    0.085
    >>> parse_amount("60 psig", quantity="fuel_pressure").gauge
    True
    """
    about = registered(quantity)
    field = field or quantity
    refuse_long(text, field)
    absent = missing(text)
    if absent:
        return Amount(value=None, unit="", as_typed=text, missing=True, missing_because=absent.missing_because)
    number, rest = leading(text, decimal=decimal, grouping=grouping, field=field)
    rest, factor = _coverage(rest)
    rest, half, half_unit = _half_width(rest, about, text, field, decimal, grouping)

    def unit_of(written: str) -> TypedUnit:
        return typed_unit(
            written, about, number=number.text, given=text, field=field, system=system, reference=reference,
            default=default_unit,
        )  # fmt: skip

    written = rest.strip()
    more, rest = _second_part(rest, about, decimal)
    typed = unit_of(rest)
    assert number.value is not None
    value = typed.si(number.value) + more
    _refuse_impossible(value, typed, about, text, field)
    width = None if half is None else _width(half, half_unit, number, typed, unit_of)
    divisor = factor or (_DIVISORS[plus_minus] if plus_minus else None)
    stated = None if number.standard_uncertainty is None else typed.size(number.standard_uncertainty)
    if not max(width or 0.0, stated or 0.0) <= LARGEST:
        raise InputError(field, text, "has a doubt beyond any number that can be", try_next="Look behind the ±.")
    return Amount(
        value=value,
        unit=written,
        as_typed=text,
        standard_uncertainty=width / divisor if width is not None and divisor else stated,
        gauge=typed.gauge,
        censored=_TURNED[number.censored] if typed.turned else number.censored,
        about=number.about,
        plus_minus=None if divisor else width,
        reference_oxygen=typed.reference_oxygen,
        says=typed.says,
    )


_TURNED: dict[Censored, Censored] = {"above": "below", "below": "above", "": ""}


def _coverage(rest: str) -> tuple[str, float | None]:
    """Return the text without the coverage that it states (k=2, 95 %), and that factor."""
    if not PLUS_MINUS.search(rest):
        return rest, None
    found = _COVERAGE.search(rest)
    if found:
        return rest[: found.start()], float(found["k"])
    found = _NINETY_FIVE.search(rest)
    return (rest[: found.start()], 2.0) if found else (rest, None)


def _half_width(
    rest: str, about: Quantity, given: str, field: str, decimal: DecimalSign | None, grouping: Grouping
) -> tuple[str, float | None, str]:
    """Return the unit of the value, the number behind ±, and the unit of that, which may be ``% of reading``."""
    found = PLUS_MINUS.search(rest)
    if not found:
        return rest, None, ""
    before_half = f"{PLUS_MINUS.split(given)[0].strip()} ± "
    half, behind = leading(rest[found.end() :], decimal=decimal, grouping=grouping, field=field, before=before_half)
    behind, before = behind.strip().rstrip(")").strip(), rest[: found.start()].strip()
    assert half.value is not None
    if _OF_READING.search(behind):
        return before, half.value, "% of reading"
    shares = "%" in about.units
    if behind == "%" and before and shares:
        raise AmbiguousError(
            field, given, "has a % behind ± that can be of the reading or of the whole",
            choices={
                f"{given} of reading": "of the reading",
                f"{_first_number(given)} ± {rest[found.end() :].strip()}": "of the whole, as the value is",
            },
        )  # fmt: skip
    if behind == "%" and not shares:
        return before, half.value, "% of reading"
    return (before, half.value, behind) if before else (behind, half.value, "")


def _first_number(given: str) -> str:
    return PLUS_MINUS.split(given)[0].replace("%", "").strip()


def _width(half: float, half_unit: str, number: Number, typed: TypedUnit, unit_of: Callable[[str], TypedUnit]) -> float:
    if half_unit == "% of reading":
        return abs(typed.size(abs(number.value or 0.0) * half / 100))
    return abs((unit_of(half_unit) if half_unit else typed).size(half))


_SECOND = re.compile(r"^(?P<first>[A-Za-z'\"°]+)\s*(?P<second>\d.*)$")


def _second_part(rest: str, about: Quantity, decimal: DecimalSign | None) -> tuple[float, str]:
    """Return the smaller part of ``5 ft 3 in`` or ``1 h 12 min`` in SI, and the text without it."""
    found = _SECOND.match(rest.strip())
    if not found or about.dimension not in ("length", "time", "mass") or about.unit.symbol not in ("m", "s", "kg"):
        return 0.0, rest
    second = parse_amount(found["second"], quantity=about.name, decimal=decimal)
    return second.value or 0.0, found["first"]


def _refuse_impossible(value: float, typed: TypedUnit, about: Quantity, given: str, field: str) -> None:
    if not abs(value) <= LARGEST:
        raise InputError(field, given, "is beyond any number that can be", try_next="Look at its power of ten.")
    if about.dimension == "temperature" and value < 0:
        raise InputError(
            field, given, "is below absolute zero", allowed="above -273.15 °C, -459.67 °F, 0 K",
            try_next="Look at its sign and unit.",
        )  # fmt: skip
    if about.pressure == "absolute" and (value < 0 if not typed.gauge else value < _LOWEST_GAUGE):
        what = "lies below the vacuum" if typed.gauge else "is an absolute pressure below zero"
        raise InputError(
            field, given, what, allowed="0 and above, absolute; about -100 kPa and above, gauge",
            try_next="Look whether the instrument reads gauge or absolute.",
        )  # fmt: skip
    if about.si_unit == "mol/mol" and about.dimension == "ratio" and "%" in about.units and not about.difference:
        if value > 1:
            raise InputError(
                field, given, "is more than all of it", allowed="0 to 100 %", try_next="Look at its unit: % or ppm."
            )
        if value < _LOWEST_SHARE:
            raise InputError(
                field, given, "is less than nothing of it, by more than a zero drifts", allowed="0 to 100 %",
                try_next="Look at its sign; zero the instrument if it shows this.",
            )  # fmt: skip
