"""Worksheets of the orifice run in the fuel line."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from asfound.fuel import real_gas
from asfound.fuel.analysis_takes import FRACTIONS
from asfound.fuel.visit_analysis import ANALYSIS
from asfound.power.gas_viscosity import gas_viscosity
from asfound.power.meter_takes import AT_THE_METER, assumed, at_meter
from asfound.power.orifice import orifice_flow
from asfound.power.pairs import rising
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Array, Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Assumption, Take, worksheet


def _a_drop(difference: Reading | Result) -> None:
    """Refuse a difference that drives no gas through a plate."""
    if difference.value <= 0:
        raise impossible(
            difference,
            "is no difference that drives gas through the plate",
            allowed="above 0 Pa",
            try_next="Close the bypass of the transmitter, equalise it, zero it, and look which tap is on which side.",
        )


def _a_tap(distance: Reading | Result) -> None:
    """Refuse a tap before the plate by a negative distance."""
    if distance.value < 0:
        raise impossible(
            distance,
            "is no distance",
            allowed="0 (corner taps), 25.4 mm (flange taps), one pipe bore (D and D/2 taps)",
            try_next="Measure from the face of the plate that the gas meets to the middle of the first tap.",
        )


@worksheet(
    title="Isentropic exponent and viscosity of the gas in the line",
    takes=(*FRACTIONS, "fuel_temperature", "fuel_pressure"),
    gives=("fuel_isentropic_exponent", "fuel_line_viscosity"),
    method=Method(
        "AGA 8 DETAIL for the exponent; Lee, Gonzalez and Eakin for the viscosity",
        "aga8_2017",
        "Part 1; A. L. Lee et al. 1966",
    ),
    draws=500,
    draws_because="an equation of state with 58 terms is solved for each draw; it hardly matters to the flow",
)
def gas_through_the_orifice(
    methane: Values, ethane: Values, propane: Values, isobutane: Values, butane: Values, isopentane: Values,
    pentane: Values, hexanes_plus: Values, nitrogen: Values, carbon_dioxide: Values, oxygen: Values, hydrogen: Values,
    carbon_monoxide: Values, hydrogen_sulfide: Values,
    temperature: Values, pressure: Values,
) -> tuple[Values, Values]:  # fmt: skip
    """Return what an orifice needs to know of the gas beside its density. [1], [Pa s]"""
    fractions = (
        methane, ethane, propane, isobutane, butane, isopentane, pentane, hexanes_plus,
        nitrogen, carbon_dioxide, oxygen, hydrogen, carbon_monoxide, hydrogen_sulfide,
    )  # fmt: skip
    gas = real_gas.composition(dict(zip(ANALYSIS.values(), fractions, strict=True)))
    state = np.stack(np.broadcast_arrays(temperature, pressure)).astype(float)
    return _exponent_and_viscosity(gas.shape, gas.tobytes(), state.shape, state.tobytes())


@lru_cache(maxsize=8)
def _exponent_and_viscosity(
    shape: tuple[int, ...], gas: bytes, states: tuple[int, ...], state: bytes
) -> tuple[Array, Array]:
    """Keep what was solved for a few gases: a visit is worked out anew at each reading, its gas mostly the same."""
    x, (temperature, pressure) = np.frombuffer(gas).reshape(shape), np.frombuffer(state).reshape(states)
    found = real_gas.gas_state(x / x.sum(axis=-1, keepdims=True), temperature, pressure)
    viscosity = np.asarray(gas_viscosity(temperature, found.density, found.molar_mass))
    exponent = found.isentropic_exponent
    exponent.flags.writeable = viscosity.flags.writeable = False
    return exponent, viscosity


@worksheet(
    title="Fuel flow, from an orifice run",
    takes=(
        at_meter("orifice_bore"),
        at_meter("orifice_pipe_bore"),
        assumed("orifice_tap_distance", 0.0254, 0.0, "flange taps, 25.4 mm before the plate", "common_practice"),
        at_meter("fuel_meter_difference"),
        at_meter("fuel_pressure"),
        at_meter("fuel_temperature"),
        at_meter("fuel_line_density"),
        assumed("fuel_isentropic_exponent", 1.30, 0.03, "natural gas, no analysis at hand"),
        assumed("fuel_line_viscosity", 11.0e-6, 0.7e-6, "natural gas, no analysis at hand"),
        at_meter(
            "orifice_coefficient_offset",
            Assumption(
                value=0.0,
                standard_uncertainty=1.0,
                says="as uncertain as the standard says, for a plate and a run as it wants them",
                source="iso_5167_2",
            ),
        ),
        Take(quantity="fuel_density", place="fuel"),
    ),
    gives=("fuel_flow", "orifice_reynolds_number", "orifice_diameter_ratio"),
    method=Method("orifice plate, Reader-Harris and Gallagher, real-gas density", "iso_5167_2_2022", "5.3.2"),
    cautions=AT_THE_METER,
    valid={
        "orifice_bore": (0.0125, 0.75, "12.5 mm and more"),
        "orifice_pipe_bore": (0.05, 1.0, "50 to 1000 mm"),
        "orifice_diameter_ratio": (0.10, 0.75, "0.10 to 0.75"),
        "orifice_reynolds_number": (5_000.0, 1e8, "5,000 and more, and more still for large plates"),
    },
    refuses={"fuel_meter_difference": _a_drop, "orifice_tap_distance": _a_tap},
)
def fuel_flow_by_orifice(
    bore: Values, pipe: Values, tap: Values, difference: Values, pressure: Values, temperature: Values,
    density: Values, exponent: Values, viscosity: Values, offset: Values, normal_density: Values,
) -> tuple[Values, Values, Values]:  # fmt: skip
    """Return the fuel flow through an orifice plate, Reynolds number and diameter ratio. [m³(n)/s], [1], [1]

    The pressure is that of the upstream tap. The uncertainty of the standard's own coefficient is in the answer; a worn
    edge, dirt or a short straight run is not.
    """
    rising(
        "orifice_pipe_bore", bore, pipe, "is below the bore of the plate", "above the bore of the plate",
        "Read the plate's stamp and the pipe's inner diameter again; look whether one was taken in inches.",
    )  # fmt: skip
    found = orifice_flow(
        bore, pipe, tap, difference, pressure, density, exponent, viscosity, temperature=temperature, offset=offset
    )
    return found.mass_flow / normal_density, found.reynolds, found.beta
