"""Findings of the compressor: what discharge temperatures and the gas through the stages say of valves and readings."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from asfound.quantities.case_numbers import Number, each_state, number_at, said
from asfound.quantities.display import chance
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE
from asfound.quantities.typing import Array
from asfound.quantities.words import STATES, Finding, Result, Severity, State
from asfound.quantities.worked import Worked

LEAST_EFFICIENCY = 0.80
"""A sound stage heats its gas no more than compression at this efficiency does (engineering judgement)."""
COLDER = 3.0  # K below the isentropic temperature: colder than this no sound cylinder delivers (engineering judgement)
HOTTEST = 423.15
"""150 °C, beyond which valves, packing and oil of most gas compressors do not last: API 618, from memory. [K]"""
SAME_GAS = 0.03
"""Two flows nearer than this are told by nobody (engineering judgement)."""
STAGES = ("stage_1", "stage_2", "stage_3", "stage_4")


def find(case: Case) -> Iterator[Finding]:
    """Yield what is seen at the stages of the compressor."""
    for place in STAGES:
        for excess in each_state(case.worked, place, "stage_temperature_excess"):
            yield from _excess(case, place, excess)
        for discharge in each_state(case.worked, place, "discharge_temperature"):
            yield from _hot(case, discharge)
    for state in STATES:
        yield from _gas(case, state)
        yield from _between(case, state)


def _share(drawn: NDArray[np.bool_]) -> float:
    """Return in which share of the draws something is so; draws without an answer are left out."""
    return float(np.count_nonzero(drawn)) / drawn.size if drawn.size else 0.0


def _stage(place: str) -> str:
    return place.replace("_", " ")


def _together(worked: Worked, *numbers: Number) -> list[Array]:
    """Return the draws of numbers, as many as all have and all have an answer."""
    drawn = [worked.draws(one) for one in numbers]
    size = min(one.size for one in drawn)
    cut = [one[:size] for one in drawn]
    good = np.isfinite(np.stack(cut)).all(axis=0)
    return [one[good] for one in cut]


def _excess(case: Case, place: str, excess: Number) -> Iterator[Finding]:
    suction = number_at(case.worked, excess.state, place, "suction_temperature")
    isentropic = number_at(case.worked, excess.state, place, "stage_isentropic_temperature")
    discharge = number_at(case.worked, excess.state, place, "discharge_temperature")
    if suction is None or isentropic is None or discharge is None:
        return
    over, first, last = _together(case.worked, excess, suction, isentropic)
    most = (1 / LEAST_EFFICIENCY - 1) * (last - first)
    hot, cold = _share(over > most), _share(over < -COLDER)
    because = (discharge.key, excess.key)
    stage = _stage(place)
    if hot >= SURE:
        yield Finding(
            code="PW-26",
            subject="load",
            says=(
                f"Gas leaves {stage} at {said(case, discharge)}, {said(case, excess)} over ideal compression; a sound "
                f"cylinder stays within {(1 / LEAST_EFFICIENCY - 1) * (isentropic.value - suction.value):.0f} K"
            ),
            severity="visit",
            next_step=(
                f"{chance(hot)} to be so. A leaking valve or ring works the same gas twice: take the temperature of "
                "each valve cover from outside, the hot one among equals leaks; compare with the last visit. The power "
                "worked out for this stage is too low while it leaks."
            ),
            compared_with=f"ideal compression, {said(case, isentropic)}",
            probability=hot,
            because=because,
            cautions=("hot", "pressure", "gas", "local"),
            state=excess.state,
        )
    elif cold >= SURE:
        yield Finding(
            code="PW-28",
            subject="load",
            says=(
                f"Gas leaves {stage} at {said(case, discharge)}, colder than ideal compression would make it, "
                f"{said(case, isentropic)}: one of these readings is wrong, or liquid comes in with the gas"
            ),
            severity="clash",
            next_step=(
                "Look where the thermometer sits and whether its well is filled; whether each pressure is gauge or "
                "absolute; whether the analysis is that of this gas. Drain the suction scrubber by the site's rules."
            ),
            compared_with=f"ideal compression, {said(case, isentropic)}",
            probability=cold,
            because=because,
            cautions=("hot", "pressure", "gas", "local"),
            state=excess.state,
        )


def _hot(case: Case, discharge: Number) -> Iterator[Finding]:
    (drawn,) = _together(case.worked, discharge)
    over = _share(drawn > HOTTEST)
    if over < 0.5:
        return
    severity: Severity = "visit" if over >= SURE else "soon"
    yield Finding(
        code="PW-27",
        subject="load",
        says=f"Gas leaves {_stage(discharge.place)} at {said(case, discharge)}: over 150 °C oil burns to coke",
        severity=severity,
        next_step=(
            f"{chance(over)} to be over. Look at suction temperature, pressure ratio and valves; agree with the "
            "operator to lower the ratio. The compressor's own limit goes first."
        ),
        compared_with="150 °C, API 618 from memory",
        probability=over,
        because=(discharge.key,),
        cautions=("hot", "fire", "pressure", "gas", "local"),
        state=discharge.state,
    )


def _gas(case: Case, state: State) -> Iterator[Finding]:
    """Yield where a stage takes in another flow by its cylinders than the stage before, or than the meter."""
    flows = [
        one for place in STAGES if isinstance(one := case.worked.result(f"{state}/{place}/stage_cylinder_flow"), Result)
    ]
    for one, two in pairwise(flows):
        yield from _unlike(case, one, two, f"by its cylinders {_stage(two.place)} takes in")
    metered = [(one, number_at(case.worked, state, one.place, "stage_gas_flow")) for one in flows]
    pairs = [(one, meter) for one, meter in metered if meter is not None and meter.value > 0]
    if pairs:  # the stage that fits its meter least; the others are told by the stages beside each other
        one, meter = max(pairs, key=lambda pair: abs(pair[0].value / pair[1].value - 1))
        yield from _unlike(case, meter, one, f"by its cylinders {_stage(one.place)} takes in")


def _unlike(case: Case, one: Number, two: Number, says: str) -> Iterator[Finding]:
    away = case.worked.difference(two, one)
    low, high = away.interval
    relative = away.value / one.value if one.value else 0.0
    if low <= 0.0 <= high or abs(relative) < SAME_GAS:
        return
    against = "the meter" if one.quantity == "stage_gas_flow" else _stage(one.place)
    yield Finding(
        code="PW-29",
        subject="load",
        says=(
            f"{says[0].upper()}{says[1:]} {said(case, two)}, {100 * abs(relative):.0f} % "
            f"{'more' if relative > 0 else 'less'} than {against}: {said(case, one)}"
        ),
        severity="clash",
        next_step=(
            "Where cylinders count more gas than passes, look for leaking valves and rings, for pockets and unloaders "
            "that do not stand as entered, for gas taken off between the stages. Where they count less, look at "
            "clearance, ends that pump, and the meter."
        ),
        compared_with=f"{against}, {said(case, one)}",
        because=(one.key, two.key),
        cautions=("pressure", "gas", "local"),
        state=two.state,
    )


def _between(case: Case, state: State) -> Iterator[Finding]:
    """Yield where a stage is said to take in gas at more than the pressure at which the one before gives it."""
    readings = {one.key: one for one in case.worked.readings}
    for one, two in pairwise(STAGES):
        before = readings.get(f"{state}/{one}/discharge_pressure")
        after = readings.get(f"{state}/{two}/suction_pressure")
        if before is None or after is None or before.gauge != after.gauge:
            continue
        given, taken = _together(case.worked, before, after)
        above = _share(taken > given)
        if above >= SURE:
            yield Finding(
                code="PW-29",
                subject="load",
                says=(
                    f"{_stage(two).capitalize()} is read to take in gas at {said(case, after)}, above the "
                    f"{said(case, before)} at which {_stage(one)} gives it"
                ),
                severity="clash",
                next_step="Read both gauges against one gauge; look whether their lines are swapped.",
                probability=above,
                because=(before.key, after.key),
                cautions=("pressure", "gas", "local"),
                state=state,
            )
