"""Thermocouple channels of an engine as it is believed to be, beside what was counted."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from asfound.fitout.channels import ChannelPlan, UnitsNeeded, units_needed
from asfound.fitout.identification import PlaceBelief
from asfound.fitout.identification_follows import ChannelGroup, ChannelsFollow
from asfound.fitout.looks import SeenLook

if TYPE_CHECKING:
    from asfound.fitout.engine_facts import EngineFacts
    from asfound.fitout.model import FitModel


def channels_follow(
    fit: FitModel, engine: EngineFacts, places: Sequence[PlaceBelief], looks: Sequence[SeenLook]
) -> ChannelsFollow | None:
    """Return the thermocouple channels that this engine needs, what holds them, and whether the count seen agrees."""
    if fit.plan is None or fit.plan_without_bearings is None:
        return None
    place = next((one for one in places if one.slot == "temperature_inputs"), None)
    planned = fit.plan_without_bearings if _bearings_out(engine, places) else fit.plan
    seen = count_seen(looks)
    slot = fit.catalogue.slots.get("temperature_inputs")
    variant = slot.variants.get(place.variant) if place and slot else None
    if variant is None or variant.units is None:
        return counted_only(planned, seen, f"{planned.formula} thermocouple channels needed.")
    needed = units_needed(planned, variant.units)
    sizes = " or ".join(str(size) for size in variant.units.entries)
    agrees = None if seen is None else seen == needed.units
    return ChannelsFollow(
        channels=planned.total,
        formula=planned.formula,
        kind=f"{variant.units.kind}s of {sizes}",
        groups=tuple(
            ChannelGroup(title=title, channels=channels, units=units, free=sum(units) - channels)
            for title, channels, units in needed.groups
        ),
        units=needed.units,
        entries=needed.entries,
        free=needed.free,
        seen=seen,
        agrees=agrees,
        says=_channel_words(variant.units.kind, needed, seen, units_needed(fit.plan_without_bearings, variant.units)),
    )


def counted_only(planned: ChannelPlan, seen: int | None, says: str) -> ChannelsFollow:
    """Return the channels by the count alone, where no kind of unit is known that would take them."""
    return ChannelsFollow(
        channels=planned.total,
        formula=planned.formula,
        kind="",
        groups=plain_groups(planned),
        units=0,
        entries=0,
        free=0,
        seen=seen,
        agrees=None,
        says=says,
    )


def plain_groups(planned: ChannelPlan) -> tuple[ChannelGroup, ...]:
    """Return the groups of a plan where the units that hold them are not known."""
    return tuple(ChannelGroup(title=title, channels=n, units=(), free=0) for _, title, n in planned.groups)


def _bearings_out(engine: EngineFacts, places: Sequence[PlaceBelief]) -> bool:
    """Return whether the bearings are known not to be measured (the record says so, or it was seen)."""
    if engine.bearings_measured is not None:
        return not engine.bearings_measured
    place = next((one for one in places if one.slot == "tc_bearing"), None)
    return (
        place is not None and place.looked != "open" and place.variant == "not_measured" and place.probability >= 0.75
    )


def count_seen(looks: Sequence[SeenLook], slot: str = "temperature_inputs") -> int | None:
    """Return the count of units at a place, where one look (the last with one number) says it."""
    for look in reversed(looks):
        if look.slot == slot and look.character == "count" and look.answer == "seen" and len(look.states) == 1:
            return int(look.states[0]) if look.states[0].isdigit() else None
    return None


def _channel_words(kind: str, needed: UnitsNeeded, seen: int | None, without: UnitsNeeded) -> str:
    plural = "" if needed.units == 1 else "s"
    entries = f"{needed.entries} entries for {needed.channels} channels, {needed.free} free"
    kinds = f"{kind}{plural}"
    many = f"{needed.units} {kinds} with {entries}"
    if seen is None:
        return f"{many}; not counted yet."
    if seen == needed.units:
        return f"{many}; agrees with the {seen} seen."
    said = f"{many} are needed, {seen} {'was' if seen == 1 else 'were'} seen."
    if seen == without.units and without.units != needed.units:
        fits = f"({without.channels} channels, {without.free} free)"
        return f"{said} That fits if the main bearings are not measured {fits}; or the engine is part-converted."
    why = "Some thermocouples end elsewhere" if seen < needed.units else "More than the engine needs"
    return f"{said} {why}, or the engine is part-converted."
