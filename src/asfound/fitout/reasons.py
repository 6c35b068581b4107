"""Why: weights that add up, what speaks against, why not another build, what the answer hangs on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.evidence.explain import leave_out, odds, prior_weight, weighed_up
from asfound.evidence.model import OTHER
from asfound.evidence.observations import NothingFits
from asfound.evidence.posterior import posterior
from asfound.evidence.witnesses import Witness, without, witnesses
from asfound.fitout.identification import Build, HangsOn, Weight, WhyNot
from asfound.fitout.labels import label_likelihoods, length_words
from asfound.fitout.looks import SeenLook
from asfound.fitout.next_looks import build_title
from asfound.fitout.words import in_100, look_how, look_says, state_title

if TYPE_CHECKING:
    from asfound.evidence.explain import LeftOut
    from asfound.evidence.explain import Weight as EvidenceWeight
    from asfound.evidence.posterior import Belief
    from asfound.fitout.model import FitModel
    from asfound.fitout.observed import Observed

MOST_COSTS = 3
MOST_WRONG = 4
"""Looks that would have to be wrong at once: beyond this many they are not counted out."""
MOST_OTHERS = 3
LIKELY = 0.75
MAY_TURN = 0.25
"""A look is tried for 'hangs on' when its weight is at least this part of the whole; lighter ones cannot turn it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reasons:
    """The reasons of one identification."""

    weights: tuple[Weight, ...]
    total: float
    prior: float
    leader: str
    runner_up: str
    why_not: tuple[WhyNot, ...]
    hangs_on: tuple[HangsOn, ...]


def explained(fit: FitModel, seen: Observed, belief: Belief, builds: Sequence[Build]) -> Reasons:
    """Return why the leader leads: weights against the runner-up (they and the prior add up), why not others, what
    it hangs on.
    """
    arrays = fit.model.compiled
    place = {name: n for n, name in enumerate(fit.model.lineage_names)}
    leader, second = builds[0].name, builds[1].name
    winner, runner_up = place[leader], place[second]
    _, told = weighed_up(arrays, belief, winner, runner_up)
    total = odds(belief, winner, runner_up)
    by_ids = {one.ids: one for one in witnesses(belief.observations)}
    heavy = [one for one in told if one.decibans >= MAY_TURN * total and one.decibans > 0]
    left = [leave_out(arrays, belief.observations, by_ids[one.observations], winner) for one in heavy]
    return Reasons(
        weights=weights(fit, seen, told, leader),
        total=total,
        prior=prior_weight(arrays, winner, runner_up),
        leader=leader,
        runner_up=second,
        why_not=tuple(_why_not(fit, seen, belief, by_ids, one, leader, place) for one in builds[1 : 1 + MOST_OTHERS]),
        hangs_on=hangs_on(fit, seen, [one for one in left if _carries(one, builds[0].probability)]),
    )


def _carries(one: LeftOut, probability: float) -> bool:
    """Return whether the answer hangs on a look: without it another build leads, or the leader is no longer likely."""
    return one.changes_top or one.winner_probability < LIKELY <= probability


def _why_not(
    fit: FitModel,
    seen: Observed,
    belief: Belief,
    by_ids: Mapping[tuple[str, ...], Witness],
    build: Build,
    leader: str,
    place: dict[str, int],
) -> WhyNot:
    _, told = weighed_up(fit.model.compiled, belief, place[leader], place[build.name])
    costly = [one for one in told if one.decibans > 0]
    costs = tuple(weight(fit, seen, one, leader) for one in costly[:MOST_COSTS])
    lead = odds(belief, place[leader], place[build.name])
    needs = _would_need(fit, belief, by_ids, costly, leader, build.name, lead)
    return WhyNot(
        build=build.name,
        title=build.title,
        says=_why_not_words(fit, seen, build, needs, costs),
        probability=build.probability,
        cost=costs,
    )


def _would_need(
    fit: FitModel,
    belief: Belief,
    by_ids: Mapping[tuple[str, ...], Witness],
    costly: Sequence[EvidenceWeight],
    leader: str,
    build: str,
    lead: float,
) -> tuple[str, ...] | None:
    """Return the looks, the costliest first, without which the other build would lead; None where these few do not do.

    The weights add up, so their running sum says where to begin trying.
    """
    gone: list[Witness] = []
    for one in costly[:MOST_WRONG]:
        gone.append(by_ids[one.observations])
        lead -= one.decibans
        if lead > 0:
            continue
        try:
            without_them = posterior(fit.model, without(belief.observations, *gone)).lineages
        except NothingFits:
            continue
        if without_them[build] > without_them[leader]:
            return tuple(name for each in gone for name in each.ids)
    return None


def weights(fit: FitModel, seen: Observed, told: Sequence[EvidenceWeight], winner: str) -> tuple[Weight, ...]:
    """Return the weights in words, largest first; looks that one source gave stand together."""
    found = [weight(fit, seen, one, winner) for one in told]
    return tuple(sorted(found, key=lambda one: (-abs(one.decibans), one.entry)))


def weight(fit: FitModel, seen: Observed, one: EvidenceWeight, winner: str) -> Weight:
    """Return one weight in words."""
    looks = _looks(seen, one.observations)
    says = "; ".join(dict.fromkeys(look_says(fit.catalogue, look) for look in looks)) or ", ".join(one.observations)
    return Weight(
        says=says,
        how="; ".join(dict.fromkeys(_how(fit, seen, look) for look in looks)),
        decibans=one.decibans,
        against=one.decibans < 0,
        instead=_instead(fit, one, winner) if one.decibans < 0 else "",
        entry=next((look.entry for look in looks if look.entry), one.observations[0] if one.observations else ""),
        slot=looks[0].slot if looks else "",
    )


def _looks(seen: Observed, ids: Sequence[str]) -> list[SeenLook]:
    found: list[SeenLook] = []
    for name in ids:
        look = seen.looks.get(name)
        if look is not None and look not in found:
            found.append(look)
    return found


def _how(fit: FitModel, seen: Observed, look: SeenLook) -> str:
    said = look_how(look)
    if look.label and look.slot in fit.catalogue.slots and not fit.catalogue.slots[look.slot].evidence_only:
        return "; ".join(one for one in (said, label_words(fit, look.slot, look.label)) if one)
    if look.slot != "nameplate":
        return said
    doubts = []
    if seen.plate.rivets == "new":
        doubts.append("its rivets are newer than the paint")
    if seen.plate.number == "differs":
        doubts.append("its number is not the one in the block")
    return "; ".join((said, *doubts))


def label_words(fit: FitModel, slot: str, label: str) -> str:
    """Say which patterns a label fits as far as it was read, and how the next best one differs.

    Only patterns that some variant of the place bears are spoken of.
    """
    characters = [one for one in fit.catalogue.slots[slot].characters.values() if one.kind == "label"]
    if not characters:
        return ""
    borne = {
        state for one in fit.catalogue.slots[slot].variants.values() for state in one.states.get(characters[0].id, {})
    }
    patterns = {
        name: state.patterns for name, state in characters[0].states.items() if name in borne and state.patterns
    }
    chances = label_likelihoods(label, patterns)
    ranked = sorted(patterns, key=lambda name: -chances[name])[:2]
    if not ranked or chances[""] == 1.0:
        return "fits no pattern of the catalogue"
    return "; ".join(f"{patterns[name][0]} {length_words(label, patterns[name][0])}" for name in ranked)


def _instead(fit: FitModel, one: EvidenceWeight, winner: str) -> str:
    parts = []
    for name, state, chance in one.instead:
        slot, _, character = name.partition(".")
        if slot in fit.catalogue.slots and character:
            words = state_title(fit.catalogue.slots[slot], character, state)
        else:
            words = fit.catalogue.generations[state].title if state in fit.catalogue.generations else state
        parts.append(f"{words} ({in_100(chance)})")
    return f"{build_title(fit, winner)} would have shown: {'; '.join(parts)}" if parts else ""


def _why_not_words(
    fit: FitModel, seen: Observed, build: Build, needs: tuple[str, ...] | None, costs: tuple[Weight, ...]
) -> str:
    if build.name == OTHER:
        return "Only if what was seen belongs to units that nobody has described."
    if not costs:
        return "Nothing seen speaks against it; it is rarer to begin with."
    if needs is None:
        names = "; ".join(one.says for one in costs)
        return f"More than {MOST_WRONG} looks would have to be wrong at once. Against it most: {names}."
    looks = _looks(seen, needs)
    names = "; ".join(look_says(fit.catalogue, look) for look in looks)
    if len(looks) == 1:
        return f"One look would have to be wrong: {names}."
    return f"{len(looks)} looks would have to be wrong at once: {names}."


def hangs_on(fit: FitModel, seen: Observed, told: Sequence[LeftOut]) -> tuple[HangsOn, ...]:
    """Return the looks whose removal would change the leading build."""
    found = []
    for one in told:
        looks = _looks(seen, one.observations)
        found.append(
            HangsOn(
                says="; ".join(look_says(fit.catalogue, look) for look in looks) or ", ".join(one.observations),
                entry=next(
                    (look.entry for look in looks if look.entry), one.observations[0] if one.observations else ""
                ),
                without=one.top,
                title=build_title(fit, one.top),
                probability=one.winner_probability,
            )
        )
    return tuple(found)
