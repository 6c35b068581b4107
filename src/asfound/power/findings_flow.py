"""Findings of the fuel meters: whether they agree, which usual slip lies between them, and the orifice plate."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from asfound.power.meter_takes import FUEL_METER
from asfound.power.orifice import least_reynolds, taps
from asfound.quantities.agreement import agreement_of
from asfound.quantities.case_numbers import Number, held, number_at, said
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.findings import Case
from asfound.quantities.gas_states import gas_states
from asfound.quantities.words import STATES, Finding, Reading, Result, State
from asfound.quantities.worked import Worked

BY_ORIFICE, BY_DISPLAY = "fuel_flow_by_orifice", "fuel_flow_by_display"
NAMES = {
    BY_ORIFICE: "the orifice run",
    BY_DISPLAY: "the display",
    "fuel_flow_by_volume_meter": "the meter that counts volume",
    "fuel_flow_by_mass": "the mass meter",
}
LEAST_PRESSURE_RATIO = 0.75
"""Downstream over upstream: ISO 5167-2:2003, 5.3.2.2."""
WEAK_DIFFERENCE = 0.03
"""Relative standard uncertainty of the difference from which on it is called too low for its transmitter: half of it
goes into the flow (engineering judgement)."""
NEAR = 0.002
"""How near to a usual slip a ratio without doubt of its own must be (engineering judgement)."""
MOST_SLIPS = 2
USUAL_BASES = ("0 C, 101.325 kPa", "15 C, 101.325 kPa", "20 C, 101.325 kPa", "60 F, 14.73 psia")


@dataclass(frozen=True, slots=True)
class Slip:
    """A usual mistake and what it makes of the flow."""

    ratio: float
    """Wrong over right."""
    says: str


def find(case: Case) -> Iterator[Finding]:
    """Yield what the fuel meters mean together."""
    for state in STATES:
        yield from _meters(case, state)
        yield from _plate(case, state)


def _name(number: Number) -> str:
    return "the flow entered" if isinstance(number, Reading) else NAMES.get(number.worksheet, number.worksheet)


def _meters(case: Case, state: State) -> Iterator[Finding]:
    """Yield a finding for each meter that stands apart from the one taken."""
    roads = agreement_of(case.worked, f"{state}/engine/fuel_flow")
    if roads is None:
        return
    for other in roads.others:
        if other.verdict != "apart" or not roads.taken.value > 0:
            continue
        ratio = other.number.value / roads.taken.value
        slips = _explain(case.worked, state, roads.taken, other.number)
        why = " or ".join(f"{one.says} ({one.ratio:.4f})" for one in slips)
        yield Finding(
            code="PW-36" if slips else "PW-35",
            subject="fuel",
            says=(
                f"Fuel flow by {_name(other.number)}, {said(case, other.number)}, is {ratio:.4f} times that by "
                f"{_name(roads.taken)}, {said(case, roads.taken)}"
                + (f": the ratio that comes of {why}" if slips else "")
            ),
            severity="clash",
            next_step=(
                "Look at base temperature, base pressure and the corrections set in the display and on the sheet, and "
                "put one of them right before an efficiency is told."
                if slips
                else "Check zero and range of the transmitters, the plate or meter fitted, and read both once more "
                "over ten minutes at steady load."
            ),
            compared_with=f"{_name(roads.taken)}, {said(case, roads.taken)}",
            because=(roads.taken.key,),
            cautions=("gas", "local"),
            state=state,
        )


def _explain(worked: Worked, state: State, taken: Number, other: Number) -> list[Slip]:
    """Return the usual slips whose ratio the two meters show within their doubt, the nearest first."""
    one, two = worked.draws(other), worked.draws(taken)
    count = min(one.size, two.size)
    with np.errstate(all="ignore"):
        ratios = one[:count] / two[:count]
    ratios = ratios[np.isfinite(ratios)]
    if not ratios.size:
        return []
    middle = other.value / taken.value
    low, high = (float(one) for one in np.quantile(ratios, (0.025, 0.975)))
    low, high = min(low, middle * (1 - NEAR)), max(high, middle * (1 + NEAR))
    found = [slip for slip in slips(worked, state) if low <= slip.ratio <= high]
    return sorted(found, key=lambda slip: abs(slip.ratio - middle))[:MOST_SLIPS]


def slips(worked: Worked, state: State) -> Iterator[Slip]:
    """Yield the usual slips of a display, with what they would make of the flow at this meter.

    Only bases in common use; pairs that differ by less than 0.4 % are left out: no meter in the field tells them apart.
    """
    bases = [gas_states()[name] for name in USUAL_BASES]
    for right in bases:
        for wrong in bases:
            ratio = float(wrong.normal_per_here / right.normal_per_here)
            if abs(ratio - 1) > 0.004:
                yield Slip(ratio, f"counting at {right.name} and reading it as {wrong.name}")
    pressure = _absolute(worked, state)
    barometer = _value(worked, state, "site", "barometric_pressure") or _value(
        worked, state, "engine", "barometric_pressure"
    )
    if pressure and barometer and pressure > 1.02 * barometer:
        yield Slip((pressure - barometer) / pressure, "counting gauge pressure as absolute")
        yield Slip((pressure + barometer) / pressure, "adding the barometer twice")
        if abs(barometer / ATMOSPHERE - 1) > 0.02:
            sea = (pressure - barometer + ATMOSPHERE) / pressure
            yield Slip(sea, "taking the air pressure of the sea for the barometer")
    if pressure and pressure > 1.02 * ATMOSPHERE:
        yield Slip(ATMOSPHERE / pressure, "no correction for pressure")
    temperature = _value(worked, state, FUEL_METER, "fuel_temperature") or _value(
        worked, state, "engine", "fuel_temperature"
    )
    if temperature and abs(temperature / 288.15 - 1) > 0.01:
        yield Slip(temperature / 288.15, "no correction for temperature")


def _value(worked: Worked, state: State, place: str, name: str) -> float | None:
    number = held(worked, state, place, name)
    return number.value if number is not None else None


def _absolute(worked: Worked, state: State) -> float | None:
    """Return the absolute pressure in the meter; None where it is not known."""
    number = number_at(worked, state, FUEL_METER, "fuel_pressure") or number_at(
        worked, state, "engine", "fuel_pressure"
    )
    if number is None:
        return None
    if not (isinstance(number, Reading) and number.gauge):
        return number.value
    barometer = _value(worked, state, "site", "barometric_pressure")
    return None if barometer is None else number.value + barometer


def _plate(case: Case, state: State) -> Iterator[Finding]:
    """Yield what is outside the standard on an orifice run, and a difference too low for its transmitter."""
    flow = case.worked.result(f"{state}/engine/fuel_flow", BY_ORIFICE)
    if flow is None:
        return
    given = {one.quantity: one for one in flow.inputs}
    outside = list(_outside(case, state, given))
    if outside:
        yield Finding(
            code="PW-37",
            subject="fuel",
            says=f"The orifice run is outside ISO 5167-2: {'; '.join(outside)}. Its coefficient is not known there",
            severity="soon",
            next_step="Choose a plate that brings ratio and difference back into range, or measure by another meter.",
            because=(flow.key,),
            cautions=("loto", "gas", "pressure", "local"),
            state=state,
        )
    difference = given.get("fuel_meter_difference")
    if difference is not None and difference.value > 0:
        doubt = difference.standard_uncertainty / difference.value
        if doubt > WEAK_DIFFERENCE:
            yield Finding(
                code="PW-38",
                subject="fuel",
                says=(
                    f"The orifice difference of {said(case, difference)} is low for its transmitter: "
                    f"{100 * doubt:.1f} % of doubt, half of it in the flow"
                ),
                severity="soon",
                next_step="Fit a transmitter of lower range, or a smaller plate, or read at higher load.",
                because=(difference.key,),
                cautions=("gas", "pressure"),
                state=state,
            )


def _outside(case: Case, state: State, given: dict[str, Reading | Result]) -> Iterator[str]:
    """Yield in words what the standard does not cover."""
    beta = case.worked.result(f"{state}/engine/orifice_diameter_ratio", BY_ORIFICE)
    reynolds = case.worked.result(f"{state}/engine/orifice_reynolds_number", BY_ORIFICE)
    bore, pipe = given["orifice_bore"].value, given["orifice_pipe_bore"].value
    if beta is not None and not 0.10 <= beta.value <= 0.75:
        yield f"diameter ratio {beta.value:.3f}, allowed 0.10 to 0.75"
    if bore < 0.0125:
        yield f"bore {1e3 * bore:.2f} mm, allowed 12.5 mm and more"
    if not 0.05 <= pipe <= 1.0:
        yield f"pipe {1e3 * pipe:.1f} mm, allowed 50 to 1000 mm"
    if beta is not None and reynolds is not None:
        least = float(least_reynolds(beta.value, pipe, taps(given["orifice_tap_distance"].value, pipe)))
        if reynolds.value < least:
            yield f"Reynolds number {reynolds.value:,.0f}, allowed {least:,.0f} and more"
    pressure, difference = _absolute(case.worked, state), given["fuel_meter_difference"].value
    if pressure and 1 - difference / pressure < LEAST_PRESSURE_RATIO:
        yield f"pressure ratio {1 - difference / pressure:.2f}, allowed {LEAST_PRESSURE_RATIO} and more"
