"""Slots in the maker-neutral words of the trade, for engines (or places) that no catalogue knows."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal, cast

from asfound.fitout.catalogue import CatalogueLook, Character, Slot, State
from asfound.sources.tables import load_yaml

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.engine_facts import EngineFacts

MOST_COUNTED = 48
"""Largest count that the form offers; any whole number to 99 may be typed."""
STATES: tuple[Literal["running", "stopped", "isolated"], ...] = ("running", "stopped", "isolated")


@dataclass(frozen=True, slots=True, kw_only=True)
class GenericLook:
    """A way of looking: state of the engine, what is seen, minutes (per piece where ``each``)."""

    state: str
    sees: str
    minutes: float
    each: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class GenericSlot:
    """A place that most gas engines have, with what can be said of it."""

    id: str
    title: str
    group: str
    characters: tuple[str, ...]
    looks: tuple[GenericLook, ...]
    hazards: tuple[str, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class GenericKnowledge:
    """The generic slots, the kinds of character with their meaning, and the numbering conventions."""

    slots: dict[str, GenericSlot]
    character_kinds: dict[str, str]
    numbering: dict[str, str]
    channel_examples: tuple[dict[str, Any], ...]


@lru_cache(maxsize=1)
def generic() -> GenericKnowledge:
    """Return the packaged generic knowledge (common practice, no source; minutes are judgement)."""
    data = load_yaml("asfound.fitout", "data/generic_slots.yaml")
    plain = data.plain() if hasattr(data, "plain") else data
    return GenericKnowledge(
        slots={one["id"]: _slot(one) for one in plain["slots"]},
        character_kinds=dict(plain["character_kinds"]),
        numbering={one["id"]: one["note"] for one in plain["numbering_conventions"]},
        channel_examples=tuple(plain["channel_examples"]),
    )


def _slot(one: dict[str, Any]) -> GenericSlot:
    return GenericSlot(
        id=one["id"],
        title=one["title"],
        group=one.get("group", "identity"),
        characters=tuple(one["characters"]),
        looks=tuple(GenericLook(**look) for look in one["looks"]),
        hazards=tuple(one.get("hazards", ())),
        note=one.get("note", ""),
    )


# ---------------------------------------------------------------------- as a book that forms and answers can use


@lru_cache(maxsize=1)
def generic_words() -> dict[str, Any]:
    """Return how generic slots are described and drawn (engineering judgement): characters, places, groups."""
    plain: dict[str, Any] = load_yaml("asfound.fitout", "data/generic_words.yaml")
    return plain


@lru_cache(maxsize=1)
def generic_slots() -> dict[str, Slot]:
    """Return the generic slots in the form of a catalogue's, without variants, free to be described in own words."""
    words = generic_words()
    characters = {one["id"]: _character(one) for one in words["characters"]}
    places = {one["id"]: one for one in words["places"]}
    return {name: _book_slot(one, places[name], characters) for name, one in generic().slots.items()}


@lru_cache(maxsize=1)
def group_order() -> dict[str, int]:
    """Return the order in which groups are looked at: identity, control, protection, then all others alike.

    Engineering judgement.
    """
    return {one["id"]: one["rank"] for one in generic_words()["groups"]}


def _character(one: dict[str, Any]) -> Character:
    kind = one.get("kind", "states")
    states = {name: State(id=name, **said) for name, said in one.get("states", {}).items()}
    if kind == "count":
        states = {str(n): State(id=str(n), title=str(n), picture="count") for n in range(MOST_COUNTED + 1)}
    return Character(id=one["id"], title=one["title"], states=states, kind=kind)


def _book_slot(one: GenericSlot, place: dict[str, Any], characters: dict[str, Character]) -> Slot:
    names = (*place.get("adds", ()), *one.characters)
    return Slot(
        id=one.id,
        title=one.title,
        group=one.group,
        side=place["side"],
        along=place["along"],
        drawn_as=place["kind"],
        where=place["words"],
        characters={name: characters[name] for name in names},
        looks=tuple(
            CatalogueLook(
                id=f"{look.state}_{n}" if n else look.state,
                state=look.state,
                minutes=look.minutes,
                sees=_shown(one, n),
                says=look.sees + (", each" if look.each else ""),
                hazards=one.hazards,
            )
            for n, look in enumerate(one.looks)
        ),
        variants={},
        hazards=one.hazards,
        evidence_only=one.id == "nameplate",
        free=True,
    )


def _shown(one: GenericSlot, n: int) -> tuple[str, ...]:
    """Return what a way of looking shows: the label is read at the way that speaks of it, the rest at the first."""
    nearer = [m for m, look in enumerate(one.looks) if m and "label" in look.sees]
    if n == 0:
        return tuple(name for name in one.characters if name != "label" or not nearer)
    return ("label",) if n in nearer else ()


def unlisted(catalogue: Catalogue, engine: EngineFacts) -> str:
    """Return why no family of a catalogue can be this engine, as a sentence; empty where one can.

    >>> from asfound.fitout.catalogue import load_catalogue
    >>> from asfound.fitout.identify import EngineFacts
    >>> unlisted(load_catalogue(), EngineFacts(tag="X9", layout="inline", cylinders=8))
    'No family of the catalogue is an in-line engine of 8 cylinders.'
    """
    if engine.family:
        if engine.family in catalogue.families:
            return ""
        known = ", ".join(catalogue.families) or "none"
        return f"No family of the catalogue is called '{engine.family}' (it knows {known})."
    for one in catalogue.families.values():
        if engine.layout in ("", one.layout) and engine.cylinders in (0, one.cylinders):
            return ""
    if not engine.layout and not engine.cylinders:
        return "The catalogue has no families."
    shape = {"inline": "an in-line engine", "vee": "a V engine", "": "an engine"}[engine.layout]
    return f"No family of the catalogue is {shape} of {engine.cylinders} cylinders."


def book_for(catalogue: Catalogue, engine: EngineFacts) -> Catalogue:
    """Return what this engine is described with: the catalogue, or the generic slots where none of its families fits.

    The book of an unlisted engine keeps name and digest of the catalogue that does not know it, what a stop costs, and
    the number in the block and what somebody says; nothing else of it is about this engine.
    """
    if not unlisted(catalogue, engine):
        return catalogue
    found = catalogue.compiled.get("generic book")
    if found is None:
        kept = {name: replace(one, free=True) for name, one in catalogue.slots.items() if name in ("block", "word")}
        found = catalogue.compiled["generic book"] = replace(
            catalogue,
            families={},
            generations={},
            kits={},
            shares=(),
            label_patterns={},
            slots={**generic_slots(), **kept},
            documents={},
            document_clashes=(),
            bulletins={},
            software={},
            spares={},
            interchange=(),
            rules=(),
        )
    return cast("Catalogue", found)


def slot_of(catalogue: Catalogue, name: str) -> Slot | None:
    """Return a slot of the catalogue, else the generic one of that name, else None."""
    return catalogue.slots.get(name) or generic_slots().get(name)


def beside(catalogue: Catalogue) -> tuple[str, ...]:
    """Return the generic slots for which a catalogue has no place."""
    return tuple(name for name in generic().slots if name not in catalogue.slots)
