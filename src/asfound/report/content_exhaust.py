"""What the exhaust's page and the report show of catalyst and of the mixture that meets the limit: plain values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.exhaust.mixture_setting import WARNINGS, setting_for
from asfound.quantities.register import quantity
from asfound.quantities.words import STATES, Result
from asfound.report.agreement import Lane
from asfound.report.axis import Band, Mark
from asfound.report.changes import change
from asfound.report.content_lanes import MARKS, STATE_WORDS, both_states, lanes_picture, mark_of, number_at
from asfound.report.wording import interval_of, place_words, say, sentence, title_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from asfound.quantities.words import Limit, State
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
    """Lambda as it is, beside lambda at which NOx would just meet a limit, and what to set to be sure."""

    where: str
    limit: str
    picture: dict[str, Any]
    says: tuple[tuple[str, str], ...]
    """State in words, and the setting with what it rests on."""
    warnings: tuple[str, ...]


def mixtures_for_limit(view: VisitView, system: System) -> tuple[MixtureForLimit, ...]:
    """Return, where a limit of NOx and the readings allow it, the mixture that would meet it."""
    limits = [one for one in view.limits if quantity(one.quantity).species == "NOx" and one.side == "upper"]
    found = [_for_limit(view, limit, place, system) for limit in limits for place in BANKS]
    return tuple(one for one in found if one is not None)


def _for_limit(view: VisitView, limit: Limit, place: str, system: System) -> MixtureForLimit | None:
    if limit.place not in ("", place):
        return None
    before = view.previous.worked if view.previous else None
    found = {state: setting_for(view.worked, limit, place=place, state=state, previous=before) for state in STATES}
    settings = {state: one for state, one in found.items() if one is not None}
    if not settings:
        return None
    rows = [
        _row("Mixture now", {state: Mark(one.ratio, *_around(view, state, place)) for state, one in settings.items()}),
        _row("NOx just at its limit", {state: _range(one.target_interval) for state, one in settings.items()}),
        _row("To set, to be inside with 95 in 100", {s: Mark(one.target_ratio) for s, one in settings.items()}),
    ]
    target = number_at(view.worked, "as_found/engine/target_excess_air_ratio")
    spoken = "; ".join(f"{STATE_WORDS[state]} {one.says}" for state, one in settings.items())
    said = {state: one.says for state, one in settings.items()}
    if len(settings) > 1:
        said["as_found"] += " From the readings before the change: kept for comparison, not to be set."
        said["as_left"] += " From the readings after the change: this is the one to set."
    return MixtureForLimit(
        where=place_words(place),
        limit=f"{limit.name} {limit.as_typed}",
        picture={
            "rows": rows,
            "label": f"The mixture that meets the {limit.name} {limit.as_typed}: {spoken}",
            "unit_words": "lambda",
            "wanted": Band(*mark_of(target, system).ends) if target is not None else None,
        },
        says=tuple((sentence(STATE_WORDS[state]), one) for state, one in said.items()),
        warnings=WARNINGS,
    )


def _around(view: VisitView, state: State, place: str) -> tuple[float, float] | tuple[()]:
    """Return the ends of the mixture's bar."""
    number = number_at(view.worked, f"{state}/{place}/excess_air_ratio")
    return interval_of(number) if number is not None else ()


def _row(title: str, marks: Mapping[State, Mark]) -> Lane:
    values = " and ".join(f"{one.value:.3f}" for one in marks.values())
    return Lane(f"{title}: {values}", tuple((MARKS[state], one) for state, one in marks.items()))


def _range(ends: tuple[float, float]) -> Mark:
    """Return a range that is known by its ends as a mark in its middle."""
    return Mark((ends[0] + ends[1]) / 2, *ends)
