"""What can go wrong because of something a person gave, and how it is said.

    AsFoundError                root of everything that a user can cause
      InputError                a value given is not possible: keeps field, value, what is allowed, what to do
        AmbiguousError          it can be read in more than one way: keeps the readings to choose from
      KnowledgeError            a knowledge file is wrong: keeps file, line, column
      UnknownNameError          a name that nothing here bears: keeps the nearest names
      RecordError               the record refuses: sealed, damaged, in conflict, cannot be written

Every message can stand alone on a terminal; a page uses the parts and puts them beside the field.
"""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


MOST_QUOTED = 300
"""A message quotes no more of what was given: a whole file may stand where a word was wanted. [character]"""
MOST_SAID = 1_500


def short(text: str, most: int = MOST_QUOTED) -> str:
    """Return a text for a message, cut where it is longer than a person reads."""
    if len(text) <= most:
        return text
    kept = text[:most]
    whole = kept.rpartition(" ")[0]  # no word is cut, where there is one to spare
    return f"{whole if len(whole) > most // 2 else kept} ... ({len(text):,} characters)"


class AsFoundError(Exception):
    """Root of everything that a user can cause."""


class InputError(AsFoundError, ValueError):
    """A value cannot be what it claims to be.

    Parameters
    ----------
    field : str
        Name of the field, as the door calls it (``exhaust_oxygen_dry``, ``as_found/stack/exhaust_oxygen_dry``).
    given : str
        What was given, as typed.
    because : str
        Why it cannot be; reads on after the value ("is not below the 20.9 % of air").
    allowed : str
        The allowed range or what fits, with its unit. May be empty.
    try_next : str
        What to do, at the engine or in the form. A sentence.
    """

    def __init__(self, field: str, given: str, because: str, *, allowed: str = "", try_next: str = "") -> None:
        self.field, self.given, self.because, self.allowed, self.try_next = field, given, because, allowed, try_next
        said = f"{short(field)}: '{short(given)}' {short(because, MOST_SAID)}."
        if allowed:
            said += f" Allowed: {allowed}."
        if try_next:
            said += f" {try_next}"
        super().__init__(said)

    def as_dict(self) -> dict[str, object]:
        """Return the parts, for an API answer or a page."""
        return {
            "field": self.field,
            "given": self.given,
            "because": self.because,
            "allowed": self.allowed,
            "try_next": self.try_next,
            "says": str(self),
        }


class AmbiguousError(InputError):
    """A text can be read in more than one way; ``choices`` maps a text that is plain to what it would mean."""

    def __init__(self, field: str, given: str, because: str, *, choices: dict[str, str], try_next: str = "") -> None:
        self.choices = choices
        super().__init__(
            field,
            given,
            because,
            allowed=" or ".join(choices),
            try_next=try_next or "Write it so that only one reading is left.",
        )

    def as_dict(self) -> dict[str, object]:
        """Return the parts, with the readings to choose from."""
        return {**super().as_dict(), "choices": self.choices}


class KnowledgeError(AsFoundError, ValueError):
    """A knowledge file is wrong; names file, line and column, what stands there and what may stand there."""

    def __init__(self, file: str, line: int, column: int, because: str, *, allowed: str = "") -> None:
        self.file, self.line, self.column, self.because, self.allowed = file, line, column, because, allowed
        said = f"{file}:{line}:{column}: {short(because, MOST_SAID)}"
        super().__init__(said + (f" Allowed: {short(allowed, MOST_SAID)}." if allowed else ""))


class UnknownNameError(AsFoundError, LookupError):
    """Nothing here bears that name; says what is near."""

    def __init__(self, kind: str, name: str, known: Iterable[str]) -> None:
        self.kind, self.name = kind, name
        self.near = tuple(get_close_matches(name[:MOST_QUOTED], list(known), n=3, cutoff=0.5))
        hint = f" Nearest: {', '.join(self.near)}." if self.near else ""
        super().__init__(f"no {kind} is called '{short(name)}'.{hint}")


class RecordError(AsFoundError):
    """The record refuses: it is sealed, damaged, in conflict, or cannot be written. Says what to do."""
