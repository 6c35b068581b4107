"""Check a catalogue beyond its schema: what a writer would want to know before taking it to an engine.

The schema refuses what cannot be read; here is said what can be read and still will not work: entries that no look can
tell apart, cells left empty, states nobody has, priors that do not add up, generations without parts, parts nobody
uses.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict, dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from asfound.evidence.model import INAPPLICABLE
from asfound.fitout.model import in_model, native_shares

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue, Slot, Variant

SUM_TOLERANCE = 1e-6
SAME = 1e-9


@dataclass(frozen=True, slots=True)
class Remark:
    """Something a writer of a catalogue should know."""

    code: str
    """``CW-01`` ... (catalogue writing)."""
    weight: Literal["wrong", "doubt", "note"]
    where: str
    says: str
    try_next: str

    def as_dict(self) -> dict[str, Any]:
        """Return the fields."""
        return asdict(self)


def check_catalogue(catalogue: Catalogue) -> tuple[Remark, ...]:
    """Return all remarks, wrong ones first; an empty answer is a catalogue without a known flaw."""
    found = [
        *_shares(catalogue),
        *_hosts(catalogue),
        *_same_variants(catalogue),
        *_same_builds(catalogue),
        *_blank_cells(catalogue),
        *_idle_states(catalogue),
        *_native_sums(catalogue),
        *_apart_sums(catalogue),
        *_without_native(catalogue),
        *_unseen(catalogue),
        *_labels(catalogue),
        *_unused(catalogue),
        *_minutes(catalogue),
    ]
    order = ("wrong", "doubt", "note")
    return tuple(sorted(found, key=lambda one: (order.index(one.weight), one.code, one.where)))


def _shares(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-01: shares of generations that do not add up to 1; CW-02: families without shares."""
    covered: set[str] = set()
    for row in catalogue.shares:
        covered.update(row.families)
        total = sum(row.of.values())
        if abs(total - 1.0) > SUM_TOLERANCE:
            yield Remark(
                "CW-01",
                "wrong",
                f"shares of {', '.join(row.families)}, {row.driven}",
                f"The shares add up to {total:g}.",
                "Correct them: they are taken in proportion until then.",
            )
        for name in row.of:
            generation = catalogue.generations[name]
            wrong = [one for one in row.families if one not in generation.families]
            if wrong:
                yield Remark(
                    "CW-01",
                    "wrong",
                    f"shares of {', '.join(row.families)}, {row.driven}",
                    f"{generation.title} was not built for {', '.join(wrong)}.",
                    "Leave it out, or add the family to the generation.",
                )
            if generation.driven and row.driven not in generation.driven:
                yield Remark(
                    "CW-01",
                    "doubt",
                    f"shares of {', '.join(row.families)}, {row.driven}",
                    f"{generation.title} is for {', '.join(generation.driven)}.",
                    "Leave it out, or add the drive to the generation.",
                )
    for name in catalogue.families:
        if name not in covered:
            yield Remark(
                "CW-02",
                "doubt",
                f"family {name}",
                "No shares: all its generations are taken as equally common.",
                "Add a row of shares.",
            )


def _hosts(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-03: kits that together take more than all hosts."""
    for generation in catalogue.generations.values():
        total = sum(kit.hosts.get(generation.id, 0.0) for kit in catalogue.kits.values())
        if total > 1.0 + SUM_TOLERANCE:
            yield Remark(
                "CW-03",
                "wrong",
                f"kits on {generation.id}",
                f"Kits take {total:g} of its engines.",
                "Lower the shares of the hosts.",
            )


def _told(slot: Slot, variant: Variant) -> dict[str, dict[str, float]]:
    return {name: dict(variant.states.get(name, {})) for name, one in slot.characters.items() if in_model(one)}


def apart_by(slot: Slot, one: Variant, other: Variant) -> tuple[str, ...]:
    """Return the characters that some look of the slot shows and that tell two variants apart (half the time or
    more).
    """
    shown = {name for look in slot.looks for name in look.sees}
    found = []
    for name, character in slot.characters.items():
        if name not in shown or not in_model(character):
            continue
        a, b = one.states.get(name), other.states.get(name)
        if a is None or b is None:
            if character.kind == "count" and (one.units is None) != (other.units is None):
                found.append(name)
            continue
        if sum(abs(a.get(state, 0.0) - b.get(state, 0.0)) for state in {*a, *b}) / 2 >= 0.5:
            found.append(name)
    return tuple(found)


def _same_variants(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-04: variants of one slot that no look can tell apart."""
    for slot in catalogue.slots.values():
        for one, other in combinations(slot.variants.values(), 2):
            if not apart_by(slot, one, other):
                yield Remark(
                    "CW-04",
                    "doubt",
                    f"{slot.id}: {one.id} and {other.id}",
                    "No look tells these two apart.",
                    "Add a character that differs, or make them one variant.",
                )


def _same_builds(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-05: generations (with or without a kit) that no look at any place can tell apart."""
    builds = [(one.id, "") for one in catalogue.generations.values()]
    builds += [(host, kit.id) for kit in catalogue.kits.values() for host in kit.hosts]
    for one, other in combinations(builds, 2):
        shared = set(catalogue.generations[one[0]].families) & set(catalogue.generations[other[0]].families)
        if shared and not any(_slot_tells(slot, one, other) for slot in catalogue.slots.values() if not slot.apart):
            yield Remark(
                "CW-05",
                "wrong",
                f"{'+'.join(filter(None, one))} and {'+'.join(filter(None, other))}",
                "No look at any place tells these two builds apart.",
                "Give one of them a part that looks different.",
            )


def _slot_tells(slot: Slot, one: tuple[str, str], other: tuple[str, str]) -> bool:
    a, b = native_shares(slot, *one), native_shares(slot, *other)
    return (
        bool(a and b)
        and any(x != y and bool(apart_by(slot, slot.variants[x], slot.variants[y])) for x in a for y in b)
        and not set(a) & set(b)
    )


def _blank_cells(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-06: characters that a variant does not say (a blank weighs nothing; 'na' says that it cannot have it)."""
    for slot in catalogue.slots.values():
        for variant in slot.variants.values():
            for name, character in slot.characters.items():
                if (
                    in_model(character)
                    and name not in variant.states
                    and not (character.kind == "count" and variant.units)
                ):
                    yield Remark(
                        "CW-06",
                        "note",
                        f"{slot.id}: {variant.id}",
                        f"'{name}' is not said.",
                        "Say its state, or 'na' where it cannot have one.",
                    )


def _idle_states(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-07: states that no variant has."""
    for slot in catalogue.slots.values():
        if slot.evidence_only:
            continue
        for character in slot.characters.values():
            if character.kind != "states" or character.settings:
                continue
            had = {
                state
                for one in slot.variants.values()
                for state, p in one.states.get(character.id, {}).items()
                if p > 0
            }
            for state in character.states:
                if state not in had:
                    yield Remark(
                        "CW-07",
                        "doubt",
                        f"{slot.id}.{character.id}",
                        f"No variant shows '{state}'.",
                        "Give it to a variant, or leave it out.",
                    )


def _native_sums(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-08: shares of the native variants of a generation in a slot that do not add up to 1."""
    for slot in catalogue.slots.values():
        for name in catalogue.generations:
            total = sum(one.native.get(name, 0.0) for one in slot.variants.values())
            if total and abs(total - 1.0) > SUM_TOLERANCE:
                yield Remark(
                    "CW-08",
                    "wrong",
                    f"{slot.id}: native of {name}",
                    f"The shares add up to {total:g}.",
                    "Write native: {generation: share} with shares that add up to 1.",
                )


def _apart_sums(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-09: shares of the variants of a slot that stands apart and do not add up to 1."""
    from asfound.fitout.model import _share

    for slot in catalogue.slots.values():
        if not slot.apart:
            continue
        for family in catalogue.families.values():
            if slot.families and family.id not in slot.families:
                continue
            total = sum(_share(one, (family,)) for one in slot.variants.values())
            if abs(total - 1.0) > SUM_TOLERANCE:
                yield Remark(
                    "CW-09",
                    "wrong",
                    f"{slot.id} on {family.id}",
                    f"The shares add up to {total:g}.",
                    "Correct the shares.",
                )


def _without_native(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-10: a generation without a native variant in a slot (its engines are then 'not known' there)."""
    for slot in catalogue.slots.values():
        if slot.apart or slot.evidence_only:
            continue
        for name in catalogue.generations:
            if not any(one.native.get(name, 0.0) > 0 for one in slot.variants.values()):
                yield Remark(
                    "CW-10",
                    "doubt",
                    f"{slot.id}",
                    f"No variant is native to {name}.",
                    "Say what its engines were built with there.",
                )


def _unseen(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-11: characters that no look shows; CW-12: slots without a look that needs no stop."""
    for slot in catalogue.slots.values():
        shown = {name for look in slot.looks for name in look.sees}
        for name in slot.characters:
            if name not in shown:
                yield Remark(
                    "CW-11",
                    "doubt",
                    f"{slot.id}.{name}",
                    "No look shows it.",
                    "Add it to a look's 'sees'.",
                )
        if not any(look.state == "running" for look in slot.looks):
            yield Remark(
                "CW-12",
                "note",
                slot.id,
                "Every look at it needs a stop.",
                "Is there nothing to see from outside?",
            )


def _labels(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-13: label patterns that are the same."""
    for one, other in combinations(catalogue.label_patterns.values(), 2):
        if set(one.patterns) & set(other.patterns):
            yield Remark(
                "CW-13",
                "doubt",
                f"{one.id} and {other.id}",
                "The same pattern stands for two labels.",
                "Make them one, or say what differs.",
            )


def _unused(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-14: variants that belong to nobody; CW-15: a generation without documents."""
    for slot in catalogue.slots.values():
        for one in slot.variants.values():
            if not slot.apart and not one.native and not one.kits and not one.of:
                yield Remark(
                    "CW-14",
                    "doubt",
                    f"{slot.id}: {one.id}",
                    "It belongs to no generation and no kit.",
                    "Say native, kits, or of.",
                )
    scoped = {name for document in catalogue.documents.values() for name in document.scope}
    for name in (*catalogue.generations, *catalogue.kits):
        if name not in scoped:
            yield Remark(
                "CW-15",
                "note",
                name,
                "No document is written for it.",
                "Add its documents to the index.",
            )


def _minutes(catalogue: Catalogue) -> Iterator[Remark]:
    """CW-16: a look that needs a state of the engine of which the cost is not said."""
    for slot in catalogue.slots.values():
        for look in slot.looks:
            if look.state != "running" and look.state in catalogue.setups and catalogue.setups[look.state].minutes <= 0:
                yield Remark(
                    "CW-16",
                    "note",
                    f"{slot.id}.{look.id}",
                    f"Getting the engine {look.state} costs no minutes.",
                    "Say what a stop costs.",
                )


def distance(one: Variant, other: Variant, slot: Slot) -> float:
    """Return how far two variants look apart: the mean over the characters of the total variation of their states.
    [0 to 1]
    """
    a, b = _told(slot, one), _told(slot, other)
    parts = []
    for name in a:
        if not a[name] or not b[name]:
            continue
        states = {*a[name], *b[name]} - {INAPPLICABLE} or {INAPPLICABLE}
        parts.append(sum(abs(a[name].get(state, 0.0) - b[name].get(state, 0.0)) for state in states) / 2)
    return float(np.mean(parts)) if parts else 0.0
