"""The places of an engine: where they are, what sits there, to whom it belongs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
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
    order = {name: n for n, (name, _) in enumerate(found)}
    found.sort(
        key=lambda one: (
            one[1].side == "right",
            one[1].along if one[1].side == "left" else -one[1].along,
            order[one[0]],
        )
    )
    return {name: (number, place) for number, (name, place) in enumerate(found, 1)}


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
    numbers = numbered(fit)
    by_slot: dict[str, list[SeenLook]] = {}
    for look in looks:
        by_slot.setdefault(look.slot, []).append(look)
    catalogued = {one.id: one for one in fit.slots}
    found = []
    for name, (number, place) in numbers.items():
        seen = tuple(by_slot.pop(name, ()))
        if name in catalogued:
            found.append(_part(catalogued[name], number, place, chances[name], seen, leader))
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
    leader: BuildInfo | None,
) -> PlaceBelief:
    ranked = sorted(chances.items(), key=lambda pair: -pair[1])
    variants = tuple(
        VariantBelief(
            name=name,
            title=slot.variants[name].title if name != OTHER else TITLE_OF_OTHER,
            probability=chance,
            belongs=belongs(slot, name, leader),
        )
        for name, chance in ranked
    )
    top, second = variants[0], variants[1]
    state = looked(looks)
    owned: Belongs = top.belongs
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
        belongs=owned,
        words="not in the catalogue" if top.name == OTHER else band(top.probability),
        variants=variants,
        looks=looks,
        striking=state in ("seen", "not_there")
        and owned in ("stranger", "unknown")
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


def _generic(name: str, number: int, looks: tuple[SeenLook, ...]) -> PlaceBelief:
    """A place that this catalogue does not have: what was seen is kept in its own words."""
    from asfound.fitout.generic import generic

    known = generic().slots.get(name)
    words = [one.label or one.note or ", ".join(one.states) for one in looks if one.answer == "seen"]
    return PlaceBelief(
        slot=name,
        number=number,
        title=known.title if known else name,
        group=known.group if known else "any",
        place=Place(side="right", along=0.5, kind="unknown"),
        looked=looked(looks),
        variant="",
        title_of_variant="; ".join(one for one in words if one) or "as noted",
        probability=0.0,
        runner_up="",
        title_of_runner_up="",
        belongs="unknown",
        words="open",
        variants=(),
        looks=looks,
    )
