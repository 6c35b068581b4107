"""Who acts, and what they may: set for the time of one request where several people share a record.

Without anybody set, as on a laptop of one's own, everything is allowed. The roles:

reader  looks at everything and writes nothing
writer  also writes entries, and undoes them
keeper  also seals visits, settles what clashes, takes in bundles, and looks after the list of people
"""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from asfound.errors import RecordError

if TYPE_CHECKING:
    from collections.abc import Iterator

Role = Literal["reader", "writer", "keeper"]
ROLES: tuple[Role, ...] = ("reader", "writer", "keeper")
FOR_KEEPERS = frozenset({"sealed", "resolution", "bring in", "people"})
"""Kinds of entry and doings that only a keeper may."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """Somebody who signed in."""

    name: str
    role: Role


class RoleError(RecordError):
    """The role of whoever acts does not allow it."""


_ACTS: ContextVar[Person | None] = ContextVar("asfound_person", default=None)


@contextmanager
def acting_as(person: Person | None) -> Iterator[None]:
    """Let a person act inside the block."""
    token = _ACTS.set(person)
    try:
        yield
    finally:
        _ACTS.reset(token)


def who_acts() -> Person | None:
    """Return who acts now; None where nobody had to sign in."""
    return _ACTS.get()


def name() -> str:
    """Return the name of who acts; empty where nobody had to sign in."""
    person = _ACTS.get()
    return person.name if person else ""


def allow(doing: str) -> None:
    """Refuse a kind of entry or a doing that the role of who acts does not allow.

    Raises
    ------
    RoleError
    """
    person = _ACTS.get()
    if person is None or person.role == "keeper":
        return
    if doing in FOR_KEEPERS:
        words = {"sealed": "Sealing a visit", "resolution": "Settling what clashes", "bring in": "Taking in a bundle"}
        said = words.get(doing, "Changing the list of people")
        raise RoleError(f"{said} is for a keeper; {person.name} is a {person.role}. Nothing was changed. Ask a keeper.")
    if person.role == "reader":
        raise RoleError(f"{person.name} is a reader and may look, not write. Nothing was kept. Ask a keeper for more.")
