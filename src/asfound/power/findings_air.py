"""Findings of the air: what warm coolant, warm intake air and a full air filter take from the power."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.quantities.case_numbers import Number, each_state, held, said
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding, Reading, Result

TOLD = 0.03
"""Share of power from which on a cause is told (engineering judgement)."""
BACK = 10.0
"""Intake air this much above the ambient air comes from the engine's own heat (engineering judgement). [K]"""


def air_against_rating(case: Case) -> Iterator[Finding]:
    """Yield what air and coolant take from the power, by the standard's formula."""
    for ratio in each_state(case.worked, "engine", "indicated_power_ratio"):
        if not isinstance(ratio, Result):
            continue
        there = {one.quantity: one for one in ratio.inputs}
        lost = [one for one in (_coolant(case, there), _intake(case, there), _filter(case, ratio, there)) if one]
        if not lost:
            continue
        yield Finding(
            code="PW-19",
            subject="load",
            says=f"Air and coolant take power: {'; '.join(text for text, _ in lost)}",
            severity="soon",
            next_step="Look at the charge cooler and its water, at the way of the intake air and at the filter; "
            "compare with the last visit at like weather. The share is what the standard's formula makes of it.",
            compared_with="conditions of the rating, ISO 3046-1",
            because=(ratio.key, *(key for _, key in lost)),
            cautions=("hot",),
            state=ratio.state,
        )


def _coolant(case: Case, there: dict[str, Reading | Result]) -> tuple[str, str] | None:
    here, rated = there.get("auxiliary_water_inlet_temperature"), there.get("rating_coolant_temperature")
    exponent = there.get("rating_exponent_coolant")
    if here is None or rated is None or exponent is None or _assumed(rated):
        return None  # against a coolant that nobody entered any engine would look hot
    share = 1 - (rated.value / here.value) ** exponent.value
    words = f"charge coolant {said(case, here)} against {said(case, rated)} of the rating, about {100 * share:.0f} %"
    return (words, here.key) if share >= TOLD else None


def _intake(case: Case, there: dict[str, Reading | Result]) -> tuple[str, str] | None:
    intake, ambient = there.get("intake_air_temperature"), there.get("ambient_temperature")
    if intake is None or ambient is None or intake.value - ambient.value < BACK:
        return None
    return (
        f"intake air {said(case, intake)} where it is {said(case, ambient)} outside: the engine breathes its own heat",
        intake.key,
    )


def _filter(case: Case, ratio: Number, there: dict[str, Reading | Result]) -> tuple[str, str] | None:
    drop = held(case.worked, ratio.state, "engine", "air_filter_pressure_drop")
    pressure, exponent = there.get("barometric_pressure"), there.get("rating_exponent_pressure")
    if drop is None or pressure is None or exponent is None or not 0 < drop.value < pressure.value:
        return None
    share = 1 - (1 - drop.value / pressure.value) ** exponent.value
    return (f"air filter {said(case, drop)}, about {100 * share:.0f} %", drop.key) if share >= TOLD else None


def _assumed(number: Reading | Result) -> bool:
    return isinstance(number, Reading) and number.origin == "assumed"
