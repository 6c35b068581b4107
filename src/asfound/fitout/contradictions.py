"""What cannot be right together on one engine, what belongs to nobody, and what the catalogue does not know.

Every code has its paragraph in ``docs/findings/FT.md``. Both sides of a contradiction are kept; nothing is decided
here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

from asfound.evidence.model import OTHER
from asfound.fitout.catalogue_papers import Rule, RuleLine
from asfound.fitout.identification import Build, Contradiction, PlaceBelief
from asfound.fitout.identification_follows import ChannelsFollow
from asfound.fitout.looks import SeenLook
from asfound.fitout.places import owners
from asfound.fitout.plate import PlateFacts
from asfound.fitout.words import in_100, look_says

if TYPE_CHECKING:
    from asfound.fitout.engine_facts import EngineFacts
    from asfound.fitout.model import FitModel

PROBABLE = 0.5
"""A contradiction that rests on belief is said when it is more probable than not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What the rules look at."""

    fit: FitModel
    engine: EngineFacts
    looks: Sequence[SeenLook]
    plate: PlateFacts
    builds: tuple[Build, ...]
    places: tuple[PlaceBelief, ...]
    unlisted: bool
    """The whole is not in the catalogue."""
    nearest: Build
    channels: ChannelsFollow | None

    @property
    def leader(self) -> Build:
        """Leading build."""
        return self.builds[0]

    def place(self, slot: str) -> PlaceBelief | None:
        """Return a place, or None where the engine has none."""
        return next((one for one in self.places if one.slot == slot), None)

    def looks_at(self, *slots: str) -> tuple[SeenLook, ...]:
        """Return the looks at these slots."""
        return tuple(one for one in self.looks if one.slot in slots)

    def sentences(self, *slots: str) -> tuple[str, ...]:
        """Return what was seen at these slots, as sentences."""
        return tuple(f"{look_says(self.fit.catalogue, one)}." for one in self.looks_at(*slots))


def contradictions(seen: Seen) -> tuple[Contradiction, ...]:
    """Return all contradictions, in the order of their codes."""
    found = [
        *_plate_generation(seen),
        *plate_clashes(seen.plate),
        *_channels(seen),
        *_unlisted(seen),
        *_kit(seen),
        *_strangers(seen),
        *_rules(seen),
        *_witnesses(seen),
        *_unlisted_places(seen),
        *_family(seen),
    ]
    return tuple(sorted(found, key=lambda one: one.code))


def _entries(looks: Sequence[SeenLook]) -> tuple[str, ...]:
    return tuple(one.entry for one in looks if one.entry)


def _plate_generation(seen: Seen) -> Iterator[Contradiction]:
    """FT-01: the plate names another generation than the hardware shows."""
    plate = seen.plate
    if not plate.generation or seen.unlisted:
        return
    apart = sum(
        one.probability for one in seen.builds if one.kind != "other" and one.generation not in plate.generation
    )
    if apart < PROBABLE or not any(one.looked == "seen" and not one.evidence_only for one in seen.places):
        return  # before anybody looked there is no hardware that could contradict the plate
    known = seen.fit.catalogue.generations
    titles = " or ".join(seen.fit.catalogue.owner_title(one) if one in known else one for one in plate.generation)
    hardware = tuple(
        f"{one.title}: {one.title_of_variant}."
        for one in seen.places
        if not one.evidence_only and one.looked == "seen" and one.belongs in ("host", "kit") and one.probability >= 0.75
    )[:4]
    yield Contradiction(
        code="FT-01",
        says=f"The nameplate says {titles}; the hardware is {seen.leader.title}.",
        because=(f"Plate: {_plate_words(seen)}.", *hardware),
        next_step="Believe the hardware; keep the plate as evidence and have it corrected through the owner.",
        places=("nameplate",),
        entries=plate.entries,
        probability=apart,
    )


def _plate_words(seen: Seen) -> str:
    place = seen.place("nameplate")
    return place.title_of_variant if place else ""


def plate_clashes(plate: PlateFacts) -> Iterator[Contradiction]:
    """FT-02: the works number in the block is not the one on the plate; FT-16: its rivets are newer than the paint."""
    if plate.number == "differs":
        yield Contradiction(
            code="FT-02",
            says=f"The plate says works {plate.works_number}; works {plate.block_number} is stamped in the block.",
            because=("A number stamped in the crankcase stays with the engine; a plate can be moved.",),
            next_step=(
                f"Keep the record under {plate.block_number}; look for the engine that bears {plate.works_number}."
            ),
            places=("nameplate", "block"),
            entries=plate.entries,
        )
    if plate.rivets == "new":
        yield Contradiction(
            code="FT-16",
            says="The rivets of the nameplate are newer than the paint.",
            because=("A plate that was taken off may have been put on another engine.",),
            next_step="Read the works number stamped in the block.",
            places=("nameplate",),
            entries=plate.entries,
            severity="note",
        )


def _family(seen: Seen) -> Iterator[Contradiction]:
    """FT-17: the plate names another family than the engine is."""
    family = seen.fit.family
    if family and seen.plate.family and family.id not in seen.plate.family:
        yield Contradiction(
            code="FT-17",
            says=f"The plate says {' or '.join(seen.plate.family)}; the engine is held to be {family.id}.",
            because=(f"{family.title}: {family.layout}, {family.cylinders} cylinders.",),
            next_step="Count cylinders and turbochargers, and read the number in the block.",
            places=("nameplate",),
            entries=seen.plate.entries,
        )


def _channels(seen: Seen) -> Iterator[Contradiction]:
    """FT-03: the number of units seen does not fit the channels of the engine."""
    channels = seen.channels
    if channels is None or channels.agrees is not False:
        return
    place = seen.place("temperature_inputs")
    if place is not None and place.belongs != "host":
        return
    bearing = seen.place("tc_bearing")
    open_bearing = bearing is not None and bearing.looked == "open"
    yield Contradiction(
        code="FT-03",
        says=channels.says,
        because=(f"Channels: {channels.formula}.", *seen.sentences("temperature_inputs")),
        next_step=(
            "Look for cables at the crankcase doors: are the main bearings measured? "
            "Then look for traces of a part conversion."
            if open_bearing
            else "Find where the missing thermocouples end, and whether the engine was part-converted."
        ),
        places=("temperature_inputs",),
        entries=_entries(seen.looks_at("temperature_inputs")),
    )


def _unlisted(seen: Seen) -> Iterator[Contradiction]:
    """FT-04: the whole is not in the catalogue."""
    if not seen.unlisted:
        return
    strange = [one for one in seen.places if one.variant == OTHER and one.looked in ("seen", "not_there")]
    yield Contradiction(
        code="FT-04",
        says=f"What steers this engine is not in the catalogue. Nearest is {seen.nearest.title}.",
        because=tuple(f"{look_says(seen.fit.catalogue, one.looks[0])}." for one in strange[:6]),
        next_step=(
            "Describe each place with the generic slots, photograph and draw the wiring, "
            "and draft a first catalogue entry from this visit."
        ),
        places=tuple(one.slot for one in strange),
        entries=_entries([look for one in strange for look in one.looks]),
        probability=next(one.probability for one in seen.builds if one.kind == "other"),
    )


def _kit(seen: Seen) -> Iterator[Contradiction]:
    """FT-05: part-converted: a field kit on an older host."""
    leader = seen.leader
    if seen.unlisted or not leader.kit or leader.probability < PROBABLE:
        return
    kit = seen.fit.catalogue.kits[leader.kit]
    parts = [one for one in seen.places if one.belongs == "kit"]
    found = [one for one in parts if one.looked == "seen"]
    host = seen.fit.catalogue.owner_title(leader.generation)
    plate = ""
    if seen.plate.generation and leader.generation in seen.plate.generation:
        plate = " The plate is right about the host and silent about the set."
    yield Contradiction(
        code="FT-05",
        says=(
            f"Part-converted: {host} host with {kit.title}; {len(found)} of {len(parts)} places of the set seen.{plate}"
        ),
        because=tuple(f"{one.title}: {one.title_of_variant}." for one in found),
        next_step="Take documents, files and spares place by place: the host's for the host, the set's for the set.",
        places=tuple(one.slot for one in parts),
        entries=_entries([look for one in found for look in one.looks]),
        probability=leader.probability,
        severity="note",
    )


def _strangers(seen: Seen) -> Iterator[Contradiction]:
    """FT-06: a place holds a unit that belongs neither to the host nor to a kit on it."""
    if seen.unlisted:
        return
    for one in seen.places:
        stranger = sum(each.probability for each in one.variants if each.belongs == "stranger")
        if one.belongs != "stranger" or one.looked not in ("seen", "not_there") or stranger < PROBABLE:
            continue
        variant = seen.fit.catalogue.slots[one.slot].variants[one.variant]
        whose = " or ".join(seen.fit.catalogue.owner_title(name) for name in owners(variant)) or "nobody known"
        yield Contradiction(
            code="FT-06",
            says=(
                f"{one.title}: {one.title_of_variant}. It belongs to {whose}; "
                f"the rest of the engine is {seen.nearest.title}."
            ),
            because=tuple(f"{look_says(seen.fit.catalogue, look)}." for look in one.looks),
            next_step="Treat this place by its own documents; ask who fitted it, when, and what was set for it.",
            places=(one.slot,),
            entries=_entries(one.looks),
            probability=stranger,
        )


def _unlisted_places(seen: Seen) -> Iterator[Contradiction]:
    """FT-15: one place holds something that the catalogue does not know, on an engine that it does know."""
    if seen.unlisted:
        return
    for one in seen.places:
        if one.variant == OTHER and one.looked in ("seen", "not_there") and one.probability >= PROBABLE:
            yield Contradiction(
                code="FT-15",
                says=f"{one.title}: what was seen there is not in the catalogue.",
                because=tuple(f"{look_says(seen.fit.catalogue, look)}." for look in one.looks),
                next_step="Photograph it, read its label, and add a variant to the catalogue.",
                places=(one.slot,),
                entries=_entries(one.looks),
                probability=one.probability,
            )


def _witnesses(seen: Seen) -> Iterator[Contradiction]:
    """FT-14: two looks at one thing exclude each other."""
    told = [one for one in seen.looks if one.answer != "not_judged" and (one.states or one.answer == "not_there")]
    for one, other in combinations(told, 2):
        if one.slot != other.slot or one.slot in ("word", "block"):
            continue
        same = one.character == other.character or "not_there" in (one.answer, other.answer)
        if not same or _states(seen, one) & _states(seen, other) or _character(seen, one) != _character(seen, other):
            continue
        yield Contradiction(
            code="FT-14",
            says=f"Two witnesses disagree about the {seen.fit.catalogue.slots[one.slot].title.lower()}.",
            because=tuple(
                f"{look_says(seen.fit.catalogue, each)} ({each.by or each.source or each.how})."
                for each in (one, other)
            ),
            next_step="Look once more, nearer than both; keep both statements.",
            places=(one.slot,),
            entries=_entries((one, other)),
        )


def _character(seen: Seen, look: SeenLook) -> str:
    if look.answer != "not_there" or look.slot not in seen.fit.catalogue.slots:
        return look.character
    from asfound.fitout.observed import absent_state

    return absent_state(seen.fit.catalogue.slots[look.slot], look.character)[0].id


def _states(seen: Seen, look: SeenLook) -> set[str]:
    if look.answer == "not_there" and look.slot in seen.fit.catalogue.slots:
        from asfound.fitout.observed import absent_state

        return {absent_state(seen.fit.catalogue.slots[look.slot], look.character)[1]}
    return set(look.states)


def _rules(seen: Seen) -> Iterator[Contradiction]:
    """FT-07, FT-08, FT-13: rules of the catalogue about things that cannot be right together."""
    for rule in seen.fit.catalogue.rules:
        if (chance := rule_chance(seen, rule)) < PROBABLE:
            continue
        slots = tuple(dict.fromkeys(line.slot for line in rule.when))
        bulletin = f" Bulletin {rule.bulletin}." if rule.bulletin else ""
        yield Contradiction(
            code=rule.code,
            says=rule.says,
            because=seen.sentences(*slots) or (f"Believed with {in_100(chance)}.",),
            next_step=rule.next_step + bulletin,
            places=slots,
            entries=_entries(seen.looks_at(*slots)),
            probability=chance if any(line.variants for line in rule.when) else None,
            severity=rule.severity,
            cautions=rule.cautions,
        )


def rule_chance(seen: Seen, rule: Rule) -> float:
    """Return the chance that a rule applies: lines about variants by belief, lines about states by what was seen."""
    chance = 1.0
    for line in rule.when:
        chance *= _line_chance(seen, line)
    for line in rule.unless:
        chance *= 1.0 - _line_chance(seen, line)
    return chance


def _line_chance(seen: Seen, line: RuleLine) -> float:
    if line.character:
        shown = [
            set(look.states)
            for look in seen.looks
            if look.slot == line.slot and look.character == line.character and look.answer == "seen" and look.states
        ]
        return 1.0 if shown and all(states <= set(line.states) for states in shown) else 0.0
    place = seen.place(line.slot)
    if place is None or place.looked == "open":  # a rule speaks about what somebody has looked at
        return 0.0
    return sum(one.probability for one in place.variants if one.name in line.variants)
