"""Refuse a model that cannot be: names that clash or are unknown, probabilities that are none or do not add up."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from asfound.errors import InputError, UnknownNameError
from asfound.evidence.model import AS_BUILT, OTHER, TOLERANCE, probability

if TYPE_CHECKING:
    from asfound.evidence.model import Character, Lineage, Model, Slot

MEND = "Correct it in the catalogue."


def check_model(model: Model) -> None:
    """Raise InputError or UnknownNameError where the model cannot be."""
    unique("slots", (slot.name for slot in model.slots))
    unique("characters", (one.name for one in model.characters))
    unique("lineages", (one.name for one in model.lineages))
    for slot in model.slots:
        check_slot(model, slot)
    for lineage in model.lineages:
        check_lineage(model, lineage)
    for character in model.characters:
        check_character(model, character)
    for kind in model.kinds.values():
        probability(f"kinds/{kind.name}/error", kind.error)
        probability(f"kinds/{kind.name}/wrong", kind.source_wrong)
        probability(f"kinds/{kind.name}/slip", kind.source_slip)
    probability("unknown", model.unknown)
    if not 0.0 <= model.floor < 0.5:
        raise InputError("floor", f"{model.floor}", "is no floor", allowed="0 to 0.5", try_next=MEND)
    if not model.lineages:
        raise InputError("lineages", "", "are missing", try_next="Give at least one lineage.")
    adds_up("lineages/prior", {one.name: one.prior for one in model.lineages})
    if model.wrong_prior is not None:
        for name in model.wrong_prior:
            known("lineage", name, model.lineage_names)
        adds_up("wrong_prior", model.wrong_prior)


def check_slot(model: Model, slot: Slot) -> None:
    """Check variants and rates of one slot."""
    unique(f"slots/{slot.name}/variants", (variant.name for variant in slot.variants))
    if not slot.variants:
        raise InputError(f"slots/{slot.name}/variants", "", "are missing", try_next="Give at least one variant.")
    if any(variant.name == OTHER for variant in slot.variants):
        raise InputError(
            f"slots/{slot.name}/variants", OTHER, "is added to every slot by itself", try_next=f"Leave '{OTHER}' out."
        )
    mu = probability(f"slots/{slot.name}/mu", model.mu if slot.mu is None else slot.mu)
    w = probability(f"slots/{slot.name}/w", model.w if slot.w is None else slot.w)
    if mu + w > 1:
        raise InputError(
            f"slots/{slot.name}", f"mu {mu} + w {w}", "is above 1", allowed="mu + w up to 1", try_next=MEND
        )


def check_lineage(model: Model, lineage: Lineage) -> None:
    """Check prior and native variants of one lineage."""
    if lineage.name == OTHER:
        raise InputError("lineages", OTHER, "is added by itself", try_next="Set 'unknown' instead.")
    probability(f"lineages/{lineage.name}/prior", lineage.prior)
    for slot, native in lineage.native.items():
        names = model.variant_names(slot)
        shares = {native: 1.0} if isinstance(native, str) else native
        for variant in shares:
            known("variant", variant, names)
        adds_up(f"lineages/{lineage.name}/native/{slot}", shares)


def check_character(model: Model, one: Character) -> None:
    """Check states, catalogue, exclusions and background of one character."""
    at = f"characters/{one.name}"
    if one.name == AS_BUILT:
        raise InputError("characters", AS_BUILT, "is the lineage's own", try_next="Use another name.")
    names = model.variant_names(one.slot)
    unique(f"{at}/states", one.states)
    if len(one.states) < 2:
        raise InputError(
            f"{at}/states", ", ".join(one.states), "is no choice", allowed="two states or more", try_next=MEND
        )
    for variant, said in one.theta.items():
        known("variant", variant, names)
        shares = {said: 1.0} if isinstance(said, str) else said
        for state in shares:
            known("state", state, one.states)
        adds_up(f"{at}/theta/{variant}", shares)
        for state in one.excludes.get(variant, ()):
            if shares.get(state, 0.0) > 0:
                raise InputError(f"{at}/excludes/{variant}", state, "has a probability above 0 as well", try_next=MEND)
    for field, marks in (("excludes", one.excludes), ("misread", one.misread)):
        for variant, states in marks.items():
            known("variant", variant, names)
            for state in states:
                known("state", state, one.states)
            if field == "excludes" and len(set(states)) >= len(one.states):
                raise InputError(
                    f"{at}/excludes/{variant}", ", ".join(states), "leaves nothing that could be seen", try_next=MEND
                )
    if one.background is not None:
        for state in one.background:
            known("state", state, one.states)
        adds_up(f"{at}/background", one.background)


def adds_up(field: str, shares: Mapping[str, float]) -> None:
    """Check that shares are probabilities and add up to 1."""
    for name, share in shares.items():
        probability(f"{field}/{name}", share)
    total = sum(shares.values())
    if abs(total - 1.0) > TOLERANCE:
        raise InputError(field, f"{total:.9g}", "is what the shares add up to", allowed="1", try_next=MEND)


def known(kind: str, name: str, names: Iterable[str]) -> None:
    """Check that a name is declared."""
    names = tuple(names)
    if name not in names:
        raise UnknownNameError(kind, name, names)


def unique(field: str, names: Iterable[str]) -> None:
    """Check that no name stands twice."""
    seen: set[str] = set()
    for name in names:
        if name in seen:
            raise InputError(field, name, "stands there twice", try_next="Rename one of them.")
        seen.add(name)
