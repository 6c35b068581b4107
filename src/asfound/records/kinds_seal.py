"""Kinds of entry that close a visit, add to it afterwards, or put two laptops' words right."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, StringConstraints

from asfound.records.kind_base import Content, Date, Digest, Id, Line, Text, Time
from asfound.records.kinds_visit import Photo


class SealedDigest(Content):
    """An entry under a seal."""

    id: Id
    digest: Digest


class SealedFile(Content):
    """An attachment under a seal."""

    digest: Digest
    size: int = Field(ge=0)


class SealedBefore(Content):
    """The seal before this one, of the same engine."""

    id: Id
    visit: Id
    digest: Digest


class SealedLog(Content):
    """What was known of the engine's log when the visit was closed: a look up to a day."""

    day: Date
    """Last day of the log that it looks at."""
    digest: Line
    """Of all that the look rests on: rows, alarm lists, visits, limits."""
    file: Digest
    """The look itself, deflated (RFC 1950) JSON among the files of the record."""


class Signature(Content):
    """Ed25519 over the digest's 32 bytes; key and signature in hexadecimal."""

    algorithm: Literal["Ed25519"] = "Ed25519"
    key: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
    signature: Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{128}$")]


class Sealed(Content):
    """The seal of a visit; see docs/records.md for how to check it without this program."""

    seal: Literal["asfound seal 1"] = "asfound seal 1"
    id: Id
    """Of the entry of the seal itself; this and the next five repeat its fields, so that they are under the digest."""
    at: Time
    who: Line
    device: Line
    engine: Id
    visit: Id
    context: tuple[SealedDigest, ...]
    """Entries outside the visit that it stands on: site, engine, limits, instruments."""
    entries: tuple[SealedDigest, ...]
    """All entries of the visit, in the order of their identifiers."""
    attachments: tuple[SealedFile, ...]
    previous: SealedBefore | None = None
    statement: Text = ""
    """What the person states by closing."""
    log: SealedLog | None = None
    """Left out where no look at a log was known."""
    digest: Digest
    """SHA-256 over the canonical form of all the fields above."""
    signature: Signature | None = None


class Addendum(Content):
    """What is added after the seal: a correction in words, a late result. The sealed entries stay."""

    says: Annotated[str, StringConstraints(min_length=1, max_length=20_000)]
    time: Time
    about: tuple[Id, ...] = ()
    """Entries that it is about."""
    attachments: tuple[Photo, ...] = ()


class Resolution(Content):
    """How a person settled that two entries correct the same one, or that two laptops read one thing."""

    about: Id
    """The entry that was corrected twice; or the first of several readings of one thing."""
    choose: tuple[Id, ...] = Field(min_length=1)
    """What stands: one of them, or several to keep both as two readings."""
    set_aside: tuple[Id, ...] = ()
    """What does not; one that is named in neither list clashes anew."""
    why: Text = ""


class Withdrawn(Content):
    """Undo: makes the entry named in ``corrects`` void; both stay readable."""

    why: Text = ""
