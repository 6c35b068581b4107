"""What a gas has of the quantities that limits of gas quality are set for, in the units and states of the limits."""

from __future__ import annotations

from collections.abc import Iterable

from asfound.fuel.composition import Composition
from asfound.fuel.contaminants import MOLAR_MASS_SULFUR, mass_of
from asfound.fuel.gas_summary import Property, summary
from asfound.fuel.iso6976 import Reference
from asfound.fuel.limits import quality_limits
from asfound.fuel.report_traces import Trace
from asfound.quantities.constants import NORMAL_TEMPERATURE

_FRACTIONS = {
    "methane": ("methane",), "ethane": ("ethane",), "propane": ("propane",), "butane": ("n-butane", "isobutane"),
    "pentane": ("n-pentane", "isopentane", "neopentane"), "oxygen": ("oxygen",), "nitrogen": ("nitrogen",),
    "carbon_dioxide": ("carbon dioxide",), "carbon_dioxide_and_nitrogen": ("carbon dioxide", "nitrogen"),
}  # fmt: skip
_LIGHT = {
    *(name for names in _FRACTIONS.values() for name in names), "hydrogen", "carbon monoxide", "hydrogen sulfide",
    "water", "helium", "neon", "argon",
}  # fmt: skip
_KILOWATT_HOUR = 3.6


def values_for(gas: Composition, traces: Iterable[Trace], document: str) -> dict[str, tuple[float, float]]:
    """Return value and standard uncertainty of what a gas has of the quantities of a document.

    Masses per volume count at 15 °C where the document's limit says so, else at 0 °C; heating values at the pair of
    temperatures that its limit names, else burned at 25 °C and counted at 0 °C.

    Parameters
    ----------
    gas : Composition
        It must add up to 1.
    traces : iterable of Trace
        What it carries by mass.
    document : str
        One of `limits.documents`.
    """
    rows = [one for one in quality_limits() if one.document == document]
    conditions = " ".join(one.condition for one in rows)
    states = {}
    for name in ("wobbe_index", "gross_heating_value", "relative_density"):
        states[name] = _state(next((one.condition for one in rows if one.quantity == name), ""))
    found: dict[str, tuple[float, float]] = {}
    by_name, u = gas.by_name, dict(zip(gas.components, gas.standard_uncertainties.tolist(), strict=True))
    for name, parts in _FRACTIONS.items():
        found[name] = _sum(by_name, u, parts)
    heavier = tuple(name for name in gas.components if name not in _LIGHT)
    found["hexanes_plus"] = _sum(by_name, u, heavier)
    found["pentane_and_heavier"] = _sum(by_name, u, (*_FRACTIONS["pentane"], *heavier))
    for name, of in (("wobbe_index", "wobbe_gross"), ("gross_heating_value", "volume_gross")):
        one = _named(summary(gas, states[name]), of)
        found[name] = (one.value / _KILOWATT_HOUR, one.standard_uncertainty / _KILOWATT_HOUR)
    density = _named(summary(gas, states["relative_density"]), "relative_density")
    found["relative_density"] = (density.value, density.standard_uncertainty)
    number = _named(summary(gas, states["relative_density"]), "methane_number")
    found["methane_number"] = (number.value, number.standard_uncertainty)
    to_volume = NORMAL_TEMPERATURE / 288.15 if "15 °C" in conditions else 1.0
    sulfides = _sum(by_name, u, ("hydrogen sulfide", "carbonyl sulfide"))
    if any(name in by_name for name in ("hydrogen sulfide", "carbonyl sulfide")):
        share, doubt = (1e6 * float(mass_of(one, MOLAR_MASS_SULFUR)) * to_volume for one in sulfides)
        found["hydrogen_sulfide_and_carbonyl_sulfide"] = (share, doubt)
    for trace in traces:
        of_trace = {"fuel_sulfur": "total_sulfur", "fuel_siloxanes": "siloxanes"}.get(trace.quantity)
        if of_trace and not trace.below:
            found[of_trace] = (1e6 * trace.value * to_volume, 0.0)
    known = {one.quantity for one in quality_limits()}
    return {name: value for name, value in found.items() if name in known and value[0] == value[0]}


def _sum(shares: dict[str, float], u: dict[str, float], names: tuple[str, ...]) -> tuple[float, float]:
    """Return the sum of shares and its standard uncertainty."""
    return sum(shares.get(one, 0.0) for one in names), sum(u.get(one, 0.0) ** 2 for one in names) ** 0.5


def _state(condition: str) -> Reference:
    """Return the state that the condition of a limit names."""
    if "burned and metered at 0 °C" in condition:
        return Reference.named("0/0")
    return Reference.named("15/15" if "15 °C and 15 °C" in condition else "25/0")


def _named(found: tuple[Property, ...], name: str) -> Property:
    return next(one for one in found if one.name == name)
