"""Findings of the generator: its kVA, its power factor, and whether frequency, speed and poles fit."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.power.generator import poles as poles_of
from asfound.quantities.case_numbers import Number, each_state, held, number_at, said
from asfound.quantities.display import chance
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE, UNSURE
from asfound.quantities.words import Finding, State

LOW_FACTOR = 0.02
"""Below the plate's power factor by more than this, and it is told (engineering judgement)."""
POLE_MISS, FREQUENCY_MISS = 0.01, 0.03
"""Speed against frequency, and frequency against that of the rated speed (engineering judgement)."""


def find(case: Case) -> Iterator[Finding]:
    """Yield what is seen at the generator."""
    for load in each_state(case.worked, "generator", "generator_apparent_load"):
        yield from _apparent_load(case, load)
    for factor in each_state(case.worked, "generator", "generator_power_factor"):
        yield from _factor(case, factor)
    for frequency in each_state(case.worked, "generator", "generator_frequency"):
        yield from _frequency(case, frequency)


def _apparent_load(case: Case, load: Number) -> Iterator[Finding]:
    drawn = case.worked.draws(load)
    finite = drawn[np.isfinite(drawn)]
    over = float(np.count_nonzero(finite > 1.0)) / finite.size if finite.size else float(load.value > 1.0)
    if over <= UNSURE:
        return
    sure = over >= SURE
    yield Finding(
        code="PW-23",
        subject="load",
        says=f"The generator {'is over' if sure else 'may be over'} its rated kVA: {said(case, load)} of it",
        severity="visit" if sure else "soon",
        next_step=(
            f"{chance(over)} to be over. Look at winding and bearing temperatures; bring the power factor up, or the "
            "load down, in agreement with the operator. The engine may have power left all the same."
        ),
        compared_with="rated apparent power of the plate",
        probability=over,
        because=(load.key,),
        cautions=("elec", "hot", "local"),
        state=load.state,
    )


def _factor(case: Case, factor: Number) -> Iterator[Finding]:
    reactive = number_at(case.worked, factor.state, "generator", "generator_reactive_power")
    leading = factor.value < 0 or (reactive is not None and reactive.value < 0)
    rated = held(case.worked, factor.state, "generator", "generator_rated_power_factor")
    low = rated is not None and abs(factor.value) < rated.value - LOW_FACTOR - 2 * factor.standard_uncertainty
    if not (leading or low):
        return
    stands = "leads" if leading else f"is below the {rated.value:.2f} of the plate" if rated else "is low"
    yield Finding(
        code="PW-24",
        subject="load",
        says=f"The power factor, {said(case, factor)}, {stands}",
        severity="soon",
        next_step=(
            "Ask the operator whether it is meant: a leading set is held weakly by its exciter. Look at the voltage "
            "setting and the sharing of kvar between sets."
            if leading
            else "Check kvar sharing and the voltage setting; current and losses of the generator are higher than its "
            "kilowatts say. The engine's power is not changed by it."
        ),
        because=tuple(one.key for one in (factor, reactive if leading else rated) if one is not None),
        cautions=("elec", "local"),
        state=factor.state,
    )


def _frequency(case: Case, frequency: Number) -> Iterator[Finding]:
    """Yield where frequency, speed and poles do not fit each other, or the frequency is not that of the plate."""
    worked, state = case.worked, frequency.state
    poles = held(worked, state, "generator", "generator_poles")
    speed = worked.reading(f"{state}/engine/engine_speed")
    if speed is not None and speed.value > 0 and frequency.value > 0:
        needed = float(poles_of(frequency.value, speed.value))
        whole = poles.value if poles is not None else max(2.0, 2.0 * round(needed / 2))
        doubt = 2 * float(np.hypot(_doubt(frequency), _doubt(speed)))
        if abs(needed / whole - 1) > max(POLE_MISS, doubt):
            yield _misfit(
                state,
                f"{said(case, frequency)} at {said(case, speed)} asks for {needed:.2f} poles, "
                + (f"the plate has {whole:.0f}" if poles is not None else "which no generator has"),
                "Read both again, the speed by a stroboscope or the teeth of the flywheel; count the poles; look "
                "whether there is a gear between engine and generator.",
                (frequency, speed, *([poles] if poles is not None else [])),
            )
    rated = held(worked, state, "engine", "rated_speed")
    if poles is not None and rated is not None and frequency.value > 0:
        plate = rated.value * poles.value / (4 * np.pi)
        if abs(frequency.value / plate - 1) > FREQUENCY_MISS:
            yield _misfit(
                state,
                f"The set runs at {said(case, frequency)}; rated speed and {poles.value:.0f} poles make {plate:.1f} Hz",
                "The rated power belongs to the rated speed: ask which network the engine was built for, and which "
                "rating holds at this one.",
                (frequency, poles, rated),
            )


def _misfit(state: State, says: str, advice: str, behind: tuple[Number, ...]) -> Finding:
    return Finding(
        code="PW-25",
        subject="load",
        says=says,
        severity="clash",
        next_step=advice,
        because=tuple(one.key for one in behind),
        cautions=("rotating", "elec"),
        state=state,
    )


def _doubt(number: Number) -> float:
    """Return the relative standard uncertainty."""
    return number.standard_uncertainty / abs(number.value)
