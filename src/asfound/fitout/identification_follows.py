"""What follows from the belief in a build: documents, software, spares, channels, interchange, bulletins."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentFollows:
    """A document that applies to this build or warns that it does not."""

    id: str
    title: str
    revision: str
    scope: str
    applies: bool
    probability: float
    says: str
    """'not for this build', 'older revision', where to be careful."""
    part: Literal["host", "kit", "both"] = "host"
    contradicts: str = ""
    """What another document for this build says otherwise, until the revision is noticed."""
    paper: Literal["", "right", "older", "wrong"] = ""
    """The paper in the cupboard: none, right, an older revision, or for another build."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SoftwareFollows:
    """A file for this hardware, and the facts to check on the hardware itself before loading."""

    id: str
    title: str
    fits: bool
    probability: float
    checks: tuple[str, ...]
    says: str
    checked: tuple[bool, ...] = ()
    """One per check: True where a look of this visit has confirmed it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpareFollows:
    """A part for this build with the certainty that it fits."""

    id: str
    title: str
    quantity: int
    probability: float
    fits: bool
    says: str
    slot: str = ""
    condition: str = ""
    in_store: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelGroup:
    """One group of thermocouple entries and the units that hold it."""

    title: str
    channels: int
    units: tuple[int, ...]
    """Entries of each unit."""
    free: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelsFollow:
    """Thermocouple channels needed, the units that hold them, and whether the count seen agrees."""

    channels: int
    formula: str
    """``9 + 1 + 1 + 10 + 2 = 23``."""
    kind: str
    """``strips``, ``cards of 8``, ``scanner of 24`` ... or empty where the unit is unknown."""
    groups: tuple[ChannelGroup, ...]
    units: int
    entries: int
    free: int
    seen: int | None
    agrees: bool | None
    says: str


@dataclass(frozen=True, slots=True, kw_only=True)
class InterchangeFollows:
    """May one part stand in for another."""

    part: str
    other: str
    direction: Literal["both", "one_way", "no"]
    """``one_way``: ``part`` may stand in for ``other``, not the reverse."""
    condition: str
    concerns: bool
    """True where one of the two sits on this engine, or is held as a spare for it."""
    setting: str = ""
    id: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class BulletinFollows:
    """A field bulletin with the probability that it applies here."""

    id: str
    title: str
    applies: bool
    probability: float
    says: str
    because: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Follows:
    """What follows from the belief; it changes when the belief changes."""

    documents: tuple[DocumentFollows, ...] = ()
    software: tuple[SoftwareFollows, ...] = ()
    spares: tuple[SpareFollows, ...] = ()
    channels: ChannelsFollow | None = None
    interchange: tuple[InterchangeFollows, ...] = ()
    bulletins: tuple[BulletinFollows, ...] = ()
    notes: tuple[str, ...] = ()
    """Plain consequences: 'mixture by screw: no automatic correction when the gas changes'."""
