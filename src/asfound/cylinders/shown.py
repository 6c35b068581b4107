"""Numbers of the cylinders' findings in the units of the site."""

from __future__ import annotations

from asfound.quantities.display import show
from asfound.quantities.findings import Case


def in_units(case: Case, value: float, quantity: str, interval: tuple[float, float] | None = None) -> str:
    """Return a number with its unit, and its interval where there is one, as the people of this site read it."""
    us = case.visit.get("system") == "us"
    shown = show(value, quantity, system="us" if us else "si", interval=interval)
    return f"{shown.value} {shown.unit}".strip() + (f" ({shown.low} to {shown.high})" if shown.low else "")


def difference(case: Case, value: float, interval: tuple[float, float] | None = None, *, signed: bool = False) -> str:
    """Return a difference of temperatures in the site's units; ``+12 K`` where the sign is to stand."""
    text = in_units(case, value, "cylinder_exhaust_deviation", interval)
    return f"+{text}" if signed and value > 0 else text
