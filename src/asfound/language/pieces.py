"""A text told by its pieces: its sentences, the members of its list, a name with its amount or its bracket."""

from __future__ import annotations

from abc import ABC, abstractmethod
from typing import TYPE_CHECKING

from asfound.language.forms import is_unit
from asfound.language.joining import joined
from asfound.language.phrases import (
    BEFORE_AMOUNT,
    BEFORE_NOTE,
    BEHIND_CODE,
    BY_THE_CLOCK,
    CLOCK,
    LISTS,
    LONGEST_NAME,
    SURE,
    begins_with_amount,
    come_apart,
    is_name,
)
from asfound.language.places import CITED

if TYPE_CHECKING:
    from collections.abc import Mapping


LEAST_OF_A_ROW = 3


class Pieces(ABC):
    """What a teller does with a text that is neither a message nor made by one."""

    language: str
    catalogue: Mapping[str, str]

    @abstractmethod
    def tell(self, text: str, depth: int = 0) -> tuple[str, bool]:
        """Return a text for the reader, and whether all of it was known."""

    @abstractmethod
    def _exact(self, text: str, _depth: int) -> str | None:
        """Return the translation of the whole text."""

    @abstractmethod
    def _amount(self, text: str, _depth: int) -> str | None:
        """Return an amount, a unit, a code or a date in the reader's form."""

    def _parts(self, text: str, depth: int) -> tuple[str, bool]:
        """Return a text told by its sentences, else by the members of its list where all are known."""
        if len(hours := BY_THE_CLOCK.split(text)) > 1:  # what was noted of a day: much of it is somebody's own words
            told = [self.tell(one, depth + 1) for one in hours]
            return "; ".join(said for said, _ in told), all(known for _, known in told)
        if clock := CLOCK.match(text):
            said, known = self.tell(text[clock.end() :], depth + 1)
            return clock[0] + said, known
        head, colon, rest = text.partition(": ")
        if colon and (name := self._exact(head, depth)) is not None:  # `Does not agree: ` and the whole sentence
            said, known = self.tell(rest, depth + 1)
            if known:
                return f"{name}: {said}", True
        pieces = self.sentences(text, depth + 1)
        if len(pieces) > 1 and any(known for _, known in pieces[::2]):
            return "".join(said for said, _ in pieces), all(known for _, known in pieces)
        for sign in LISTS:
            if sign in text:
                members = self._members(text.split(sign), sign, depth)
                if members:
                    word = sign.strip()
                    glue = sign.replace(word, self.catalogue.get(word, word)) if word.isalpha() else sign
                    return joined(glue.join(members), self.language), True
        return self._two(text, depth)

    def sentences(self, text: str, depth: int = 0) -> list[tuple[str, bool]]:
        """Return the sentences of a text told, and the gaps between them; several that are one message as one."""
        found, gaps = come_apart(text)
        out: list[tuple[str, bool]] = []
        at = 0
        while at < len(found):
            end = at + 1
            whole = found[at]
            for last in range(at + 1, min(len(found), at + LONGEST_NAME)):
                whole += gaps[last - 1] + found[last]
                if (said := self._exact(whole, depth)) is not None:
                    out.append((said, True))
                    end = last + 1
                    break
            else:
                out.append(self.tell(found[at], depth) if len(found) > 1 else (text, False))
            if end < len(found):
                out.append((gaps[end - 1], True))
            at = end
        return out

    def _listed(self, text: str, depth: int) -> str | None:
        """Return a list told whose members are messages: `as entered, from the compressor`; a row by its first."""
        head, row, rest = text.partition("; ")
        if row and rest and (first := self._exact(head, depth)) is not None:  # `on the plate; label 20388`
            said, known = self.tell(rest, depth + 1)
            return f"{first}; {said}" if known else None
        names = text.split(", ")
        members = self._members(names, ", ", depth, whole=True) if len(names) > 1 and all(names) else []
        return ", ".join(members) if members else None

    def _members(self, members: list[str], sign: str, depth: int, *, whole: bool = False) -> list[str]:
        """Return the members of a list told, several that are one name as one; nothing where one is not known.

        With ``whole`` each must be a message as it stands.
        """
        out: list[str] = []
        at = names = 0
        while at < len(members):
            for end in range(min(len(members), at + LONGEST_NAME), at + 1, -1):
                name = sign.join(members[at:end])
                said = self._exact(name, depth) or self._remarked(name, depth)
                if said is not None:
                    break
            else:
                end = at + 1
                if whole and self._exact(members[at], depth) is None:
                    return []
                said, sure = self.tell(members[at], depth + 1)
                names += not sure
                if not sure and not is_name(said):
                    if sign != "; " or len(members) < LEAST_OF_A_ROW:
                        return []
                    names += 1  # one that somebody wrote among three of ours
            out.append(said)
            at = end
        return out if names < len(out) else []

    def _remarked(self, name: str, depth: int) -> str | None:
        """Return a name told whole, with the remark in brackets behind it; a unit is one name as well."""
        if is_unit(name):
            return self._amount(name, depth)
        head, found, remark = name.rpartition(" (")
        if not found or name[-1] != ")" or (said := self._exact(head, depth)) is None:
            return None
        inside, known = self.tell(remark[:-1], depth + 1)
        return f"{said} ({inside})" if known else None

    def _two(self, text: str, depth: int) -> tuple[str, bool]:
        """Return a text told that is two known ones: a name with its amount, something with a bracket behind it."""
        if text[-1] == ")" and (at := text.rfind(" (")) >= 0:
            (before, sure), (inside, sure_too) = (
                self.tell(text[:at], depth + 1),
                self.tell(text[at + 2 : -1], depth + 1),
            )
            if sure:
                return f"{before} ({inside})", sure_too
        if text[0] == "'" == text[-1] and len(text) > SURE and (title := self.catalogue.get(text[1:-1])) is not None:
            return f"'{title}'", True
        if text[0] == "(" and text[-1] == ")":
            said, known = self.tell(text[1:-1], depth + 1)
            return f"({said})", known
        for way in (BEFORE_AMOUNT, BEFORE_NOTE, BEHIND_CODE):
            found = way.fullmatch(text)
            if found and (way is not BEFORE_AMOUNT or (begins_with_amount(found[2]) and not CITED.search(found[1]))):
                coded = way is BEHIND_CODE
                both = [(found[1], True) if coded else self.tell(found[1], depth + 1), self.tell(found[2], depth + 1)]
                if all(sure for _, sure in both):
                    return " ".join(said for said, _ in both), True
        return text, False
