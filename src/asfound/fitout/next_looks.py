"""Which looks are offered: every character of every place by every way the catalogue gives, with its state, minutes,
hazards.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from asfound import evidence as ev
from asfound.evidence.model import AS_BUILT, OTHER
from asfound.fitout.catalogue import CatalogueLook, Slot
from asfound.fitout.identification import LookGroup, NextLook, Outcome, StopLooking
from asfound.fitout.model import FitModel, character_key, in_model
from asfound.fitout.seeing import COULD_NOT_TELL, FROM_OUTSIDE, kind_name
from asfound.fitout.words import in_100, state_title

if TYPE_CHECKING:
    from asfound.evidence.posterior import Belief
    from asfound.fitout.engine_facts import EngineFacts

ORDER = ("running", "stopped", "isolated")
OUTCOMES_SHOWN = 3
WORTH_A_LINE = 1e-3
"""Looks that take away less than this are not listed. [bit]"""
SETTLED = 0.95
MOST_LISTED, MOST_NOT_ALLOWED = 8, 5
"""Looks that are listed, of those allowed now and of those not."""


@dataclass(frozen=True, slots=True)
class Offer:
    """A look that can be offered, and where it comes from."""

    look: ev.Look
    slot: Slot
    way: CatalogueLook
    character: str


def offers(fit: FitModel, allowed: Sequence[str]) -> tuple[Offer, ...]:
    """Return all looks; those whose state of the engine is not allowed now carry the reason."""
    found: list[Offer] = []
    for slot in fit.slots:
        for way in slot.looks:
            found += [
                _offer(slot, way, name, (character_key(slot.id, name),), allowed)
                for name in way.sees
                if in_model(slot.characters[name])
            ]
    plate = fit.catalogue.slots.get("nameplate")
    if plate and len(fit.builds) > 1:
        found += [
            _offer(plate, way, "generation", (AS_BUILT,), allowed, kind="plate", source="nameplate")
            for way in plate.looks
        ]
    return tuple(found)


def _offer(
    slot: Slot,
    way: CatalogueLook,
    name: str,
    reveals: tuple[str, ...],
    allowed: Sequence[str],
    kind: str = "",
    source: str | None = None,
) -> Offer:
    outside = way.how in FROM_OUTSIDE
    may = way.state in allowed
    look = ev.Look(
        id=f"{slot.id}.{way.id}.{name}",
        reveals=reveals,
        kind=kind or kind_name(way.how, "m"),
        minutes=way.minutes,
        setup=None if way.state == "running" else way.state,
        allowed=may,
        why_not="" if may else not_allowed_words(way.state),
        undecided_chance=COULD_NOT_TELL["outside" if outside else "at_the_part"],
        source=source,
    )
    return Offer(look, slot, way, name)


def not_allowed_words(state: str) -> str:
    """Return why a look that needs this state of the engine is not allowed now."""
    return {
        "running": "needs the engine running",
        "stopped": "needs a stop of the engine",
        "isolated": "needs the engine stopped and isolated",
    }[state]


def setups(fit: FitModel, state: str) -> tuple[ev.Setup, ...]:
    """Return what looks need first; what the engine's present state has paid already costs nothing more."""
    reached = ORDER.index(state)
    return tuple(
        ev.Setup(one.id, one.minutes, one.risk_minutes, paid=ORDER.index(one.id) <= reached)
        for one in fit.catalogue.setups.values()
        if one.id != "running"
    )


@dataclass(frozen=True, slots=True)
class Offers:
    """The looks for one kind of engine and the states allowed now, made once: the inference keeps its tables by
    them.
    """

    by_id: Mapping[str, Offer]
    build: tuple[ev.Look, ...]
    apart: Mapping[str, tuple[ev.Look, ...]]
    """Looks at each place that stands apart from the build."""
    setups: tuple[ev.Setup, ...]


def offers_for(fit: FitModel, state: str, allowed: Sequence[str]) -> Offers:
    """Return the looks on offer, kept with the model for the next time."""
    key = (state, tuple(allowed))
    found = fit.kept.get(key)
    if not isinstance(found, Offers):
        by_id = {one.look.id: one for one in offers(fit, allowed)}
        apart = [one.id for one in fit.slots if one.apart]
        found = Offers(
            by_id=by_id,
            build=tuple(one.look for one in by_id.values() if one.slot.id not in apart),
            apart={name: tuple(one.look for one in by_id.values() if one.slot.id == name) for name in apart},
            setups=setups(fit, state),
        )
        fit.kept[key] = found
    return found


def ranked_looks(
    fit: FitModel,
    engine: EngineFacts,
    belief: Belief,
    apart: Belief | None,
    allowed: Sequence[str],
    numbers: Mapping[str, int],
) -> tuple[tuple[NextLook, ...], tuple[LookGroup, ...], StopLooking | None]:
    """Return the next looks (allowed ones first, by worth per minute), the groups behind a set-up, and whether to stop.

    Places that stand apart from the build are ranked for themselves: they take no doubt from the build, but from the
    documents, spares and limits that hang on them.
    """
    on_offer = offers_for(fit, engine.state, allowed)
    # Looking two steps ahead costs more than the rest together; where the build is settled the order matters no more.
    ahead: bool | Literal["auto"] = "auto" if belief.lineages[belief.top] < SETTLED else False
    ranking = ev.rank(fit.model, belief, on_offer.build, on_offer.setups, lookahead=ahead)
    ranked = [(one, "") for one in (*ranking.looks, *ranking.not_allowed) if one.bits >= WORTH_A_LINE]
    if fit.apart is not None and apart is not None:
        for slot in unsettled(apart, on_offer.apart):
            alone = ev.rank(fit.apart, apart, on_offer.apart[slot], on_offer.setups, target=slot, lookahead=False)
            ranked += [(one, slot) for one in (*alone.looks, *alone.not_allowed) if one.bits >= WORTH_A_LINE]
    order = {name: n for n, name in enumerate(on_offer.by_id)}
    ranked.sort(key=lambda pair: (not pair[0].allowed, bool(pair[1]), -pair[0].score, order[pair[0].id]))
    found = tuple(
        next_look(fit, on_offer.by_id[one.id], one, numbers.get(on_offer.by_id[one.id].slot.id, 0), about)
        for one, about in (
            *[p for p in ranked if p[0].allowed][:MOST_LISTED],
            *[p for p in ranked if not p[0].allowed][:MOST_NOT_ALLOWED],
        )
    )
    return found, tuple(look_group(fit, one) for one in ranking.groups), stop_looking(ranking.stop)


def unsettled(belief: Belief, slots: Iterable[str]) -> tuple[str, ...]:
    """Return the places among these that are not settled."""
    return tuple(name for name in slots if max(belief.slots[name].values()) < SETTLED)


def next_look(fit: FitModel, offer: Offer, ranked: ev.RankedLook, number: int, about: str = "") -> NextLook:
    """Return a ranked look in the words of the trade."""
    outcomes = tuple(
        Outcome(
            state=one.states[0],
            title=_outcome_title(fit, offer, one.states[0]),
            probability=one.probability,
            leader="" if about else one.top,
            title_of_leader="" if about else build_title(fit, one.top),
            leader_probability=0.0 if about else one.top_probability,
        )
        for one in ranked.outcomes
    )
    character = offer.slot.characters[offer.character]
    return NextLook(
        id=offer.look.id,
        slot=offer.slot.id,
        character=offer.character,
        number=number,
        title=f"{offer.slot.title}: {character.title[0].lower()}{character.title[1:]}",
        says=_says(outcomes, again=ranked.again, where=offer.slot.where, about=about),
        about=about,
        minutes=offer.way.minutes,
        state_needed=offer.way.state,  # type: ignore[arg-type]
        allowed=ranked.allowed,
        why_not=ranked.why_not,
        bits=ranked.bits,
        share_of_doubt=ranked.share_of_doubt,
        outcomes=outcomes,
        hazards=tuple(dict.fromkeys((*offer.way.hazards, *offer.slot.hazards))),
    )


def _outcome_title(fit: FitModel, offer: Offer, state: str) -> str:
    if offer.look.reveals == (AS_BUILT,):
        return (
            f"it says {fit.catalogue.owner_title(state)}"
            if state in fit.catalogue.generations
            else "it names none of these"
        )
    return state_title(offer.slot, offer.character, state)


def _says(outcomes: tuple[Outcome, ...], *, again: bool, where: str, about: str) -> str:
    if about:
        return f"Not for the build, but for what hangs on this place. Where: {where}."
    parts = [
        f"{one.title[0].upper()}{one.title[1:]}: {one.title_of_leader}, {in_100(one.leader_probability)}"
        for one in outcomes[:OUTCOMES_SHOWN]
    ]
    first = "Look again, another way. " if again else ""
    return f"{first}{'. '.join(parts)}. Where: {where}." if parts else f"{first}Where: {where}."


def build_title(fit: FitModel, name: str) -> str:
    """Return the title of a build; ``other`` is 'not in the catalogue'."""
    found = fit.build(name)
    return found.title if found else "not in the catalogue" if name == OTHER else name


def look_group(fit: FitModel, group: ev.RankedGroup) -> LookGroup:
    """Return the looks behind one set-up, in words."""
    setup = fit.catalogue.setups[group.setup]
    return LookGroup(
        state_needed=group.setup,
        title=setup.title,
        minutes=group.minutes,
        bits=group.bits,
        share_of_doubt=group.share_of_doubt,
        looks=group.looks,
        allowed=group.allowed,
        why_not=group.why_not,
    )


def stop_looking(stop: ev.Stop | None) -> StopLooking | None:
    """Return why to stop, in the words of the page."""
    return None if stop is None else StopLooking(reason=stop.reason, says=stop.says)
