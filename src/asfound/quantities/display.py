"""How a number is shown: in whose units, with how many figures, with which signs.

``0.95 g/hp-h`` and then ``0.89 to 1.01``: never plus-minus for a result. Decimals follow the interval, two figures in
its half-width; the ends are rounded outward, so that the interval shown covers no less. Minus is U+2212, thousands
1,437.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING

from asfound.quantities.pressure_kind import split_pressure, with_kind
from asfound.quantities.register import quantity as registered
from asfound.quantities.rounding import decimal, half_even, outward, significant, two_digits
from asfound.quantities.units import unit as find_unit

if TYPE_CHECKING:
    from asfound.quantities.register import Quantity, System

NO_ANSWER = "no answer"
MINUS = "\N{MINUS SIGN}"
_MOST_DECIMALS = 12


@dataclass(frozen=True, slots=True)
class Shown:
    """A number as text: value and unit, and the ends of its interval, empty where there is none."""

    value: str
    unit: str
    low: str = ""
    high: str = ""

    @property
    def interval(self) -> str:
        """``0.89 to 1.01``, or empty."""
        return interval_text(self.value, self.low, self.high) if self.low else ""

    def __str__(self) -> str:
        return f"{self.value} {self.unit}".strip() + (f", {self.interval}" if self.low else "")


def show(
    value: float,
    quantity: str,
    *,
    system: System = "si",
    unit: str | None = None,
    interval: tuple[float, float] | None = None,
    gauge: bool = False,
) -> Shown:
    """Return a value as people of a unit system read it.

    Parameters
    ----------
    value : float
        In the SI unit of the quantity.
    quantity : str
        Its name in the register.
    system : {'si', 'us'}
        Whose display unit is taken.
    unit : str, optional
        Another unit instead (a person's own choice for this quantity).
    interval : (float, float), optional
        Its ends, in SI; decimals follow them.
    gauge : bool
        The value is a gauge pressure: the unit says so.

    Raises
    ------
    UnknownNameError
        No such quantity or unit.

    Examples
    --------
    >>> show(2.642e-10, "nox_mass_per_energy", system="us", interval=(2.48e-10, 2.81e-10))
    Shown(value='0.709', unit='g/hp-h', low='0.665', high='0.755')
    >>> str(show(101_325.0, "barometric_pressure"))
    '101.3 kPa'
    """
    about = registered(quantity)
    symbol = unit or about.display(system)
    words = unit_words(about, symbol, gauge=gauge)
    here = about.to_unit(value, symbol)
    if interval is None or not all(map(math.isfinite, interval)) or not math.isfinite(here):
        return Shown(number_text(here, about.digits, about.decimals), words)
    ends = sorted(about.to_unit(end, symbol) for end in interval)
    texts = with_interval(here, ends[0], ends[1])
    return Shown(texts[0], words, texts[1], texts[2])


def unit_words(quantity: str | Quantity, symbol: str, *, gauge: bool = False) -> str:
    """Return a unit as it stands beside a value: printed signs, and gauge or absolute where both are possible."""
    about = registered(quantity) if isinstance(quantity, str) else quantity
    if about.gauge_possible:
        return with_kind(find_unit(split_pressure(symbol)[0]).text, gauge=gauge)
    text = find_unit(split_pressure(symbol)[0] if about.pressure else symbol).text
    return "" if text == "1" else text


@lru_cache(maxsize=16_384)
def with_interval(value: float, low: float, high: float) -> tuple[str, str, str]:
    """Return value, low and high as texts with two figures in the half-width of the interval (JCGM 100:2008 7.2.6).

    >>> with_interval(0.9512, 0.8931, 1.0123)
    ('0.951', '0.893', '1.013')
    >>> with_interval(12345.0, 12101.0, 12592.0)
    ('12,340', '12,100', '12,600')
    """
    half = (high - low) / 2
    if not half > 0:
        text = number_text(value, 6)
        return text, text, text
    _, place = two_digits(half)
    step = Decimal(1).scaleb(max(place, -_MOST_DECIMALS))
    ends = outward(low, high, step)
    return grouped(half_even(value, step)), grouped(ends[0]), grouped(ends[1])


@lru_cache(maxsize=16_384)
def number_text(value: float, digits: int, decimals: int | None = None) -> str:
    """Return a number with so many significant figures, and no more decimals than asked; whole figures all stay.

    >>> number_text(1437.3, 3), number_text(-0.04567, 2), number_text(float("nan"), 3)
    ('1,437', '−0.046', 'no answer')
    """
    if not math.isfinite(value):
        return NO_ANSWER
    exact = decimal(value)
    if exact and (exact.adjusted() < -_MOST_DECIMALS or exact.adjusted() > _MOST_DECIMALS):
        return f"{value:.{digits - 1}e}".replace("-", MINUS)
    rounded = significant(exact, digits)
    if decimals is not None and -int(rounded.as_tuple().exponent) > decimals:
        rounded = half_even(exact, Decimal(1).scaleb(-decimals))
    return grouped(rounded)


def grouped(number: Decimal) -> str:
    """Return a decimal number with thousands in commas and a true minus sign.

    >>> grouped(Decimal("-1437.50"))
    '−1,437.50'
    """
    return f"{number:,f}".replace("-", MINUS)


def interval_text(value: str, low: str, high: str) -> str:
    """Return the words for an interval: ``0.89 to 1.01``, or only the value where both ends are it."""
    return value if low == high == value else f"{low} to {high}"


def chance(p: float) -> str:
    """Return a probability in words.

    >>> chance(0.062), chance(0.0004), chance(0.9997), chance(0.004)
    ('6 in 100', 'fewer than 1 in 1,000', 'more than 999 in 1,000', '4 in 1,000')
    """
    if not 0 <= p <= 1:
        return NO_ANSWER
    if p < 0.001:
        return "fewer than 1 in 1,000"
    if p > 0.999:
        return "more than 999 in 1,000"
    if 0.01 <= p <= 0.99:
        return f"{half_even(100 * p, 1)} in 100"
    return f"{half_even(1000 * p, 1)} in 1,000"
