"""Findings of what the exhaust tells beside lambda: the engine's own sensor, unburned gas, air drawn in, its flow."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.exhaust.findings_mixture import (
    ANALYSER_STEPS,
    AT_THE_ANALYSER,
    FORMS_DIFFER,
    doubts,
    reading_at,
    stands_apart,
    told,
)
from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, Reading, Result, State

STACK = ("stack", "before_catalyst", "after_catalyst")
MUCH_UNBURNED = 0.05
"""Of the fuel's carbon. Lean engines on natural gas leave 1 to 3 % (common practice); the limit is judgement."""
MUCH_CO, MUCH_OXYGEN = 0.003, 0.010
"""mol/mol: one flame leaves not both; rich mixtures leave the one, lean ones the other. Engineering judgement."""
FLOWS_DIFFER = 0.02
"""F factors and balances differ by as much with the gas and the heating value. Engineering judgement."""
SENSORS = ("engine", "left_bank", "right_bank", "before_catalyst", "after_catalyst")


def find(case: Case) -> Iterator[Finding]:
    """Yield what the exhaust tells beside lambda."""
    for state in STATES:
        for place in SENSORS:
            yield from _sensor(case, state, place)
        for place in STACK:
            yield from _unburned(case, state, place)
            yield from _both(case, state, place)
            yield from _flows(case, state, place)
        yield from _across(case, state)
        yield from _banks(case, state)


def _sensor(case: Case, state: State, place: str) -> Iterator[Finding]:
    """Put the engine's own sensor beside the analyser, wet and dry: what a control shows is not always said."""
    sensor = reading_at(case, state, place, "oxygen_sensor_reading")
    at = next((one for one in (place, *STACK) if reading_at(case, state, one, "exhaust_oxygen_dry")), None)
    if sensor is None or at is None:
        return
    wet_there = case.worked.result(f"{state}/{at}/oxygen_at_wet_probe")
    dry_there = reading_at(case, state, at, "exhaust_oxygen_dry")
    if wet_there is None or dry_there is None or stands_apart(case, sensor, wet_there, ANALYSER_STEPS) is None:
        return
    fits_dry = stands_apart(case, sensor, dry_there, ANALYSER_STEPS) is None
    beside = f"the analyser reads {told(case, dry_there)} dry, which is {told(case, wet_there)} in wet exhaust"
    yield Finding(
        code="EX-16" if fits_dry else "EX-15",
        subject="exhaust",
        says=f"The engine's own sensor shows {told(case, sensor)}; {beside}"
        + (": it fits as dry oxygen only" if fits_dry else ": it fits neither"),
        severity="note" if fits_dry else "clash",
        next_step=(
            "Look up whether the control shows dry oxygen before the sensor is judged; if it shows wet, it reads high."
            if fits_dry
            else "Zero and span the analyser; let the sensor see air at standstill; look for air drawn in between them."
        ),
        compared_with="dry oxygen of the analyser, and what a wet probe should show beside it",
        because=(sensor.key, dry_there.key, wet_there.key),
        cautions=("hot", "local"),
        state=state,
    )


def _unburned(case: Case, state: State, place: str) -> Iterator[Finding]:
    share = case.worked.result(f"{state}/{place}/unburned_fuel_share")
    if share is None or share.value <= MUCH_UNBURNED:
        return
    yield Finding(
        code="EX-17",
        subject="exhaust",
        says=f"{told(case, share)} of the fuel leaves unburned",
        severity="soon",
        next_step="Look for a misfire, a leaking valve or a mixture near its lean limit: exhaust temperature of each "
        "cylinder, then plugs and lash. Compare with the last visit at like load.",
        compared_with=f"{100 * MUCH_UNBURNED:g} % (engineering judgement; lean engines on natural gas leave 1 to 3)",
        because=(share.key,),
        cautions=AT_THE_ANALYSER,
        state=state,
    )


def _both(case: Case, state: State, place: str) -> Iterator[Finding]:
    oxygen = reading_at(case, state, place, "exhaust_oxygen_dry")
    co = reading_at(case, state, place, "exhaust_co_dry")
    if oxygen is None or co is None or not MUCH_OXYGEN < oxygen.value < OXYGEN_IN_AIR or co.value <= MUCH_CO:
        return  # more oxygen than air has is a wrong reading, not a mixture
    yield Finding(
        code="EX-18",
        subject="exhaust",
        says=f"Much carbon monoxide beside oxygen: {told(case, co)} with {told(case, oxygen)}",
        severity="soon",
        next_step="Look for one cylinder or bank far richer than the rest, a misfire, or air drawn into the exhaust "
        "before the probe; a sensor for the mixture is misled by all three.",
        compared_with=f"{100 * MUCH_CO:g} % CO with {100 * MUCH_OXYGEN:g} % oxygen (engineering judgement)",
        because=(co.key, oxygen.key),
        cautions=AT_THE_ANALYSER,
        state=state,
    )


def _across(case: Case, state: State) -> Iterator[Finding]:
    """Compare lambda before and after the catalyst by one method: the catalyst burns, it brings no air."""
    pair = _same_method(case, f"{state}/before_catalyst/excess_air_ratio", f"{state}/after_catalyst/excess_air_ratio")
    if pair is None:
        return
    before, after = pair
    away = stands_apart(case, after, before, FORMS_DIFFER * before.value)
    if away is None:
        return
    leaner = away.value > 0
    yield Finding(
        code="EX-19",
        subject="exhaust",
        says=f"Lambda is {told(case, before)} before the catalyst and {told(case, after)} after it, {doubts(away)}",
        severity="clash",
        next_step=(
            "Air comes in between, or the second sample line leaks: look at flanges, manhole and line."
            if leaner
            else "The first sample line leaks, the samples were changed over, or the load moved: take both again."
        ),
        compared_with="one lambda on both sides: a catalyst burns, but brings no air",
        because=(before.key, after.key),
        cautions=AT_THE_ANALYSER,
        state=state,
    )


def _banks(case: Case, state: State) -> Iterator[Finding]:
    """Compare lambda of the two banks by one method."""
    pair = _same_method(case, f"{state}/left_bank/excess_air_ratio", f"{state}/right_bank/excess_air_ratio")
    away = None if pair is None else stands_apart(case, pair[0], pair[1], FORMS_DIFFER * pair[1].value)
    if pair is None or away is None:
        return
    left, right = pair
    yield Finding(
        code="EX-19",
        subject="exhaust",
        says=f"Lambda is {told(case, left)} on the left bank and {told(case, right)} on the right, {doubts(away)}",
        severity="soon",
        next_step="Compare the exhaust temperatures of the banks and the positions of throttle and fuel valve; look "
        "for air drawn in at one manifold; change the samples over to rule out the line.",
        compared_with="one mixture on both banks",
        because=(left.key, right.key),
        cautions=AT_THE_ANALYSER,
        state=state,
    )


def _same_method(case: Case, first: str, second: str) -> tuple[Result, Result] | None:
    """Return lambda at two keys by the best method that there is at both, each from a reading of its own."""
    for one in case.worked.alternatives(first):
        other = case.worked.result(second, one.worksheet)
        if other is not None and not {r.key for r in one.readings()} >= {r.key for r in other.readings()}:
            return one, other
    return None


def _flows(case: Case, state: State, place: str) -> Iterator[Finding]:
    agreement = case.worked.agreement(f"{state}/{place}/exhaust_flow_dry")
    if agreement is None:
        return
    far = [
        one
        for one in agreement.others
        if one.verdict == "apart" and abs(one.difference.value) > FLOWS_DIFFER * abs(agreement.taken.value)
    ]
    if not far:
        return
    worst = max(far, key=lambda one: abs(one.difference.value))
    yield Finding(
        code="EX-12",
        subject="exhaust",
        says=f"Ways to the exhaust flow stand apart: {told(case, agreement.taken)} {_way(agreement.taken)}, "
        f"{told(case, worst.number)} {_way(worst.number)}, {doubts(worst.difference)}",
        severity="clash",
        next_step="Every mass per hour and per energy hangs on it. Look at the reference state of the fuel meter, the "
        "heating value, the gas analysis, then at what only one of the ways takes.",
        compared_with="each other",
        because=(agreement.key, *worst.only_here, *worst.only_taken),
        cautions=AT_THE_ANALYSER,
        state=state,
    )


def _way(number: Result | Reading) -> str:
    return f"by {number.method.name}" if isinstance(number, Result) else "read"
