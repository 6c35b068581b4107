"""The edition of 1995, to check reports that were made by it. New work goes by `iso6976`.

It differs by its data (heats of combustion within 0.02 %, factors of Z of the heavier components by several per cent)
and knows 0, 15 and 20 °C for the volume, 0, 15, 20 and 25 °C for combustion, and 101.325 kPa alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError, UnknownNameError
from asfound.fuel import iso6976
from asfound.fuel.components import ELEMENTS, places, table
from asfound.fuel.iso6976 import DEFAULT_REFERENCE, REFERENCE_PRESSURE, Properties, Reference
from asfound.quantities.typing import Array
from asfound.sources.tables import load_csv

GAS_CONSTANT = 8.314510  # J/(mol K), of that edition
MOLAR_MASS_AIR = 28.9626e-3  # kg/mol
Z_AIR = {273.15: 0.99941, 288.15: 0.99958, 293.15: 0.99963}
WATER_HEAT = {273.15: 45_074.0, 288.15: 44_433.0, 293.15: 44_224.0, 298.15: 44_016.0}  # J/mol
_COLUMNS = {273.15: "0", 288.15: "15", 293.15: "20", 298.15: "25"}


@cache
def _rows() -> dict[str, dict[str, str]]:
    return {row["component"]: row for row in load_csv("asfound.fuel", "data/iso6976_1995.csv")}


def components() -> tuple[str, ...]:
    """Return the components that are here of that edition, 22 of its 55."""
    return tuple(_rows())


def properties(
    x: npt.ArrayLike, names: Sequence[str], reference: Reference = DEFAULT_REFERENCE, *, ideal: bool = False
) -> Properties:
    """Return the properties of gases by the edition of 1995; arguments and answers as `iso6976.properties`.

    Raises
    ------
    InputError
        A reference that the edition does not have.
    UnknownNameError
        A component that is not here of that edition.

    References
    ----------
    .. [1] ISO 6976:1995: Z = 1 - (sum x sqrt(b_j))^2, R = 8.314510 J/(mol K), air 28.9626 kg/kmol.

    Examples
    --------
    >>> print(f"{properties([1.0], ['methane'], Reference.named('25/0')).volume_gross / 1e6:.2f} MJ/m3")
    39.83 MJ/m3
    """
    burn, meter = _known(reference)
    columns = _basis(tuple(names), burn, meter)
    return iso6976.from_columns(
        np.asarray(x, dtype=float), columns, reference,
        ideal=ideal, r=GAS_CONSTANT, molar_mass_air=MOLAR_MASS_AIR, z_air=Z_AIR[meter],
    )  # fmt: skip


def _known(reference: Reference) -> tuple[float, float]:
    """Return the two temperatures if the edition has them."""
    if reference.combustion not in WATER_HEAT or reference.metering not in Z_AIR:
        raise InputError(
            "reference", reference.title, "is not in the edition of 1995",
            allowed="burned at 0, 15, 20 or 25 °C; volume at 0, 15 or 20 °C",
        )  # fmt: skip
    if reference.pressure != REFERENCE_PRESSURE:
        raise InputError("reference pressure", f"{reference.pressure:g} Pa", "is not in the edition of 1995",
                         allowed="101.325 kPa")  # fmt: skip
    return reference.combustion, reference.metering


@cache
def _basis(names: tuple[str, ...], burn: float, meter: float) -> Array:
    """Return the columns of `iso6976.basis` with the data of 1995."""
    rows, data = _rows(), table()
    for name in names:
        if name not in rows:
            raise UnknownNameError("component of ISO 6976:1995", name, rows)
    hydrogen = data.atoms[places(names), ELEMENTS.index("H")]
    mass = np.array([float(rows[name]["M"]) * 1e-3 for name in names])
    s = np.array([float(rows[name][f"sqrt_b_{_COLUMNS[meter]}"]) for name in names])
    heat = np.array([float(rows[name][f"H_{_COLUMNS[burn]}"]) * 1e3 for name in names])
    return np.column_stack((mass, s, heat, hydrogen / 2 * WATER_HEAT[burn], np.ones(len(names))))
