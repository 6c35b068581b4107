"""The places of an engine: where they are, what sits there, to whom it belongs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from asfound.evidence.model import OTHER
from asfound.fitout.catalogue import Slot, Variant
from asfound.fitout.identification import Belongs, Looked, Place, PlaceBelief, VariantBelief
from asfound.fitout.looks import SeenLook
from asfound.fitout.model import BuildInfo, FitModel, native_shares
from asfound.fitout.words import band

if TYPE_CHECKING:
    from asfound.fitout.plate import PlateFacts

TITLE_OF_OTHER = "not in the catalogue"
FREE_END, DRIVING_END = 0.97, 0.03
SURE_OF_STRANGER = 0.5
"""A stranger is said to be one when it is more probable than not."""


def numbered(fit: FitModel) -> dict[str, tuple[int, Place]]:
    """Return tag number and place of each slot: clockwise, the left side from the flywheel end, then the right one
    back.

    Left and right are as seen from the flywheel end; a mirror-handed family changes sides over.
    """
    family = fit.families[0]
    found: list[tuple[str, Place]] = []
    statements = [one for one in fit.catalogue.slots.values() if one.evidence_only and one.id != "word"]
    for slot in (*fit.slots, *statements):
        along = slot.along
        if along is None:
            along = FREE_END if family.turbocharger_end == "free" else DRIVING_END
        side = slot.side
        if family.mirror_of:
            side = "right" if side == "left" else "left"
        found.append((slot.id, Place(side=side, along=along, kind=slot.drawn_as, words=slot.where)))
    spots = dict(found)
    return {name: (number, spots[name]) for number, name in enumerate(in_order(spots), 1)}


def in_order(spots: Mapping[str, Place]) -> list[str]:
    """Return places clockwise: up the left side from the flywheel end, back along the right; ties as they stand."""
    return sorted(
        spots,
        key=lambda name: (
            spots[name].side == "right",
            spots[name].along if spots[name].side == "left" else -spots[name].along,
        ),
    )


def belongs(slot: Slot, variant: str, build: BuildInfo | None) -> Belongs:
    """Return to whom a variant belongs in this place, given the leading build."""
    if variant == OTHER or build is None:
        return "unknown"
    if slot.apart:
        return "host"
    one = slot.variants[variant]
    if build.kit and build.kit in one.kits:
        return "kit"
    if variant in native_shares(slot, build.generation, build.kit) or one.native.get(build.generation, 0.0) > 0:
        return "host"
    return "stranger"


def _owned(fit: FitModel, slot: Slot, leader: BuildInfo | None) -> Mapping[str, Belongs]:
    """Return to whom each variant of a place belongs, kept with the model for the next time."""
    key = ("owned", slot.id, leader.name if leader else "")
    found = fit.kept.get(key)
    if not isinstance(found, dict):
        found = fit.kept[key] = {name: belongs(slot, name, leader) for name in (*slot.variants, OTHER)}
    return found


def owners(variant: Variant) -> tuple[str, ...]:
    """Return the generations and kits that a variant belongs to."""
    return tuple(dict.fromkeys((*variant.native, *variant.kits, *((variant.of,) if variant.of else ()))))


def place_beliefs(
    fit: FitModel,
    chances: Mapping[str, Mapping[str, float]],
    looks: Sequence[SeenLook],
    leader: BuildInfo | None,
    plate: PlateFacts,
) -> tuple[PlaceBelief, ...]:
    """Return all places in the order of their tags, then places of the generic list that somebody looked at.

    ``chances``: slot to variant to probability.
    """
    numbers = fit.kept.get("numbers")
    if not isinstance(numbers, dict):
        numbers = fit.kept["numbers"] = numbered(fit)
    by_slot: dict[str, list[SeenLook]] = {}
    for look in looks:
        by_slot.setdefault(look.slot, []).append(look)
    catalogued = {one.id: one for one in fit.slots}
    found = []
    for name, (number, place) in numbers.items():
        seen = tuple(by_slot.pop(name, ()))
        if name in catalogued:
            owned = _owned(fit, catalogued[name], leader)
            found.append(_part(catalogued[name], number, place, chances[name], seen, owned))
        else:
            found.append(_statement(fit, fit.catalogue.slots[name], number, place, seen, plate))
    for name, some in by_slot.items():
        if name != "word":
            found.append(_generic(name, len(found) + 1, tuple(some)))
    return tuple(found)


def looked(looks: Sequence[SeenLook]) -> Looked:
    """Return what the looks at a place come to: an answer outweighs 'could not judge'."""
    answers = {one.answer for one in looks}
    if "seen" in answers:
        return "seen"
    if "not_there" in answers:
        return "not_there"
    return "not_judged" if answers else "open"


def _part(
    slot: Slot,
    number: int,
    place: Place,
    chances: Mapping[str, float],
    looks: tuple[SeenLook, ...],
    owned: Mapping[str, Belongs],
) -> PlaceBelief:
    ranked = sorted(chances.items(), key=lambda pair: -pair[1])
    variants = tuple(
        VariantBelief(
            name=name,
            title=slot.variants[name].title if name != OTHER else TITLE_OF_OTHER,
            probability=chance,
            belongs=owned[name],
        )
        for name, chance in ranked
    )
    top, second = variants[0], variants[1]
    state = looked(looks)
    return PlaceBelief(
        slot=slot.id,
        number=number,
        title=slot.title,
        group=slot.group,
        place=place,
        looked=state,
        variant=top.name,
        title_of_variant=top.title,
        probability=top.probability,
        runner_up=second.name,
        title_of_runner_up=second.title,
        belongs=top.belongs,
        words="not in the catalogue" if top.name == OTHER else band(top.probability),
        variants=variants,
        looks=looks,
        striking=state in ("seen", "not_there")
        and top.belongs in ("stranger", "unknown")
        and top.probability >= SURE_OF_STRANGER,
    )


def _statement(
    fit: FitModel, slot: Slot, number: int, place: Place, looks: tuple[SeenLook, ...], plate: PlateFacts
) -> PlaceBelief:
    if slot.id == "nameplate":
        generations = [
            fit.catalogue.generations[one].title for one in plate.generation if one in fit.catalogue.generations
        ]
        parts = [*plate.family, f"works {plate.works_number}" if plate.works_number else "", " or ".join(generations)]
    else:
        parts = [f"works {plate.block_number}" if plate.block_number else ""]
    said = ", ".join(one for one in parts if one)
    return PlaceBelief(
        slot=slot.id,
        number=number,
        title=slot.title,
        group=slot.group,
        place=place,
        looked=looked(looks),
        variant="",
        title_of_variant=said or "not read",
        probability=1.0 if said else 0.0,
        runner_up="",
        title_of_runner_up="",
        belongs="host",
        words="settled" if said else "open",
        variants=(),
        looks=looks,
        evidence_only=True,
    )


def described(
    slot: Slot | None, name: str, number: int, place: Place, looks: tuple[SeenLook, ...], words: str
) -> PlaceBelief:
    """Return a place of which no catalogue has variants: what was seen is kept in its own words, nothing is weighed."""
    from asfound.fitout.words import free_words

    seen = [one for one in looks if one.answer == "seen"]
    said = dict.fromkeys((*(free_words(slot, replace(one, note="")) for one in seen), *(one.note for one in seen)))
    state = looked(looks)
    title = "; ".join(one for one in said if one)
    if not title and state != "open":
        title = {"not_there": "not there", "not_judged": "could not be judged"}.get(state, "as noted")
    evidence = bool(slot and slot.evidence_only)
    return PlaceBelief(
        slot=name,
        number=number,
        title=slot.title if slot else name,
        group=slot.group if slot else "any",
        place=place,
        looked=state,
        variant="",
        title_of_variant=title,
        probability=0.0,
        runner_up="",
        title_of_runner_up="",
        belongs="host" if evidence else "unknown",
        words="not in the catalogue" if words and state == "seen" and not evidence else "open",
        variants=(),
        looks=looks,
        evidence_only=evidence,
    )


def _generic(name: str, number: int, looks: tuple[SeenLook, ...]) -> PlaceBelief:
    """A place that this catalogue does not have."""
    from asfound.fitout.generic import generic_slots

    slot = generic_slots().get(name)
    place = (
        Place(side=slot.side, along=slot.along or 0.5, kind=slot.drawn_as, words=slot.where)
        if slot
        else Place(side="right", along=0.5, kind="unknown")
    )
    return described(slot, name, number, place, looks, "")
