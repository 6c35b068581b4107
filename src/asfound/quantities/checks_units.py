"""Printed conversion factors, reference states, rounding and typed texts, each through this room's own functions.

The values stand in ``data/published_units.csv``, ``published_gas_states.csv``, ``published_rounding.csv`` and
``published_parsing.csv``. A printed number is met to half of its last digit; where the answer is a word (a text, asked,
refused, missing) value and published are 1 when it is the expected one.
"""

from __future__ import annotations

import math
from decimal import Decimal
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

from asfound.errors import AmbiguousError, InputError
from asfound.quantities import rounding
from asfound.quantities.gas_states import NORMAL, gas_state
from asfound.quantities.parse import Amount, Number, parse_amount, parse_number
from asfound.quantities.units import from_si, unit
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

Row = dict[str, str]
_SEEN = {"secondary": "seen at second hand", "memory": "from memory, unverified", "read": "", "none": ""}
_check = partial(Check, room="quantities")


def checks() -> Iterator[Check]:
    """Yield the checks of units, gas states, rounding and typed texts."""
    for name, of_row in (
        ("units", _unit), ("gas_states", _gas_state), ("rounding", _rounding), ("parsing", _parsing),
    ):  # fmt: skip
        for row in load_csv("asfound.quantities", f"data/published_{name}.csv"):
            yield from of_row(row)


def half_digit(printed: str) -> float:
    """Return half of the last digit of a printed number, and a hair for its binary form."""
    exponent = Decimal(printed).as_tuple().exponent
    assert isinstance(exponent, int)
    return 0.5 * 10.0**exponent * (1 + 1e-9)


def _unit(row: Row) -> Iterator[Check]:
    symbol = row["symbol"]
    found = unit(symbol)
    about = partial(_check, value=found.factor, source=row["source"], clause="B.8" if row["printed"] else "")
    if row["exact"]:
        exact = float(Fraction(row["exact"]))
        yield about(
            check=f"{symbol} to SI, by definition", published=exact, tolerance=2 * math.ulp(exact),
            source="unit_definition", clause=row["name"],
        )  # fmt: skip
    if row["printed"]:
        printed = row["printed"]
        yield about(
            check=f"{symbol} to SI, printed", published=float(printed), tolerance=half_digit(printed),
            note=_SEEN[row["seen"]],
        )  # fmt: skip


def _gas_state(row: Row) -> Iterator[Check]:
    state = gas_state(row["state"])
    foot = unit(f"scf ({row['state']})").factor
    cubic_foot = unit("ft3").factor
    values = {
        "molar_volume_L": 1000 * state.molar_volume,
        "normal_m3_per_ft3": foot,
        "m3_per_normal_m3": 1 / float(state.normal_per_here),
        "mol_per_ft3": cubic_foot / state.molar_volume,
    }
    for name, value in values.items():
        published = float(row[name])
        yield _check(
            check=f"gas at {row['state']}: {name}", value=value, published=published, tolerance=2e-8 * published,
            source=row["source"], note="ideal gas; printed to nine digits",
        )  # fmt: skip


def _word(check: str, held: bool, row: Row, note: str = "") -> Check:
    clause = row.get("clause", row.get("comment", ""))
    return _check(
        check=check, value=float(held), published=1.0, tolerance=0.0, source=row["source"], clause=clause,
        unit="1 = as expected", note=note,
    )  # fmt: skip


_NUMERIC: dict[str, Callable[[str, str], Decimal]] = {
    "uncertainty_two_digits_up": lambda given, _: rounding.rounded_uncertainty(given, up=True),
    "uncertainty_first_digit_carry": lambda given, _: rounding.rounded_uncertainty(given),
    "nearest": rounding.half_even,
    "half_even (rule A)": rounding.half_even,
    "half_up_in_magnitude (rule B)": rounding.half_up,
    "correlation_three_digits": lambda given, _: rounding.correlation(given),
}


def _rounding(row: Row) -> Iterator[Check]:
    rule, given, expected = row["rule"], row["input"], row["expected"]
    parameter = row["parameter"].partition("=")[2]
    name = f"round {given} {row['parameter']}".strip()
    if rule in _NUMERIC:
        found = _NUMERIC[rule](given, parameter)
        yield _check(
            check=name, value=float(found), published=float(expected), tolerance=0.0, source=row["source"],
            clause=row["clause"], note=rule,
        )  # fmt: skip
        return
    if rule == "interval_outward":
        first, last = given.strip("[]").split(", ")
        low, high = rounding.outward(first, last, parameter)
        text = f"[{low}, {high}]"
    else:
        text = (rounding.concise if rule == "concise_notation" else rounding.to_uncertainty)(given, parameter)
    yield _word(name, text == expected, row, note=f"{rule}: {text}, expected {expected}")


def _parsing(row: Row) -> Iterator[Check]:
    name = f"'{row['text']}'" + (f" typed for {row['quantity']}" if row["quantity"] else "")
    verdict, found = _typed(row["text"], row)
    yield _word(name, verdict == row["kind"], row, note=f"{verdict}, expected {row['kind']}")
    if verdict == "ambiguous" and isinstance(found, AmbiguousError):
        wanted = row["expected"].split(" | ")
        choices = [_typed(text, row)[1] for text in found.choices]
        for text, published in zip(choices, wanted * (len(choices) // len(wanted)), strict=True):
            yield _value(name, _in_unit(text, row), published, row)
    elif isinstance(found, Amount | Number) and found.value is not None:
        value, _, half = row["expected"].removeprefix("above ").replace(" u ", " +- ").partition(" +- ")
        yield _value(name, _in_unit(found, row), value, row)
        if half:
            width = found.plus_minus if found.plus_minus is not None else found.standard_uncertainty
            yield _value(f"{name}, width", _in_unit(found, row, math.nan if width is None else width), half, row)


def _typed(text: str, row: Row) -> tuple[str, Amount | Number | AmbiguousError | None]:
    decimal, reference = row["decimal"] or None, row["reference"] or None
    try:
        found: Amount | Number = (
            parse_amount(text, quantity=row["quantity"], decimal=decimal, reference=reference)  # type: ignore[arg-type]
            if row["quantity"]
            else parse_number(text, decimal=decimal)  # type: ignore[arg-type]
        )
    except AmbiguousError as several:
        return "ambiguous", several
    except InputError:
        return "error", None
    return "missing" if found.missing else "censored" if found.censored else "ok", found


def _in_unit(found: Amount | Number | AmbiguousError | None, row: Row, value: float | None = None) -> float:
    if not isinstance(found, Amount | Number):
        return math.nan
    si = found.value if value is None else value
    return math.nan if si is None else from_si(si, row["unit"], reference=NORMAL) if row["unit"] else si


def _value(name: str, value: float, published: str, row: Row) -> Check:
    """Return the check of a number; a converted one is printed by its source with an error of up to its last digit."""
    width = 2 * half_digit(published) if row["unit"] else 1e-12 * abs(float(published))
    return _check(
        check=f"{name}, value", value=value, published=float(published), tolerance=width, source=row["source"],
        clause=row["comment"], unit=row["unit"],
    )  # fmt: skip
