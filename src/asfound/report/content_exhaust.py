"""What the exhaust's page and the report show of catalyst and of the mixture that meets the limit: plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.quantities.words import Result
from asfound.report.axis import Band
from asfound.report.changes import change
from asfound.report.content_lanes import STATE_WORDS, both_states, lanes_picture, mark_of, number_at
from asfound.report.wording import place_words, say, sentence, title_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from asfound.quantities.words import State
    from asfound.quantities.worked import Worked
    from asfound.records.visit import VisitView
    from asfound.report.content_lanes import Number
    from asfound.report.wording import Said, System

BANKS = ("engine", "left_bank", "right_bank", "stack", "after_catalyst")
CONVERSIONS = {
    "catalyst_conversion_nox": "NOx",
    "catalyst_conversion_co": "CO",
    "catalyst_conversion_voc": "VOC",
    "catalyst_conversion_formaldehyde": "Formaldehyde",
    "catalyst_conversion_hydrocarbons": "Hydrocarbons",
}
RISES = {
    "catalyst_temperature_rise": "Measured",
    "catalyst_expected_temperature_rise": "Expected from what was converted",
}
TO_COMPARE = "the same gases before and after the catalyst, and its temperatures on both sides"


# ---------------------------------------------------------------------- catalyst


@dataclass(frozen=True, slots=True, kw_only=True)
class Catalyst:
    """What the catalyst does, where readings of both sides are there."""

    where: str
    conversion: dict[str, Any] | None
    rise: dict[str, Any] | None
    says: tuple[str, ...]
    drop: tuple[tuple[str, dict[State, Said]], ...]
    """Pressure drop: title, and what stands there in each state."""


def catalysts(view: VisitView, system: System) -> tuple[Catalyst, ...]:
    """Return the catalyst of each bank that something is known of."""
    found = (_catalyst(view.worked, place, system) for place in BANKS)
    return tuple(one for one in found if one is not None)


def lacks_catalyst(view: VisitView) -> str:
    """Return what would fill the part on the catalyst; empty where the engine has none."""
    return TO_COMPARE if view.engine.content.get("catalyst") else ""


def _catalyst(worked: Worked, place: str, system: System) -> Catalyst | None:
    conversions = _rows(worked, place, CONVERSIONS)
    rises = _rows(worked, place, RISES)
    drop = tuple(
        (title_of(name), {state: say(one, system) for state, one in numbers.items()})
        for name in ("catalyst_pressure_drop", "catalyst_pressure_drop_ratio", "catalyst_pressure_drop_change")
        if (numbers := both_states(worked, place, name))
    )
    if not conversions and not rises and len(drop) < 2:
        return None
    where = place_words(place)
    return Catalyst(
        where=where,
        conversion=lanes_picture("Converted", conversions, "catalyst_conversion_co", system, whole=Band(0.0, 100.0))
        if conversions
        else None,
        rise=lanes_picture("Temperature rise", rises, "catalyst_temperature_rise", system) if len(rises) > 1 else None,
        says=tuple(_rise_says(worked, place, system)),
        drop=drop,
    )


def _rows(worked: Worked, place: str, names: Mapping[str, str]) -> list[tuple[str, dict[State, Number]]]:
    return [(title, numbers) for name, title in names.items() if (numbers := both_states(worked, place, name))]


def _rise_says(worked: Worked, place: str, system: System) -> Iterable[str]:
    for state, one in both_states(worked, place, "catalyst_rise_difference").items():
        if not isinstance(one, Result):
            continue
        lower = 1.0 if one.interval[1] < 0 else 0.0
        moved = change(one.value, one.interval, lower, one.quantity, system)
        head = sentence(STATE_WORDS[state])
        if not moved.sure:
            yield f"{head}: the rise is the one that belongs to what was converted ({moved.whole} apart)."
        elif moved.direction == "down":
            yield (
                f"{head}: the rise is smaller than what was converted would give, {moved.whole}: look for a leak, "
                "heat lost, or a thermocouple that reads low."
            )
        else:
            yield (
                f"{head}: the rise is greater than what was converted would give, {moved.whole}: something burns "
                "that was not read, or a thermocouple reads high."
            )


# ---------------------------------------------------------------------- the mixture that meets the limit


@dataclass(frozen=True, slots=True, kw_only=True)
class MixtureForLimit:
    """Lambda as it is, beside lambda at which NOx would just meet its limit."""

    where: str
    picture: dict[str, Any]
    says: tuple[str, ...]
    at_limit: dict[State, tuple[Said, Said | None]]
    """By state: lambda, and what the analyser would show of oxygen there."""


def mixtures_for_limit(view: VisitView, system: System) -> tuple[MixtureForLimit, ...]:
    """Return, where a limit of NOx and the readings allow it, the mixture that would just meet it."""
    found = (_for_limit(view, place, system) for place in BANKS)
    return tuple(one for one in found if one is not None)


def _for_limit(view: VisitView, place: str, system: System) -> MixtureForLimit | None:
    worked, name = view.worked, "excess_air_ratio_for_permit"
    limit = both_states(worked, place, name)
    if not limit:
        return None
    rows = [("Mixture now", both_states(worked, place, "excess_air_ratio")), ("Mixture at the limit", limit)]
    rows = [(title, numbers) for title, numbers in rows if numbers]
    target = number_at(worked, "as_found/engine/target_excess_air_ratio")
    more: dict[str, Any] = {}
    if target is not None:
        mark = mark_of(target, system)
        more["wanted"] = Band(*mark.ends)
    oxygen = both_states(worked, place, "exhaust_oxygen_for_permit")
    at_limit = {
        state: (say(one, system), say(oxygen[state], system) if state in oxygen else None)
        for state, one in limit.items()
    }
    return MixtureForLimit(
        where=place_words(place),
        picture=lanes_picture("Mixture now and at the limit", rows, "excess_air_ratio", system, **more),
        says=tuple(_leaner(state, *at_limit[state]) for state in limit),
        at_limit=at_limit,
    )


def _leaner(state: State, said: Said, oxygen: Said | None) -> str:
    """Say where the limit is met, and where it is met surely: leaner than the upper end of the interval."""
    beside = f", {oxygen.value} {oxygen.unit} dry oxygen on the analyser" if oxygen else ""
    upper = said.interval.split(" to ")[1] if said.interval else said.value
    return (
        f"{sentence(STATE_WORDS[state])}: NOx would just meet its limit at lambda {said.value}{beside}; leaner than "
        f"{upper} it surely would (97 in 100), by the local slope."
    )
