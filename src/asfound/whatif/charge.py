"""What is in the cylinder when the intake valve closes: fuel gas, moist air, what stayed of the last cycle."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array, Values
from asfound.whatif.gases import ATOMIC_MASS, ELEMENTS, Fresh, R, fresh, species, weighed

AIR = {"N2": 0.780848, "O2": 0.209390, "Ar": 0.009332, "CO2": 0.000400}
"""Dry air, CIPM-2007 with 400 ppm carbon dioxide, neon and the rest with argon. [mol/mol]"""
FUELS = {
    "nitrogen": "N2", "carbon dioxide": "CO2", "carbon monoxide": "CO", "oxygen": "O2", "hydrogen": "H2",
    "water": "H2O", "argon": "Ar",
}  # fmt: skip
"""Names of `fuel` that stand here as formulas."""
OXYGEN_TAKEN = np.array([1.0, 0.25, -0.5, 0.0, 0.0, 1.0])
"""By an atom of each element that burns. [mol/mol]"""
STANDS_FOR = {
    "neopentane": "isopentane", "2-methylpentane": "n-hexane", "3-methylpentane": "n-hexane", "n-octane": "n-heptane",
    "benzene": "n-heptane",
}  # fmt: skip
"""Rare parts of a fuel gas and the gas of the table that is nearest to them by heat a mole of carbon."""


@dataclass(frozen=True, slots=True)
class Charge:
    """Everything in the cylinder per kilogram, for each case."""

    fresh: Fresh
    """All of it, frozen."""
    inflow: Fresh
    """What the intake brings: air and fuel gas."""
    rest: Fresh
    """The burned gas that stayed."""
    elements: Array
    """Shape (6, cases). [mol/kg]"""
    fuel: Array
    """Mass of fuel gas. [kg/kg]"""
    heating_value: Array
    """Net, of the fuel gas, at 298.15 K, from the enthalpies of the table. [J/kg]"""
    air: Array
    """Mass of dry air. [kg/kg]"""
    residual: Array
    """Mass of burned gas that stayed. [kg/kg]"""
    oxygen: Array
    """Free oxygen. [mol/kg]"""
    water: Array
    """Of humid air and of what stayed. [mol/kg]"""
    methane: Array
    """[mol/kg]"""
    natural: Array
    """Methane in all that burns of the fuel gas. [mol/mol]"""
    heavier: Array
    """Hydrocarbons of two and more carbon atoms. [mol/kg]"""


def charge(
    fuel: Mapping[str, Values],
    excess_air_ratio: Values,
    *,
    humidity: Values = 0.0,
    residual: Values = 0.0,
    air: Mapping[str, float] = AIR,
) -> Charge:
    """Return the charge of cases.

    Parameters
    ----------
    fuel : mapping of str to float or array
        Component of the fuel gas to mole fraction; names as of `fuel.components`. They are scaled to add up to 1.
    excess_air_ratio : float or array
        Lambda. Above 0.6: the equilibrium knows no soot.
    humidity : float or array
        Water in the air per dry air. [mol/mol]
    residual : float or array
        Mass fraction of burned gas of the same mixture. [kg/kg]
    air : mapping of str to float
        Dry air. [mol/mol]

    Raises
    ------
    InputError
        A component is not known here, nothing burns, or lambda or residual cannot be.
    """
    names = {_known(name): value for name, value in fuel.items()}
    parts = np.broadcast_arrays(
        *(
            np.atleast_1d(np.asarray(one, dtype=float))
            for one in (*names.values(), excess_air_ratio, humidity, residual)
        )
    )
    *amounts, ratio, water, rest = parts
    if np.any(~(ratio > 0.6)):
        raise InputError("excess_air_ratio", f"{np.nanmin(ratio):g}", "is too rich", allowed="above 0.6")
    if np.any(~((rest >= 0.0) & (rest < 0.5))):
        raise InputError("residual", f"{np.nanmax(rest):g}", "is no residual", allowed="0 to 0.5")
    x = np.stack(amounts)
    x = x / x.sum(axis=0)
    about = _components(tuple(names))
    demand = weighed(about.oxygen, x)  # oxygen a mole of fuel
    if np.any(~(demand > 0.0)):
        raise InputError("fuel", "a gas without anything that burns", "cannot run the engine")
    dry = ratio * demand / air["O2"]
    moles: dict[str, Array] = dict(zip(names, x, strict=True))
    for name, share in {**air, "H2O": 0.0}.items():
        moles[name] = moles.get(name, 0.0) + dry * (water if name == "H2O" else share)
    masses, atoms = _masses_and_atoms(tuple(moles))
    mass = sum(one * each for one, each in zip(moles.values(), masses, strict=True))
    atoms_in = [np.multiply.outer(each, one) for one, each in zip(moles.values(), atoms, strict=True)]
    elements: Array = np.sum(atoms_in, axis=0) / mass
    inflow = {name: moles[name] / mass for name in moles}
    burned = _burned(elements)
    kilogram = {
        name: (1.0 - rest) * inflow.get(name, 0.0) + rest * burned.get(name, 0.0) for name in {**inflow, **burned}
    }
    fuel_mass = sum(part * each for part, each in zip(x, masses, strict=False))
    air_mass = dry * sum(share * species()[name].molar_mass for name, share in air.items())
    return Charge(
        fresh=_gas(kilogram, ratio.shape),
        inflow=_gas(inflow, ratio.shape),
        rest=_gas(burned, ratio.shape),
        elements=np.ascontiguousarray(elements),
        fuel=fuel_mass / mass * (1.0 - rest),
        heating_value=weighed(about.heat, x) / fuel_mass,
        air=air_mass / mass * (1.0 - rest),
        residual=rest,
        oxygen=kilogram["O2"] + 0.0 * ratio,
        water=kilogram["H2O"] + 0.0 * ratio,
        methane=kilogram.get("methane", 0.0) + 0.0 * ratio,
        natural=weighed(about.methane, x) / weighed(about.burns, x),
        heavier=sum((kilogram[name] for name in names if _heavier(name)), np.zeros_like(ratio)),
    )


def air_by_mixer(fuel: Mapping[str, float]) -> float:
    """Return what a gas asks of air for what of it goes through an unchanged opening, to compare gases by. [mol/kg^0.5]

    Oxygen that a mole needs over the root of its molar mass: at one pressure difference the flow through an opening
    goes with the root of the density. Lambda with mixer and pressure left alone goes with its inverse, as it goes with
    that of the Wobbe index.
    """
    names = tuple(_known(one) for one in fuel)
    x = np.array([float(one) for one in fuel.values()])
    masses, _ = _masses_and_atoms(names)
    return float(x @ _components(names).oxygen / x.sum() / np.sqrt(x @ np.array(masses) / x.sum()))


@dataclass(frozen=True, slots=True)
class _Components:
    """What the components of a fuel gas are, a number each."""

    oxygen: Array
    """Taken in burning. [mol/mol]"""
    heat: Array
    """Net heating value at 298.15 K. [J/mol]"""
    burns: Array
    """1 for what burns, else 0."""
    methane: Array
    """1 for methane, else 0."""


@lru_cache(maxsize=64)
def _components(names: tuple[str, ...]) -> _Components:
    """Return what the components of a fuel gas are."""
    oxygen = np.stack([species()[name].atoms for name in names]) @ OXYGEN_TAKEN
    return _Components(
        oxygen, _heating_values(names), (oxygen > 0.0).astype(float),
        np.array([float(name == "methane") for name in names]),
    )  # fmt: skip


@lru_cache(maxsize=64)
def _masses_and_atoms(names: tuple[str, ...]) -> tuple[tuple[float, ...], tuple[Array, ...]]:
    """Return molar mass [kg/mol] and atoms of gases of the table."""
    known = [species()[name] for name in names]
    return tuple(one.molar_mass for one in known), tuple(one.atoms for one in known)


@lru_cache(maxsize=256)
def _heavier(name: str) -> bool:
    """Tell whether a gas of the table is a hydrocarbon of two or more carbon atoms."""
    carbon, hydrogen = species()[name].atoms[:2]
    return bool(carbon >= 2 and hydrogen > 0)


def _known(name: str) -> str:
    """Return the gas of the table for a component of a fuel gas."""
    found = FUELS.get(name, STANDS_FOR.get(name, name))
    if found not in species():
        raise InputError(
            "fuel", name, "is not in the table of gases", allowed=", ".join(sorted({*species(), *FUELS})),
            try_next="Count it with its nearest neighbour of the same carbon number.",
        )  # fmt: skip
    return found


def _gas(amounts: Mapping[str, Array], shape: tuple[int, ...]) -> Fresh:
    """Return a gas of frozen composition from amounts in mol/kg."""
    stacked = np.empty((len(amounts), *shape))
    for row, one in enumerate(amounts.values()):
        stacked[row] = one
    return fresh(tuple(amounts), stacked)


def _burned(elements: Array) -> dict[str, Array]:
    """Return what complete burning leaves of the elements. [mol/kg]

    Rich residual gas keeps what is short of oxygen as carbon monoxide and hydrogen, by the water-gas balance of 3.5.
    """
    carbon, hydrogen, oxygen, nitrogen, argon, sulfur = elements
    need = 2 * carbon + hydrogen / 2 + 2 * sulfur
    lack = np.maximum(need - oxygen, 0.0)
    # CO and H2 in about equal parts of what is short, as far as carbon and hydrogen go
    monoxide = np.minimum(lack * carbon / np.maximum(carbon + hydrogen / 2, 1e-30), carbon)
    free = lack - monoxide
    return {
        "CO2": carbon - monoxide, "CO": monoxide, "H2O": hydrogen / 2 - free, "H2": free, "N2": nitrogen / 2,
        "O2": np.maximum(oxygen - need, 0.0) / 2, "Ar": argon, "SO2": sulfur,
    }  # fmt: skip


def _heating_values(names: tuple[str, ...]) -> Array:
    """Return the net heating value of each component at 298.15 K. [J/mol]"""
    at = np.full(1, 298.15)
    formed = {name: R * float(species()[name].evaluate(at)[1][0]) for name in ("CO2", "H2O", "SO2", *names)}
    each = []
    for name in names:
        atoms = dict(zip(ELEMENTS, species()[name].atoms, strict=True))
        each.append(
            formed[name] - atoms["carbon"] * formed["CO2"] - atoms["hydrogen"] / 2 * formed["H2O"]
            - atoms["sulfur"] * formed["SO2"]
        )  # fmt: skip
    return np.array(each)


def molar_mass_of(elements: Array) -> Array:
    """Return the mass of elements. [kg/kg], 1 where nothing is missing (helium is no element here)."""
    return weighed(ATOMIC_MASS, elements)
