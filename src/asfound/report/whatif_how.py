"""How the model is fitted and what an optimum must keep: what stands beside a question, typed by a person."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, get_args

from asfound.errors import InputError
from asfound.quantities.parse import parse_amount, parse_number
from asfound.quantities.register import quantity

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.report.wording import System
    from asfound.whatif.nitric_oxide import Rates

Fit = Literal["both", "alone", "all"]
FITS: dict[Fit, str] = {
    "both": "as found and as left together", "alone": "this state alone", "all": "both, and the visit before",
}  # fmt: skip
RATES: dict[Rates, str] = {
    "bowman_1975": "as Heywood 1988 prints them", "hanson_salimian_1984": "Hanson and Salimian 1984",
}  # fmt: skip
NAMES = ("fit", "rates", "most_exhaust", "most_peak", "most_knock", "axes")
"""What may stand beside a question in an address."""
LEAST_KNOCK, MOST_KNOCK = 0.2, 5.0


@dataclass(frozen=True, slots=True)
class How:
    """How the model is fitted."""

    fit: Fit = "both"
    rates: Rates = "bowman_1975"


@dataclass(frozen=True, slots=True, kw_only=True)
class Most:
    """What an optimum must keep besides the permit; None: no such limit. As read, SI."""

    exhaust: float | None = None
    """[K]"""
    peak: float | None = None
    """[Pa]"""
    knock: float | None = None
    """Nearness to knock over that as it runs. [1]"""

    @property
    def words(self) -> tuple[str, ...]:
        """What is limited, in words."""
        all_ = (("exhaust temperature", self.exhaust), ("peak pressure", self.peak), ("nearness to knock", self.knock))
        return tuple(name for name, value in all_ if value is not None)


def how_of(typed: Mapping[str, str]) -> How:
    """Return how the model shall be fitted.

    Raises
    ------
    InputError
        There is no such way.
    """
    fit, rates = typed.get("fit", "") or "both", typed.get("rates", "") or "bowman_1975"
    if fit not in FITS:
        raise InputError("fit", fit, "is no way to fit", allowed=", ".join(FITS))
    if rates not in RATES:
        raise InputError("rates", rates, "is no set of rates", allowed=", ".join(RATES))
    assert set(get_args(Fit)) == set(FITS)
    return How(fit, rates)


def most_of(typed: Mapping[str, str], system: System, decimal: Literal[".", ","] | None = None) -> Most:
    """Return what an optimum must keep.

    Raises
    ------
    InputError
        A value cannot be read.
    """
    return Most(
        exhaust=_amount(
            typed.get("most_exhaust", ""), "exhaust_median", "Exhaust temperature at most", system, decimal
        ),
        peak=_amount(typed.get("most_peak", ""), "peak_firing_pressure", "Peak pressure at most", system, decimal),
        knock=_share(typed.get("most_knock", ""), decimal),
    )


def _amount(text: str, name: str, title: str, system: System, decimal: Literal[".", ","] | None) -> float | None:
    if not text.strip():
        return None
    about = quantity(name)
    found = parse_amount(text, quantity=name, field=title, decimal=decimal, system=system,
                         default_unit=about.display(system))  # fmt: skip
    if found.value is None or found.censored:
        raise InputError(title, text, "is not one value")
    low, high = about.plausible
    if not low <= found.value <= high:
        ends = [about.to_unit(one, about.display(system)) for one in (low, high)]
        raise InputError(title, text, "cannot be a limit", allowed=f"{ends[0]:.0f} to {ends[1]:.0f}")
    return float(found.value)


def _share(text: str, decimal: Literal[".", ","] | None) -> float | None:
    if not text.strip():
        return None
    per_cent = text.strip().endswith("%")
    found = parse_number(text.strip().rstrip("%").strip(), decimal=decimal, field="Nearness to knock at most").value
    value = (float(found) if found is not None else float("nan")) / (100.0 if per_cent else 1.0)
    if not LEAST_KNOCK <= value <= MOST_KNOCK:
        raise InputError("Nearness to knock at most", text, "is no ratio to now",
                         allowed=f"{LEAST_KNOCK:g} to {MOST_KNOCK:g}, 1 as it runs")  # fmt: skip
    return value
