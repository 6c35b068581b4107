"""What follows from the belief: documents, software, spares, channels, interchange, bulletins, plain consequences.

Everything carries its own probability, because it rests on places and builds that are believed, not known.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from asfound.fitout.catalogue_papers import Document, Fits, HardwareCheck, Software, Spare
from asfound.fitout.identification import Build, PlaceBelief
from asfound.fitout.identification_follows import (
    BulletinFollows,
    ChannelsFollow,
    DocumentFollows,
    Follows,
    InterchangeFollows,
    SoftwareFollows,
    SpareFollows,
)
from asfound.fitout.looks import SeenLook
from asfound.fitout.places import owners
from asfound.fitout.words import in_100

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.engine_facts import EngineFacts
    from asfound.fitout.model import FitModel

APPLIES = 0.5
WORTH_SAYING = 0.05
"""Below this probability a file is not worth a line."""
WORTH_A_SPARE = 0.20


@dataclass(frozen=True, kw_only=True)
class Ground:
    """What the consequences rest on."""

    fit: FitModel
    engine: EngineFacts
    looks: Sequence[SeenLook]
    builds: tuple[Build, ...]
    places: tuple[PlaceBelief, ...]
    nearest: Build
    unlisted: bool

    @property
    def catalogue(self) -> Catalogue:
        """The catalogue."""
        return self.fit.catalogue

    @cached_property
    def by_slot(self) -> Mapping[str, Mapping[str, float]]:
        """Slot to variant to probability."""
        return {one.slot: {each.name: each.probability for each in one.variants} for one in self.places}

    def of_scope(self, scope: Iterable[str]) -> float:
        """Return the probability that the build's generation or kit is one of these."""
        scope = set(scope)
        return sum(one.probability for one in self.builds if one.generation in scope or (one.kit and one.kit in scope))

    def holds(self, fits: Iterable[Fits]) -> float:
        """Return the probability that a place holds one of these variants: that of the most probable place."""
        by_slot = self.by_slot
        return max((sum(by_slot.get(one.slot, {}).get(v, 0.0) for v in one.variants) for one in fits), default=0.0)

    def stranger_in(self, scope: Iterable[str], slots: Iterable[str]) -> PlaceBelief | None:
        """Return a place of these slots that was seen to hold a unit of one of these owners, foreign to the build."""
        scope, slots = set(scope), set(slots)
        for one in self.places:
            if one.slot not in slots or not one.striking or one.belongs != "stranger":
                continue
            if scope.intersection(owners(self.catalogue.slots[one.slot].variants[one.variant])):
                return one
        return None


def follows(ground: Ground, channels: ChannelsFollow | None) -> Follows:
    """Return everything that follows."""
    return Follows(
        documents=tuple(_documents(ground)),
        software=tuple(_software(ground)),
        spares=tuple(_spares(ground, channels)),
        channels=channels,
        interchange=tuple(_interchange(ground)),
        bulletins=tuple(_bulletins(ground)),
        notes=tuple(_notes(ground)),
    )


def _documents(ground: Ground) -> Iterator[DocumentFollows]:
    papers = dict(_paper(one) for one in ground.engine.papers)
    related = _related(ground)
    for one in ground.catalogue.documents.values():
        chance, says, part = ground.of_scope(one.scope), "", "host"
        if ground.nearest.kit and ground.nearest.kit in one.scope:
            part = "both" if ground.nearest.generation in one.scope else "kit"
        stranger = ground.stranger_in(one.scope, one.slots)
        if stranger and stranger.probability > chance:
            chance, says = stranger.probability, f"for the {stranger.title.lower()} only"
        applies = chance >= APPLIES and not ground.unlisted
        if ground.unlisted and one.subject == "mechanical" and ground.nearest.generation in one.scope:
            applies, says = True, "for the engine itself; nothing in it is for these controls"
        if not applies and one.id not in papers and (ground.unlisted or not related.intersection(one.scope)):
            continue
        paper, found = _paper_state(one, papers.get(one.id), applies)
        yield DocumentFollows(
            id=one.id,
            title=one.title,
            revision=one.revision,
            scope=", ".join(ground.catalogue.owner_title(name) for name in one.scope),
            applies=applies,
            probability=chance,
            says="; ".join(each for each in (says or _document_words(ground, one, applies), found) if each),
            part=part,  # type: ignore[arg-type]
            contradicts=_contradicts(ground, one) if applies else "",
            paper=paper,
        )


def _contradicts(ground: Ground, one: Document) -> str:
    """Return how this document contradicts another one, told once: by the first of them."""
    for clash in ground.catalogue.document_clashes:
        if one.id == clash.documents[0]:
            return f"{clash.about}: {clash.says}"
    return ""


def _related(ground: Ground) -> set[str]:
    """Return the generations whose papers are mistaken for those of this build.

    Those that share a document with it, and the one that the plate names.
    """
    own = {ground.nearest.generation, ground.nearest.kit} - {""}
    found = {ground.engine.plate.get("generation", "")} | {
        state
        for look in ground.looks
        if look.slot == "nameplate" and look.character == "generation"
        for state in look.states
    }
    for one in ground.catalogue.documents.values():
        if own.intersection(one.scope):
            found.update(name for name in one.scope if name in ground.catalogue.generations)
    return found - own - {""}


def _document_words(ground: Ground, one: Document, applies: bool) -> str:
    if not applies:
        whose = " and ".join(ground.catalogue.owner_title(name) for name in one.scope)
        return f"not for this build: for {whose}"
    replaced = [
        place.title.lower()
        for place in ground.places
        if place.slot in one.slots and place.belongs in ("kit", "stranger")
    ]
    if (
        replaced
        and ground.nearest.kit not in one.scope
        and not all(name in ground.catalogue.kits for name in one.scope)
    ):
        return f"not for: {', '.join(replaced)} (replaced)"
    return ""


def _paper(text: str) -> tuple[str, str]:
    name, _, revision = text.strip().partition(" ")
    return name, revision.strip()


def _paper_state(
    one: Document, revision: str | None, applies: bool
) -> tuple[Literal["", "right", "older", "wrong"], str]:
    """Return what to think of the paper in the cupboard, and the words for it; None: there is none."""
    if revision is None:
        return "", ""
    if not applies:
        return "wrong", "lies in the cupboard: wrong branch"
    if revision and revision < one.revision:
        return "older", f"in the cupboard: revision {revision}, older than {one.revision}"
    return "right", "in the cupboard"


def _software(ground: Ground) -> Iterator[SoftwareFollows]:
    if ground.unlisted:
        return
    leader = {ground.nearest.generation, ground.nearest.kit} - {""}
    for one in ground.catalogue.software.values():
        chance = max(ground.of_scope(one.written_for), ground.holds(one.with_variants))
        refuses = bool(leader.intersection(one.refuses))
        fits = chance >= APPLIES
        if chance < WORTH_SAYING and not refuses:
            continue
        places = {each.slot for each in one.with_variants}
        checked = tuple(_checked(ground, each, places) for each in one.checks)
        yield SoftwareFollows(
            id=one.id,
            title=one.title,
            fits=fits,
            probability=chance,
            checks=tuple(each.says for each in one.checks),
            checked=checked,
            says=_software_words(one, fits, refuses, checked),
        )


def _software_words(one: Software, fits: bool, refuses: bool, checked: tuple[bool, ...]) -> str:
    if refuses and not fits:
        return one.refuses_says or "refuses this hardware"
    if not fits:
        return "not for this build, as it is believed now"
    first = "Save what is loaded before anything else."
    left = checked.count(False)
    still = f"{left} of {len(checked)} hardware facts still to be checked on the part."
    return f"{first} {still if left else 'Hardware facts checked.'}"


def _checked(ground: Ground, check: HardwareCheck, places: set[str]) -> bool:
    """Return whether a look near enough has shown the fact; ``places``: where such a unit may sit besides its own
    slot.
    """
    return any(
        look.slot in {check.slot, *places}
        and look.character == check.character
        and look.answer == "seen"
        and look.how in ("read", "in_hand", "at_part")
        and (set(look.states) <= set(check.states) if check.states else bool(look.states))
        and bool(look.states)
        for look in ground.looks
    )


def _spares(ground: Ground, channels: ChannelsFollow | None) -> Iterator[SpareFollows]:
    for one in ground.catalogue.spares.values():
        chance = ground.holds(one.fits)
        stored = one.id in ground.engine.in_store
        many = quantity(one, ground, channels)
        if not stored and (ground.unlisted or many == 0 or chance < WORTH_A_SPARE):
            continue
        yield SpareFollows(
            id=one.id,
            title=one.title,
            quantity=many,
            probability=chance,
            fits=chance >= APPLIES,
            says=_spare_words(stored, chance),
            slot=one.fits[0].slot if one.fits else "",
            condition=one.condition,
            in_store=stored,
        )


def _spare_words(stored: bool, chance: float) -> str:
    where = "in the store; " if stored else ""
    if chance >= APPLIES:
        return f"{where}fits, {in_100(chance)}"
    if chance >= WORTH_A_SPARE:
        return f"{where}may fit, {in_100(chance)}"
    return f"{where}does not fit, {in_100(1.0 - chance)}"


def quantity(one: Spare, ground: Ground, channels: ChannelsFollow | None) -> int:
    """Return how many of a spare this engine carries."""
    if isinstance(one.quantity, int):
        return one.quantity
    family = ground.fit.families[0]
    if one.quantity == "per_strip":
        size = next((each for each in (5, 7) if one.id.endswith(str(each))), 0)
        return sum(group.units.count(size) for group in channels.groups) if channels else 0
    return {"per_cylinder": family.cylinders, "per_two_cylinders": -(-family.cylinders // 2), "per_row": family.rows}[
        one.quantity
    ]


def _interchange(ground: Ground) -> Iterator[InterchangeFollows]:
    family = ground.fit.family
    rows = [
        (one, ground.holds(one.concerns) >= APPLIES)
        for one in ground.catalogue.interchange
        if not one.families or (family is not None and family.id in one.families)
    ]
    for one, concerns in sorted(rows, key=lambda pair: not pair[1]):
        yield InterchangeFollows(
            id=one.id,
            part=one.part,
            other=one.in_place_of,
            direction=one.direction,
            condition=one.condition,
            concerns=concerns,
            setting=one.setting,
        )


def _bulletins(ground: Ground) -> Iterator[BulletinFollows]:
    titles = {one.slot: one.title for one in ground.places}
    for one in ground.catalogue.bulletins.values():
        if one.hydrogen_sulphide_above is not None and not one.applies:
            content = ground.engine.hydrogen_sulphide
            over = content is not None and content > one.hydrogen_sulphide_above
            because = (
                "hydrogen sulphide of the gas is not known here: see the gas analysis"
                if content is None
                else f"hydrogen sulphide {100 * content:.4g} mol %, limit {100 * one.hydrogen_sulphide_above:.4g} mol %"
            )
            yield BulletinFollows(
                id=one.id, title=one.title, applies=over, probability=float(over), says=one.says, because=because
            )
            continue
        chance = ground.holds(one.applies)
        if chance >= WORTH_SAYING:
            because = ", ".join(titles[each.slot].lower() for each in one.applies if each.slot in titles)
            yield BulletinFollows(
                id=one.id,
                title=one.title,
                applies=chance >= APPLIES,
                probability=chance,
                says=one.says,
                because=f"{because}: {in_100(chance)}",
            )


def _notes(ground: Ground) -> Iterator[str]:
    if ground.unlisted:
        yield (
            "No document, file or spare of the catalogue is for these controls: ask for the papers of whoever built "
            "them; own notes, photographs and a drawing of the wiring are its record. "
            "Mark every wire before one is taken off."
        )
    family = ground.fit.family
    if family is not None and family.mirror_of:
        sister = ground.catalogue.families[family.mirror_of]
        yield (
            f"Mirror-handed: on {family.id} number 1 is at the {family.counted_from} end, on {sister.id} at the "
            f"{sister.counted_from} end (its number 1 is the other's {family.cylinders}). Say with every cylinder "
            "which way it is counted."
        )
    for place in ground.places:
        slot = ground.catalogue.slots.get(place.slot)
        if slot is None or place.variant not in slot.variants or place.probability < APPLIES:
            continue
        if consequence := slot.variants[place.variant].consequence:
            yield f"{place.title} ({in_100(place.probability)}): {consequence}"
