"""What follows from a build: documents, bulletins, software, spares, interchange, what cannot go together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class Fits:
    """Variants of one slot."""

    slot: str
    variants: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """What a document says about a subject in one of its revisions."""

    about: str
    revision: str
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A document with the generations and kits it is written for."""

    id: str
    title: str
    scope: tuple[str, ...]
    revision: str
    subject: str = ""
    slots: tuple[str, ...] = ()
    states: tuple[Said, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentClash:
    """Documents that say different things about one subject until the revision is noticed."""

    documents: tuple[str, ...]
    about: str
    agree_from: Mapping[str, str]
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Bulletin:
    """A field bulletin; applies by what sits in a place, or by the gas."""

    id: str
    title: str
    says: str
    applies: tuple[Fits, ...] = ()
    hydrogen_sulphide_above: float | None = None
    """Mole fraction of H2S in the gas above which it applies. [mol/mol]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareCheck:
    """A fact to see on the hardware before a file is loaded."""

    slot: str
    character: str
    states: tuple[str, ...]
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Software:
    """A file for the hardware of some generations."""

    id: str
    title: str
    written_for: tuple[str, ...]
    checks: tuple[HardwareCheck, ...]
    refuses: tuple[str, ...] = ()
    refuses_says: str = ""
    with_variants: tuple[Fits, ...] = ()
    """Also for an engine of another generation that carries one of these."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spare:
    """A part, what it fits, and how many an engine carries."""

    id: str
    title: str
    fits: tuple[Fits, ...]
    quantity: int | str = 1
    condition: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interchange:
    """May ``part`` stand in for ``in_place_of``."""

    id: str
    part: str
    in_place_of: str
    direction: Literal["both", "one_way", "no"]
    condition: str
    concerns: tuple[Fits, ...]
    setting: str = ""
    families: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleLine:
    """One line of a rule: a place holds one of these variants, or a look has shown one of these states."""

    slot: str
    variants: tuple[str, ...] = ()
    character: str = ""
    states: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """Things that cannot be right together."""

    id: str
    code: str
    when: tuple[RuleLine, ...]
    unless: tuple[RuleLine, ...]
    says: str
    next_step: str
    bulletin: str = ""
    severity: Literal["stop", "visit", "clash", "soon", "note"] = "clash"
    cautions: tuple[str, ...] = ()
