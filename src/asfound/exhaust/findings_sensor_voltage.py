"""The millivolts of the oxygen sensor beside the analyser: a controller is as right as its sensor."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.exhaust.findings_mixture import AT_THE_ANALYSER, told
from asfound.quantities.case_numbers import Number, number_at
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE
from asfound.quantities.words import STATES, Finding, Reading, Result, State

PLACES = ("before_catalyst", "left_bank", "right_bank", "after_catalyst")
SMALL = 0.004
"""Of lambda: less apart is no disagreement of a sensor and an analyser (engineering judgement)."""


def find(case: Case) -> Iterator[Finding]:
    """Yield what the analyser says of the sensor that the controller goes by."""
    for state in STATES:
        for place in PLACES:
            yield from _sensor(case, state, place)


def _sensor(case: Case, state: State, place: str) -> Iterator[Finding]:
    volts = number_at(case.worked, state, place, "oxygen_sensor_voltage")
    by_sensor = case.worked.result(f"{state}/{place}/excess_air_ratio_by_sensor")
    there = (number_at(case.worked, state, one, "excess_air_ratio") for one in (place, "before_catalyst", "stack"))
    by_gas = next((one for one in there if isinstance(one, Result) and one.value == one.value), None)
    if volts is None or by_sensor is None or by_gas is None:
        return
    apart = case.worked.difference(by_sensor, by_gas)
    if abs(apart.value) <= SMALL or min(apart.probability_lower, 1 - apart.probability_lower) > 1 - SURE:
        return
    rich = apart.value < 0
    yield Finding(
        code="EX-56",
        subject="exhaust",
        says=f"The oxygen sensor's {_typed(case, volts)} belong to lambda {told(case, by_sensor)}; by the analyser it "
        f"is {told(case, by_gas)}: the sensor shows {'richer' if rich else 'leaner'}, and the controller holds the "
        f"engine {'leaner' if rich else 'richer'} than it was set",
        severity="soon",
        next_step=(
            "Look for moisture or silicon on the tip, a shorted lead, a cell too cold; then for air in the analyser's "
            "line. Change the sensor rather than the set point."
            if rich
            else "Look for air at its thread and at joints before it, for a cylinder that misfires, for its heater and "
            "its hours; an old sensor gives fewer millivolts. Change it rather than the set point."
        ),
        compared_with="lambda by the analyser, with what a sound sensor is off by (engineering judgement)",
        because=(volts.key, by_sensor.key, by_gas.key),
        cautions=AT_THE_ANALYSER,
        state=state,
    )


def _typed(case: Case, volts: Number) -> str:
    """Return a voltage as it was typed where it was read."""
    return volts.as_typed if isinstance(volts, Reading) and volts.as_typed else told(case, volts)
