"""The components that ISO 6976:2016 knows: molar mass, atoms, summation factor, heat of combustion.

Arrays over components have the order of the standard (methane first, n-pentadecane last). Values are SI: kg/mol, J/mol.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType

import numpy as np
import numpy.typing as npt

from asfound.errors import UnknownNameError
from asfound.quantities.typing import Array
from asfound.sources.tables import load_csv

ELEMENTS = ("C", "H", "N", "O", "S", "He", "Ne", "Ar")

# Standard uncertainty of the atomic masses, kg/mol: ISO 6976:2016 annex A (atomic masses of IUPAC 2007).
U_ATOMIC_MASS = dict(zip(ELEMENTS, (0.4e-6, 0.035e-6, 0.1e-6, 0.15e-6, 2.5e-6, 0.001e-6, 0.3e-6, 0.5e-6), strict=True))

COMBUSTION_COLUMNS = ("0", "15", "60F", "20", "25")
"""Columns of the heat of combustion, by temperature: degrees Celsius, and 60 °F."""
METERING_COLUMNS = ("0", "15", "60F", "20")
"""Columns of the summation factor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """One component of the standard."""

    number: int
    """Its place in the standard, from 1."""
    name: str
    formula: str
    cas: str
    atoms: Mapping[str, int]
    """Atoms in a molecule, by element; only those that are there."""
    molar_mass: float
    """[kg/mol]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """All components as arrays, m = 60 of them."""

    names: tuple[str, ...]
    components: tuple[Component, ...]
    place: Mapping[str, int]
    """From the name to its place in the arrays, from 0."""
    molar_mass: Array
    """(m,) [kg/mol]"""
    atoms: Array
    """(m, 8), columns in the order of `ELEMENTS`. [1]"""
    summation: Array
    """(m, 4) s_j at 101.325 kPa, columns in the order of `METERING_COLUMNS`. [1]"""
    u_summation: Array
    """(m,) standard uncertainty, at any temperature. [1]"""
    gross: Array
    """(m, 5) ideal gross heat of combustion, columns in the order of `COMBUSTION_COLUMNS`. [J/mol]"""
    u_gross: Array
    """(m,) standard uncertainty, at any temperature. [J/mol]"""


@cache
def table() -> Table:
    """Return the table of the standard, read once."""
    rows = load_csv("asfound.fuel", "data/iso6976_2016.csv")

    def columns(*names: str) -> Array:
        return np.array([[float(row[name]) for name in names] for row in rows])

    atoms = columns(*ELEMENTS)
    molar_mass = columns("M")[:, 0] * 1e-3
    found = tuple(
        Component(
            number=int(row["number"]),
            name=row["component"],
            formula=row["formula"],
            cas=row["cas"],
            atoms=MappingProxyType({e: int(row[e]) for e in ELEMENTS if row[e] != "0"}),
            molar_mass=float(mass),
        )
        for row, mass in zip(rows, molar_mass, strict=True)
    )
    names = tuple(one.name for one in found)
    made = Table(
        names=names,
        components=found,
        place=MappingProxyType({name: at for at, name in enumerate(names)}),
        molar_mass=molar_mass,
        atoms=atoms,
        summation=columns(*(f"s_{at}" for at in METERING_COLUMNS)),
        u_summation=columns("u_s")[:, 0],
        gross=columns(*(f"H_{at}" for at in COMBUSTION_COLUMNS)) * 1e3,
        u_gross=columns("u_H")[:, 0] * 1e3,
    )
    for array in (made.molar_mass, made.atoms, made.summation, made.u_summation, made.gross, made.u_gross):
        array.setflags(write=False)  # one table for the whole program
    return made


def component(name: str) -> Component:
    """Return the component of that name (`names.component_named` for what a laboratory wrote).

    Raises
    ------
    UnknownNameError
        The standard has no component of that name.

    Examples
    --------
    >>> component("propane").formula
    'C3H8'
    """
    return table().components[int(places((name,))[0])]


def places(names: Sequence[str] | None) -> npt.NDArray[np.intp]:
    """Return where components stand in the arrays of the table; all of them for None.

    Raises
    ------
    UnknownNameError
        The standard has no component of that name.
    """
    known = table().place
    if names is None:
        return np.arange(len(known))
    for name in names:
        if name not in known:
            raise UnknownNameError("gas component", name, known)
    return np.array([known[name] for name in names], dtype=np.intp)
