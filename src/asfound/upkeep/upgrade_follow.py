"""What an upgrade brings with it: what stays, what comes off and where it fits, documents, files, skills, bulletins."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.upkeep.upgrade import Build, Some
from asfound.upkeep.upgrade_file import OTHER, Target, UpgradeFile

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.catalogue_papers import Fits

MECHANICAL = "mechanical"
"""Subject of documents of the engine itself, which hold whatever its controls are."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaves:
    """A part that comes off."""

    slot: str
    title: str
    variant: str
    fate: str
    """``scrap``, ``store``, ``return``; ``open`` where the file does not say."""
    worth: float
    fits: tuple[str, ...]
    """Where else it fits: other engines, generations, rules of interchange."""
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Follow:
    """What an upgrade brings with it."""

    stays: tuple[str, ...]
    leaves: tuple[Leaves, ...]
    documents_new: tuple[str, ...]
    documents_gone: tuple[str, ...]
    software_new: tuple[str, ...]
    software_gone: tuple[str, ...]
    skills_new: tuple[str, ...]
    skills_gone: tuple[str, ...]
    bulletins_new: tuple[str, ...]


def follow(
    file: UpgradeFile, catalogue: Catalogue, target: Target, start: Build, end: Build, *, before: tuple[str, str],
    others: Mapping[str, Mapping[str, str]],
) -> Follow:  # fmt: skip
    """Return what follows; ``before`` is generation and kit as found, ``others`` the places of other engines."""
    then = target.generation, target.kit
    documents = _pair(_documents(catalogue, before), _documents(catalogue, then, of_the_engine=before))
    software = _pair(_software(catalogue, before, start), _software(catalogue, then, end))
    skills = _pair(_skills(file, start), _skills(file, end))
    bulletins = _pair(_bulletins(catalogue, start), _bulletins(catalogue, end))
    stays = tuple(
        f"{file.titles[slot]}: {file.titles.get(f'{slot}.{end[slot]}', end[slot])}"
        for slot in file.slots
        if start[slot] == end[slot]
    )
    return Follow(
        stays=stays, leaves=tuple(_leaves(file, catalogue, start, end, others)), documents_new=documents[0],
        documents_gone=documents[1], software_new=software[0], software_gone=software[1], skills_new=skills[0],
        skills_gone=skills[1], bulletins_new=bulletins[0],
    )  # fmt: skip


def _pair(before: Mapping[str, str], then: Mapping[str, str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what is new and what is gone, in words."""
    return (
        tuple(words for name, words in then.items() if name not in before),
        tuple(words for name, words in before.items() if name not in then),
    )


def _documents(
    catalogue: Catalogue, build: tuple[str, str], *, of_the_engine: tuple[str, str] = ("", "")
) -> dict[str, str]:
    """Return the documents of a build; those of the engine itself stay where the build brings none of its own."""
    owners = set(build) - {""}
    found = [one for one in catalogue.documents.values() if owners & set(one.scope)]
    if not any(one.subject == MECHANICAL for one in found):
        host = set(of_the_engine) - {""}
        found += [one for one in catalogue.documents.values() if one.subject == MECHANICAL and host & set(one.scope)]
    return {one.id: f"{one.id} ({one.revision}) {one.title}" for one in found}


def _software(catalogue: Catalogue, build: tuple[str, str], fitted: Build) -> dict[str, str]:
    return {
        one.id: f"{one.id} {one.title}"
        for one in catalogue.software.values()
        if set(one.written_for) & (set(build) - {""}) or _any_fits(one.with_variants, fitted)
    }


def _skills(file: UpgradeFile, fitted: Build) -> dict[str, str]:
    return {one.id: one.title for one in file.skills if _any_holds(one.needed_by, fitted)}


def _bulletins(catalogue: Catalogue, fitted: Build) -> dict[str, str]:
    return {
        one.id: f"{one.id} {one.title}: {one.says}"
        for one in catalogue.bulletins.values()
        if _any_fits(one.applies, fitted)
    }


def _any_fits(fits: Iterable[Fits], fitted: Build) -> bool:
    return any(fitted.get(one.slot) in one.variants for one in fits)


def _any_holds(some: Some, fitted: Build) -> bool:
    return any(fitted.get(place) in values for place, values in some.items())


def _leaves(
    file: UpgradeFile, catalogue: Catalogue, start: Build, end: Build, others: Mapping[str, Mapping[str, str]]
) -> Iterator[Leaves]:
    said = {(one.slot, one.variant): one for one in file.parts}
    for slot in file.slots:
        variant = start[slot]
        part = said.get((slot, variant))
        if variant == end[slot] or (part is not None and part.fate == "nothing"):
            continue
        yield Leaves(
            slot=slot, title=file.titles[slot], variant=file.titles.get(f"{slot}.{variant}", variant),
            fate=part.fate if part else "open", worth=part.worth if part else 0.0,
            fits=() if variant == OTHER else tuple(_fits(catalogue, slot, variant, others)),
            says=part.says if part else "What becomes of it is not said in the file.",
        )  # fmt: skip


def _fits(catalogue: Catalogue, slot: str, variant: str, others: Mapping[str, Mapping[str, str]]) -> Iterator[str]:
    for tag, places in others.items():
        if places.get(slot) == variant:
            yield f"engine {tag}, which has the same"
    known = catalogue.slots[slot].variants[variant]
    owners = [name for name, share in known.native.items() if share > 0.0] + list(known.kits)
    if owners:
        yield "engines with " + ", ".join(catalogue.owner_title(name) for name in owners)
    for rule in catalogue.interchange:
        if rule.direction != "no" and any(one.slot == slot and variant in one.variants for one in rule.concerns):
            way = "one way only" if rule.direction == "one_way" else "both ways"
            yield f"{rule.part} in place of {rule.in_place_of} ({way}): {rule.condition}"
