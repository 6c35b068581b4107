"""Slots in the maker-neutral words of the trade, for engines (or places) that no catalogue knows."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from asfound.sources.tables import load_yaml


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
