"""Values of the cross-check in the reader's unit: as the register has them, assumptions as the trade says them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from asfound.quantities.display import show
from asfound.quantities.pressure_kind import split_pressure
from asfound.quantities.register import quantity
from asfound.quantities.rounding import two_digits
from asfound.quantities.units import unit
from asfound.report.wording import COVERAGE, Said

if TYPE_CHECKING:
    from asfound.crosscheck.outcome import Checked
    from asfound.report.wording import System

STANDS_FOR = {"site_pressure_by_height": "barometric_pressure", "weather": ""}
"""Values that are shown like a quantity of the register which they are not."""
PLAIN: dict[tuple[str, str], tuple[float, str]] = {
    ("1", "si"): (100.0, "%"), ("1", "us"): (100.0, "%"), ("ratio", "si"): (1.0, ""), ("ratio", "us"): (1.0, ""),
    ("K", "si"): (1.0, "K"), ("K", "us"): (1.8, "°F"),
    ("Pa", "si"): (1e-3, "kPa"), ("Pa", "us"): (1 / 6894.757293168361, "psi"),
    ("W", "si"): (1e-3, "kW"), ("W", "us"): (1 / 745.69987158227022, "hp"),
    ("m/s", "si"): (1.0, "m/s"), ("m/s", "us"): (1 / 0.3048, "ft/s"),
}  # fmt: skip
"""Factor and unit of a value that is in no register: a share, a difference of temperatures."""


def said_of(one: Checked, value: float, u: float, system: System, ends: tuple[float, float] | None = None) -> Said:
    """Return a value with its 95 % interval; decimals follow the interval.

    Parameters
    ----------
    value, u : float
        SI, standard uncertainty.
    ends : (float, float), optional
        The interval where it is not symmetric: cut at what can be.
    """
    low, high = ends or (value - COVERAGE * u, value + COVERAGE * u)
    name = STANDS_FOR.get(one.name, one.quantity)
    if name:
        shown = show(value, name, system=system, interval=(low, high), gauge=one.gauge)
        return Said(
            shown.value, "" if shown.unit == "1" else shown.unit, f"{shown.low} to {shown.high}" if shown.low else ""
        )
    factor, symbol = PLAIN.get((one.unit, system), (1.0, "" if one.unit == "1" else one.unit))
    decimals = _decimals(factor * (high - low) / 2)
    text = [_text(factor * end, decimals) for end in (value, low, high)]
    return Said(text[0], symbol, f"{text[1]} to {text[2]}")


def difference(one: Checked, amount: float, system: System) -> str:
    """Return an amount of difference with its unit: a factor only, never the offset of a temperature scale."""
    factor, symbol = _unit_of(one, system)
    here = abs(factor * amount)
    return f"{_text(here, _decimals(here))} {symbol}".strip()


def _unit_of(one: Checked, system: System) -> tuple[float, str]:
    name = STANDS_FOR.get(one.name, one.quantity)
    if not name or one.unit == "K":
        return PLAIN.get((one.unit, system), (1.0, "" if one.unit == "1" else one.unit))
    found = unit(split_pressure(quantity(name).display(system))[0])
    words = found.text.partition(" (")[0]
    return 1 / found.factor, "vol-%" if words == "%" and one.unit == "mol/mol" else "" if words == "1" else words


def _decimals(half: float) -> int:
    """Return the decimals that give two figures of a half-width."""
    if not half > 0 or not math.isfinite(half):
        return 0
    _, place = two_digits(half)
    return max(0, -place)


def _text(value: float, decimals: int) -> str:
    return f"{value:,.{decimals}f}".replace("-", "\N{MINUS SIGN}")
