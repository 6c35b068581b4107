"""How far a nameplate can be believed: it is one witness, right about this engine or speaking of another.

Two things move that chance before a word on it is weighed: new rivets, and a works number in the block that differs
from the plate's (Bayes' rule with the catalogue's rates).
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from asfound.evidence.model import Kind

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue, Rates
    from asfound.fitout.engine_facts import EngineFacts
    from asfound.fitout.looks import SeenLook

SLIP = 0.02
"""Reading error on a plate that is right."""
RIVETS = ("", "old", "new")
NUMBERS = ("", "same", "differs")


@dataclass(frozen=True, slots=True, kw_only=True)
class PlateFacts:
    """What was seen of the plate itself and of the number in the block."""

    generation: tuple[str, ...]
    family: tuple[str, ...]
    works_number: str
    block_number: str
    rivets: str
    """``old``, ``new`` or empty."""
    entries: tuple[str, ...] = ()

    @property
    def number(self) -> str:
        """``same``, ``differs``, or empty where one of the two is not known."""
        if not self.works_number or not self.block_number:
            return ""
        return "same" if agrees(self.works_number, self.block_number) else "differs"

    @property
    def kind(self) -> str:
        """Name of the kind of observation that its statements are."""
        return kind_of(self.rivets, self.number)


def agrees(one: str, other: str) -> bool:
    """Return whether two numbers read in part can be the same: ``?`` and ``.`` fit any character.

    >>> agrees("20461", "204?1"), agrees("20388", "20461")
    (True, False)
    """
    a, b = "".join(one.split()).upper(), "".join(other.split()).upper()
    return len(a) == len(b) and all(x == y or x in "?." or y in "?." for x, y in zip(a, b, strict=True))


def kind_of(rivets: str, number: str) -> str:
    """Return the name of the kind for these two facts; ``plate`` where nothing is known."""
    return "/".join(
        ["plate", *(one for one in (f"rivets {rivets}" if rivets else "", f"number {number}" if number else "") if one)]
    )


def plate_moved(rates: Rates, rivets: str, number: str) -> float:
    """Return the chance that the plate speaks of another engine, after its rivets and number were seen. [0 to 1]

    >>> from asfound.fitout.catalogue import Rates
    >>> round(plate_moved(Rates(), "", ""), 3), round(plate_moved(Rates(), "new", "differs"), 3)
    (0.25, 0.889)
    """
    moved, stayed = rates.plate_moved, 1.0 - rates.plate_moved
    if rivets in ("new", "old"):
        for_moved, for_stayed = rates.new_rivets
        moved *= for_moved if rivets == "new" else 1.0 - for_moved
        stayed *= for_stayed if rivets == "new" else 1.0 - for_stayed
    if number in ("same", "differs"):
        for_moved, for_stayed = rates.number_differs
        moved *= for_moved if number == "differs" else 1.0 - for_moved
        stayed *= for_stayed if number == "differs" else 1.0 - for_stayed
    return moved / (moved + stayed)


def plate_kinds(rates: Rates) -> tuple[Kind, ...]:
    """Return the kinds of observation for every combination of rivets and number (the plain one is among the ways of
    seeing).
    """
    return tuple(
        Kind(kind_of(rivets, number), plate_moved(rates, rivets, number), slip=SLIP)
        for rivets in RIVETS
        for number in NUMBERS
        if rivets or number
    )


def in_words_of(catalogue: Catalogue, plate: PlateFacts) -> PlateFacts:
    """Return a plate with its generations as the catalogue names them, however somebody wrote them.

    What the catalogue has not stays as written.
    """
    known = {_plain(name): one.id for one in catalogue.generations.values() for name in (one.id, one.title)}
    return replace(plate, generation=tuple(known.get(_plain(one), one) for one in plate.generation))


def _plain(name: str) -> str:
    return re.sub(r"[\s_-]+", "", name).casefold()


def plate_facts(engine: EngineFacts, looks: Iterable[SeenLook]) -> PlateFacts:
    """Return what the looks (and, where they are silent, the record) say of the plate and the block."""
    said: dict[str, tuple[str, ...]] = {}
    entries: list[str] = []
    block = ""
    for look in looks:
        if look.answer != "seen":
            continue
        if look.slot == "block" and look.label:
            block = look.label
            entries.append(look.entry)
        if look.slot == "nameplate" and (told := ((look.label,) if look.label else look.states)):
            said[look.character] = told
            entries.append(look.entry)
    plate = engine.plate

    def one(name: str) -> tuple[str, ...]:
        return said.get(name) or ((plate[name],) if plate.get(name) else ())

    return PlateFacts(
        generation=one("generation"),
        family=one("family"),
        works_number="".join(one("works_number")[:1]),
        block_number=block,
        rivets="".join(said.get("rivets", ())[:1]) if len(said.get("rivets", ())) == 1 else "",
        entries=tuple(one for one in entries if one),
    )
