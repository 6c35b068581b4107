"""What a gas is, in a dozen numbers; two gases beside each other; a mixture along its share."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.fuel import methane_number as knock
from asfound.fuel.blend import mixtures, share_within
from asfound.fuel.components import COMBUSTION_COLUMNS, component, table
from asfound.fuel.composition import Composition
from asfound.fuel.gpa2172 import BTU, CUBIC_FOOT
from asfound.fuel.iso6976 import DEFAULT_REFERENCE, Reference
from asfound.fuel.stoichiometry import f_factor_method_19, stoichiometry
from asfound.quantities.display import number_text
from asfound.quantities.typing import Array

DRAWS = 200
"""For the doubt of the methane number, which has no formula. The method itself is no better than 1."""
_OF_KNOCK = {
    "n-butane": "n_butane", "n-pentane": "n_pentane", "ethene": "ethylene", "ethyne": "ethylene",
    "propene": "propylene", "propadiene": "propylene", "1-butene": "butylene", "cis-2-butene": "butylene",
    "trans-2-butene": "butylene", "2-methylpropene": "butylene", "1,2-butadiene": "butadiene",
    "1,3-butadiene": "butadiene", "1-pentene": "n_pentane", "cyclopentane": "n_pentane", "neon": "helium",
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Property:
    """One number about a gas."""

    name: str
    title: str
    value: float
    """In ``unit``."""
    standard_uncertainty: float
    unit: str
    source: str
    """Key in the register of sources."""
    digits: int = 5

    @property
    def text(self) -> str:
        """The number as it is shown, with its doubt (k = 2) where that is known."""
        said = number_text(self.value, self.digits)
        if self.standard_uncertainty > 0:
            said += f" \u00b1 {number_text(2 * self.standard_uncertainty, 2)}"
        return f"{said} {self.unit}".strip()


def summary(gas: Composition, reference: Reference = DEFAULT_REFERENCE) -> tuple[Property, ...]:
    """Return what a gas is.

    Parameters
    ----------
    gas : Composition
        It must add up to 1 within 0.01 %; `Composition.normalised` makes it so.
    reference : Reference
        At which heat is counted, and volume.

    Raises
    ------
    InputError
        The fractions do not add up to 1.
    """
    found, u = gas.properties(reference), gas.uncertainty(reference)
    us = reference.metering > 288.5 and reference.metering < 289.0
    per, unit = (BTU / CUBIC_FOOT, "Btu/ft³") if us else (1e6, "MJ/m³")
    number, number_u = _methane_number(gas)
    x, names = gas.fractions, gas.components
    heat = float(x @ table().gross[[table().place[one] for one in names], COMBUSTION_COLUMNS.index("60F")])
    f_factor = float(f_factor_method_19(x, heat, names)) / CUBIC_FOOT * BTU * 1e6
    return (
        *(
            Property(name=name, title=title, value=float(getattr(found, name)) / per, unit=unit,
                     standard_uncertainty=float(getattr(u, name)) / per, source="iso_6976")
            for name, title in (
                ("volume_gross", "heating value, gross"),
                ("volume_net", "heating value, net"),
                ("wobbe_gross", "Wobbe index"),
                ("wobbe_net", "Wobbe index, net"),
            )
        ),
        Property(name="relative_density", title="relative density", value=float(found.relative_density), unit="",
                 standard_uncertainty=float(u.relative_density), source="iso_6976"),
        Property(name="density", title="density", value=float(found.density), unit="kg/m³",
                 standard_uncertainty=float(u.density), source="iso_6976"),
        Property(name="molar_mass", title="molar mass", value=1e3 * float(found.molar_mass), unit="g/mol",
                 standard_uncertainty=1e3 * float(u.molar_mass), source="iso_6976"),
        Property(name="methane_number", title="methane number", value=number, unit="", digits=3,
                 standard_uncertainty=number_u, source="en_16726_public"),
        Property(name="air_demand", title="air needed", value=float(stoichiometry(x, names).dry_air), unit="mol/mol",
                 standard_uncertainty=0.0, source="cipm_2007", digits=4),
        Property(name="f_factor", title="F factor", value=f_factor, unit="dscf/MMBtu", standard_uncertainty=0.0,
                 source="epa_method_19", digits=4),
    )  # fmt: skip


def _methane_number(gas: Composition) -> tuple[float, float]:
    """Return the methane number, and its standard uncertainty as far as the analysis makes it."""
    known = [at for at, name in enumerate(gas.components) if _knocks_as(name)]
    matrix = _to_knock()[[table().place[gas.components[at]] for at in known]]
    value = float(knock.methane_number(gas.fractions[known] @ matrix))
    if not np.any(gas.covariance) or not np.isfinite(value):
        return value, 0.0
    drawn = knock.methane_number(gas.draws(DRAWS)[:, known] @ matrix)
    return value, float(np.nanstd(drawn))


def methane_number_of(x: Array, names: tuple[str, ...]) -> Array:
    """Return methane numbers from mole fractions over components of the standard. (..., m) to (...)"""
    known = [at for at, name in enumerate(names) if _knocks_as(name)]
    matrix = _to_knock()[[table().place[names[at]] for at in known]]
    return np.asarray(knock.methane_number(x[..., known] @ matrix))


@cache
def _to_knock() -> Array:
    """Return the matrix from the components of the standard to those of the methane number. (60, 22)"""
    matrix = np.zeros((len(table().names), len(knock.COMPONENTS)))
    for row, name in enumerate(table().names):
        to = _knocks_as(name)
        if to:
            matrix[row, knock.COMPONENTS.index(to)] = 1.0
    return matrix


def _knocks_as(name: str) -> str:
    """Return what a component is to the methane number; empty where the method has nothing for it."""
    plain = _OF_KNOCK.get(name, name.replace(" ", "_"))
    if plain in knock.COMPONENTS:
        return plain
    atoms = component(name).atoms
    return "hexanes_plus" if set(atoms) == {"C", "H"} and atoms["C"] >= 6 else ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One number of two gases."""

    before: Property
    after: Property

    @property
    def text(self) -> str:
        """By how much it changed: in per cent, a methane number in points."""
        if self.before.name == "methane_number":
            said = f"{self.after.value - self.before.value:+.1f}"
        else:
            said = f"{100 * (self.after.value / self.before.value - 1):+.2f} %"
        return said.replace("-", "\u2212")


def compared(before: Composition, after: Composition, reference: Reference = DEFAULT_REFERENCE) -> tuple[Change, ...]:
    """Return what becomes of each number when one gas takes the place of another; arguments as `summary`."""
    pairs = zip(summary(before, reference), summary(after, reference), strict=True)
    return tuple(Change(before=one, after=other) for one, other in pairs)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NewWell:
    """What a second source does to the gas of an engine, along its share."""

    shares: Array
    """(k,) of the second gas. [mol/mol]"""
    values: Mapping[str, Array]
    """(k,) each, SI: gross heating value, Wobbe index, methane number, air demand and others."""
    reference: Reference
    most: float | None
    """Share that may come before a limit is met; None where the first gas alone does not meet it. [mol/mol]"""

    def change(self, name: str) -> Array:
        """Return how a number changes against the first gas alone, as a share of it. (k,) [1]"""
        return np.asarray(self.values[name] / self.values[name][0] - 1)


ALSO: Mapping[str, Callable[[Array, tuple[str, ...]], Array]] = {"methane_number": methane_number_of}


def new_well(
    first: Composition,
    second: Composition,
    *,
    steps: int = 11,
    reference: Reference = DEFAULT_REFERENCE,
    least_methane_number: float | None = None,
    most_wobbe_change: float | None = None,
) -> NewWell:
    """Return what a second source does, and how much of it may come.

    Parameters
    ----------
    first, second : Composition
        The gas now and the gas to come; each must add up to 1.
    steps : int
        How many shares, from none to all of the second.
    least_methane_number : float, optional
        What the build needs; 2 above it is asked for, since nearer is undecided. [1]
    most_wobbe_change : float, optional
        How far the Wobbe index may move before the mixture has to be set anew. [1]
    """
    found = mixtures(first, second, np.linspace(0.0, 1.0, steps), reference=reference, also=ALSO)
    bounds = []
    if least_methane_number is not None:
        bounds.append(("methane_number", least_methane_number + knock.UNDECIDED, np.inf))
    if most_wobbe_change is not None:
        wobbe = float(found.values["wobbe_gross"][0])
        bounds.append(("wobbe_gross", wobbe * (1 - most_wobbe_change), wobbe * (1 + most_wobbe_change)))
    shares = [share_within(first, second, *bound, reference=reference, also=ALSO) for bound in bounds]
    known = [one for one in shares if one is not None]
    most = None if len(known) < len(shares) else min(known, default=1.0)
    return NewWell(shares=found.shares, values=found.values, reference=reference, most=most)
