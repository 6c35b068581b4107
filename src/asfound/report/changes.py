"""How much a number moved: an amount of difference with its interval and its probability, in words."""

from __future__ import annotations

from dataclasses import dataclass
from math import floor, log10
from typing import TYPE_CHECKING

from asfound.quantities.display import MINUS, chance, unit_words
from asfound.quantities.register import quantity
from asfound.report.wording import in_units

if TYPE_CHECKING:
    from asfound.report.wording import System


@dataclass(frozen=True, slots=True)
class Change:
    """An amount of difference in the reader's unit."""

    value: str
    """Signed: ``+0.40``."""
    low: str
    high: str
    unit: str
    direction: str
    """``up``, ``down``, or empty: no sure change."""
    chance: str
    """That it went the way it seems to have, in words."""

    @property
    def interval(self) -> str:
        """``+0.30 to +0.49``."""
        return f"{self.low} to {self.high}"

    @property
    def same(self) -> bool:
        """Whether both are the same number, without doubt stated."""
        return not any(figure in "123456789" for figure in self.value + self.low + self.high)

    @property
    def sure(self) -> bool:
        """Whether nought lies outside the interval."""
        return bool(self.direction)

    @property
    def whole(self) -> str:
        """Value with unit and interval."""
        return f"{self.value} {self.unit}".strip() + f" ({self.interval})"


def change(value: float, interval: tuple[float, float], probability_lower: float, name: str, system: System) -> Change:
    """Return a difference in words.

    Parameters
    ----------
    value : float
        One number minus another. [SI of the quantity]
    interval : (float, float)
        Its 95 % interval. [SI]
    probability_lower : float
        That it is below nought.
    name : str
        Quantity: an amount of its difference has a factor only, never the offset of a temperature scale.
    system : {'si', 'us'}
    """
    nought = in_units(0.0, name, system)
    moved = in_units(value, name, system) - nought
    low, high = sorted(in_units(end, name, system) - nought for end in interval)
    places = decimals((high - low) / 2 or abs(moved))
    about = quantity(name)
    symbol = unit_words(about, about.display(system))
    direction = "up" if low > 0 else "down" if high < 0 else ""
    likely = probability_lower if value < 0 else 1.0 - probability_lower
    return Change(
        value=signed(moved, places),
        low=signed(low, places),
        high=signed(high, places),
        unit=_difference_unit(symbol),
        direction=direction,
        chance=chance(likely) if probability_lower == probability_lower else "",
    )


def decimals(half_width: float) -> int:
    """Return the decimals at which an interval of this half-width has two figures."""
    return min(max(1 - floor(log10(half_width)), 0), 6) if half_width > 0 else 3


def signed(value: float, places: int) -> str:
    """Return a number that always carries its sign.

    >>> signed(0.4, 2), signed(-1250.0, 0), signed(0.0, 1)
    ('+0.40', '\u22121,250', '0.0')
    """
    text = f"{abs(value):,.{places}f}"
    if not any(figure in "123456789" for figure in text):
        return text
    return f"{MINUS}{text}" if value < 0 else f"+{text}"


def _difference_unit(symbol: str) -> str:
    """Leave out of a unit what belongs to a state and not to an amount of difference: a gauge is no difference."""
    return symbol.removesuffix(" abs").removesuffix(" gauge")
