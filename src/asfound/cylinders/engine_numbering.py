"""The numbering of one engine, as its record holds it, beside that of the people who run it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from asfound.cylinders.numbering import Convention, Layout, Position, counted_from, names
from asfound.errors import InputError


@dataclass(frozen=True, slots=True)
class Numbered:
    """A cylinder of an engine with both its numbers."""

    place: str
    """Where its readings lie: ``cylinder_L1``."""
    position: Position
    builder: str
    operator: str
    """The same as ``builder`` where the site counts as the builder does."""


def layout_of(engine: Mapping[str, Any]) -> Layout | None:
    """Return the layout in the engine's record; None where nobody has written it down, or where it cannot be."""
    layout = engine.get("layout") or {}
    if not layout.get("cylinders") or not layout.get("form"):
        return None
    try:
        return Layout(layout["form"], int(layout["cylinders"]))
    except InputError:  # an odd number in two rows: no reason to find nothing at all
        return None


def engine_convention(engine: Mapping[str, Any]) -> Convention:
    """Return how the builder counts, by the engine's record."""
    given = engine.get("numbering") or {}
    return Convention(
        title="as the builder counts",
        first_at=given.get("first_at") or "free_end",
        names=given.get("names") or "1",
        sides_seen_from=given.get("sides_seen_from") or "driving_end",
        seen=given.get("source") or "nobody has said who counts so",
    )


def operator_convention(engine: Mapping[str, Any]) -> Convention | None:
    """Return how the site counts, where that is from the other end; None where it counts as the builder does."""
    own = engine_convention(engine)
    end = (engine.get("numbering") or {}).get("operator_counts_from") or own.first_at
    return None if end == own.first_at else counted_from(own, end)


def both_numbers(engine: Mapping[str, Any]) -> tuple[Numbered, ...]:
    """Return each cylinder with both numbers, from the driving end on, left row first; empty without a layout."""
    layout = layout_of(engine)
    if layout is None:
        return ()
    own, site = engine_convention(engine), operator_convention(engine)
    builder = names(layout, own)
    operator = builder if site is None else names(layout, site)
    places = {position: place for place, position in place_positions(engine).items()}
    return tuple(
        Numbered(places[position], position, builder[position], operator[position]) for position in layout.positions
    )


def place_positions(engine: Mapping[str, Any]) -> dict[str, Position]:
    """Return where the place of a reading stands on the engine.

    Readings lie at ``cylinder_L1``, ``cylinder_R1`` on a V engine and at ``cylinder_1`` in line, whatever the letters
    that the builder paints; the number and the sides are the builder's.
    """
    layout = layout_of(engine)
    if layout is None:
        return {}
    own = engine_convention(engine)
    lettered = Convention(title=own.title, first_at=own.first_at, names="L1", sides_seen_from=own.sides_seen_from)
    return {f"cylinder_{name}": position for position, name in names(layout, lettered).items()}


def rows(engine: Mapping[str, Any]) -> dict[str, tuple[str, ...]]:
    """Return the places of the cylinders of each bank, from the driving end on.

    The bank is named as the builder's readings name it: its letter L is ``left_bank``.
    """
    found: dict[str, list[str]] = {}
    for place in place_positions(engine):
        letter = place.removeprefix("cylinder_")[0]
        found.setdefault({"L": "left_bank", "R": "right_bank"}.get(letter, "engine"), []).append(place)
    return {bank: tuple(places) for bank, places in found.items()}
