"""Worksheets of the gas's properties: methane number, and the gas as it is in the line."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from asfound.fuel import methane_number as knock
from asfound.fuel import real_gas
from asfound.fuel.analysis_takes import FRACTIONS
from asfound.fuel.visit_analysis import ANALYSIS, without_noise
from asfound.quantities.typing import Array, Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import worksheet

_AS_KNOCK = {name.replace("n-hexane", "hexanes_plus"): name for name in ANALYSIS.values()}
_LUMP = (0.0, 0.03, "0 to 3 %, pentanes and heavier together 5 %: ASTM D8221, limits of use")
_BUTANE = (0.0, 0.05, "0 to 5 %: no published gas is richer in butane")


def _named(fractions: tuple[Values, ...], *, knocking: bool) -> dict[str, Values]:
    """Return the fractions of an analysis by the names that a property knows; C6+ is one component or n-hexane."""
    names = _AS_KNOCK if knocking else tuple(ANALYSIS.values())
    return dict(zip(names, map(without_noise, fractions), strict=True))


@worksheet(
    title="Methane number of the gas",
    takes=FRACTIONS,
    gives="methane_number",
    at="fuel",
    method=Method("EN 16726 annex A, nearest equal split; good to 1, within 2 of a limit undecided", "en_16726_public"),
    valid={
        "fuel_isopentane": _LUMP,
        "fuel_pentane": _LUMP,
        "fuel_hexanes_plus": _LUMP,
        "fuel_isobutane": _BUTANE,
        "fuel_butane": _BUTANE,
        "fuel_hydrogen": (0.0, 0.05, "0 to 5 %: with more, published gases are met within 1.5 only"),
        "fuel_carbon_monoxide": (0.0, 0.005, "0 to 0.5 %: with more, the published gas is met within 1.5 only"),
        "fuel_hydrogen_sulfide": (0.0, 0.0005, "0 to 500 ppm: with more, the published gas is met within 1.5 only"),
    },
    draws=200,
    draws_because="a small optimisation for each draw; the method itself is no better than 1",
)
def methane_number(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
) -> Values:  # fmt: skip
    """Return how hard the gas knocks: 100 is methane, 0 hydrogen. [1]

    By EN 16726 annex A, which differs from engine tests and from other methods by several points; the engine's document
    says by which method its own limit is meant.
    """
    fractions = (
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide,
    )  # fmt: skip
    gas = knock.composition(_named(fractions, knocking=True))
    return np.round(_knocking(gas.shape, gas.tobytes()), 9) + 0.0  # hydrogen is 0 and methane 100, not all but 1e-13


@worksheet(
    title="Gas in the line: density and compressibility",
    takes=(*FRACTIONS, "fuel_temperature", "fuel_pressure"),
    gives=("fuel_line_compressibility", "fuel_line_density"),
    at="engine",
    method=Method("AGA 8 DETAIL; C6+ as hexane, analysis scaled to 100 %", "aga8_2017", "Part 1"),
    valid={
        "fuel_temperature": (
            263.15,
            338.15,
            "-10 to 65 °C, where ISO 12213-2 claims 0.1 % for pipeline gas (from memory)",
        ),
        "fuel_pressure": (0.0, 12e6, "up to 120 bar, where ISO 12213-2 claims 0.1 % for pipeline gas (from memory)"),
    },
    draws=500,
    draws_because="an equation of state with 58 terms is solved for each draw; its curvature is small",
)
def gas_in_the_line(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
    temperature: Values, pressure: Values,
) -> tuple[Values, Values]:  # fmt: skip
    """Return compressibility and density of the gas at the temperature and pressure of the line. [1], [kg/m³]

    Whether the gas would condense there is not tested.
    """
    fractions = (
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide,
    )  # fmt: skip
    gas = real_gas.composition(_named(fractions, knocking=False))
    state = np.stack(np.broadcast_arrays(temperature, pressure)).astype(float)
    return _in_the_line(gas.shape, gas.tobytes(), state.shape, state.tobytes())


# A visit is worked out anew at each reading, its gas mostly the same: what was solved once is kept for a few gases.
@lru_cache(maxsize=8)
def _knocking(shape: tuple[int, ...], gas: bytes) -> Array:
    number = knock.methane_number(np.frombuffer(gas).reshape(shape))
    number.flags.writeable = False
    return number


@lru_cache(maxsize=8)
def _in_the_line(shape: tuple[int, ...], gas: bytes, states: tuple[int, ...], state: bytes) -> tuple[Array, Array]:
    x, (temperature, pressure) = np.frombuffer(gas).reshape(shape), np.frombuffer(state).reshape(states)
    whole = x / x.sum(axis=-1, keepdims=True)
    density, z = real_gas.density_and_compressibility(whole, temperature, pressure)
    density.flags.writeable = z.flags.writeable = False
    return z, density
