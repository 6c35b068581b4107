"""Why: weights that add up, what speaks against, why not another build, what the answer hangs on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.evidence.model import OTHER
from asfound.fitout.identification import Build, HangsOn, Weight, WhyNot
from asfound.fitout.looks import SeenLook
from asfound.fitout.next_looks import build_title
from asfound.fitout.words import in_100, look_how, look_says, state_title

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.evidence.explain import LeftOut as EvidenceLeftOut
    from asfound.evidence.explain import Weight as EvidenceWeight
    from asfound.evidence.explain import WhyNot as EvidenceWhyNot
    from asfound.fitout.model import FitModel
    from asfound.fitout.observed import Observed


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
        how="; ".join(dict.fromkeys(_how(seen, look) for look in looks)),
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


def _how(seen: Observed, look: SeenLook) -> str:
    said = look_how(look)
    if look.slot != "nameplate":
        return said
    doubts = []
    if seen.plate.rivets == "new":
        doubts.append("its rivets are newer than the paint")
    if seen.plate.number == "differs":
        doubts.append("its number is not the one in the block")
    return "; ".join((said, *doubts))


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


def why_not(fit: FitModel, seen: Observed, told: Sequence[EvidenceWhyNot], builds: Sequence[Build], winner: str) -> tuple[WhyNot, ...]:
    """Return why other builds are not the answer, and what each would need."""
    found = []
    chance = {one.name: one.probability for one in builds}
    for one in told:
        costs = tuple(weight(fit, seen, each, winner) for each in one.costs)
        found.append(
            WhyNot(
                build=one.lineage,
                title=build_title(fit, one.lineage),
                says=_why_not_words(fit, seen, one, costs),
                probability=chance.get(one.lineage, 0.0),
                cost=costs,
            )
        )
    return tuple(found)


def _why_not_words(fit: FitModel, seen: Observed, one: EvidenceWhyNot, costs: tuple[Weight, ...]) -> str:
    needs = _looks(seen, one.needs_wrong)
    if one.lineage == OTHER:
        return "Only if what was seen belongs to units that nobody has described; what was seen is usual for the catalogue."
    if not costs:
        return "Nothing seen speaks against it; it is rarer, or less of it was seen."
    if not needs:
        return f"Costs it most: {costs[0].says} ({costs[0].decibans:+.1f} dB)."
    names = "; ".join(look_says(fit.catalogue, look) for look in needs)
    count = "One look" if len(needs) == 1 else f"{len(needs)} looks"
    return f"{count} would have to be wrong{'' if len(needs) == 1 else ' at once'}: {names}."


def hangs_on(fit: FitModel, seen: Observed, told: Sequence[EvidenceLeftOut]) -> tuple[HangsOn, ...]:
    """Return the looks whose removal would change the leading build."""
    found = []
    for one in told:
        looks = _looks(seen, one.observations)
        found.append(
            HangsOn(
                says="; ".join(look_says(fit.catalogue, look) for look in looks) or ", ".join(one.observations),
                entry=next((look.entry for look in looks if look.entry), one.observations[0] if one.observations else ""),
                without=one.top,
                title=build_title(fit, one.top),
                probability=one.winner_probability,
            )
        )
    return tuple(found)
