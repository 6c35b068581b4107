"""`told`: a text as the reader reads it. The whole text, or the pattern that made it, or its parts; else as it is."""

from __future__ import annotations

from functools import cache
from itertools import islice
from typing import TYPE_CHECKING

from asfound.language.catalogues import messages
from asfound.language.forms import date_told, is_amount, is_unit, numbers_in_form
from asfound.language.joining import SMALL_IN_GERMAN, joined
from asfound.language.patterns import PLACE, Index, Pattern
from asfound.language.phrases import (
    CODE,
    LETTER,
    NUMBERED,
    OF_NAMES,
    QUOTED,
    STOPS,
    SURE,
    WEAK,
    begins_with_amount,
    bracketed,
    later_sentences,
    of_sentences,
    of_several,
    short_names,
)
from asfound.language.pieces import Pieces
from asfound.language.places import CITED, SWALLOWS_ALL, counted_nouns, may_stand
from asfound.language.reader import Reader, Written, reader

if TYPE_CHECKING:
    from collections.abc import Mapping

MOST_KEPT = 30_000
LONGEST = 4_000
"""A longer text is no sentence of ours."""
DEEPEST = 7
MOST_LOOKS = 150
"""So many parts of a short text are looked for, a third of its letters in a long one; the rest stays English."""
MOST_PATTERNS = 8


class Teller(Pieces):
    """Tells texts to one kind of reader; remembers what it has told."""

    def __init__(self, who: Reader) -> None:
        self.language, self.form, self.dates = who.language, who.form, who.dates
        self.catalogue: Mapping[str, str] = messages(who.language)
        self.short = {**short_names(self.catalogue), **later_sentences(self.catalogue)}
        self.index = Index([one for one in (*self.catalogue, *self.short) if one not in SWALLOWS_ALL])
        self.counted = counted_nouns(self.catalogue)
        self.kept: dict[str, tuple[str, bool]] = {}
        self.left = 0
        """How many texts may still be looked for in the text that is being told."""
        self.cuts = 0
        """How often that was the end of it."""

    def tell(self, text: str, depth: int = 0) -> tuple[str, bool]:
        """Return a text for the reader, and whether all of it was known."""
        found = self.kept.get(text)
        if found is not None:
            return found
        if depth == 0:
            self.left = max(MOST_LOOKS, len(text) // 3)
        self.left -= 1
        if self.left < 0 or depth > DEEPEST:
            self.cuts += 1
            return text, False
        cuts = self.cuts
        found = self._find(text, depth)
        if found[1] or depth == 0 or cuts == self.cuts:  # what was not looked for to its end may be known
            if len(self.kept) >= MOST_KEPT:
                self.kept.clear()
            self.kept[text] = found
        return found

    def _find(self, text: str, depth: int) -> tuple[str, bool]:
        core = text.strip()
        if not core or len(core) > LONGEST:
            return text, not core
        if core != text:
            inside, known = self.tell(core, depth)
            at = text.index(core)
            return text[:at] + inside + text[at + len(core) :], known
        for way in (self._amount, self._exact, self._headed, self._listed, self._made):
            said = way(text, depth)
            if said is not None:
                return said, True
        if text[-1] in STOPS and len(text) > 1:
            if (said := self._made(text[:-1], depth)) is not None:
                return said + text[-1], True
            both, known = self._parts(text[:-1], depth)
            if known:
                return both + text[-1], True
        elif LETTER.match(text[-1]) or text[-1].isdigit():  # a sentence whose full stop was taken off
            said = self._made(f"{text}.", depth)
            if said is not None and said[-1] == ".":
                return said[:-1], True
        return self._parts(text, depth)

    def _amount(self, text: str, _depth: int) -> str | None:
        if text[-1] in ".,;:" and text[:-1] and not LETTER.search(text):
            return numbers_in_form(text[:-1], self.form) + text[-1] if is_amount(text[:-1]) else text
        if is_unit(text):
            return self.catalogue.get(text) or numbers_in_form(text, self.form)
        if is_amount(text):
            number, _, unit = text.partition(" ")
            unit = self.catalogue.get(unit, unit)
            return numbers_in_form(f"{number} {unit}" if unit else number, self.form)
        if not LETTER.search(text):
            return numbers_in_form(text, self.form) if text not in self.catalogue else None
        if CODE.fullmatch(text):
            return text if text not in self.catalogue else None
        return date_told(text, self.language, self.dates)

    def _exact(self, text: str, _depth: int) -> str | None:
        """Return the translation of the whole text; its first letter may be large, a full stop may have been added."""
        said = self.catalogue.get(text) or self.short.get(text)
        if said is not None or not text:
            return said
        if (said := self.catalogue.get(f"{text}.")) is not None and said[-1] == ".":  # its full stop was taken off
            return said[:-1]
        if (numbered := NUMBERED.fullmatch(text)) and (said := self._exact(numbered[2], _depth)) is not None:
            return f"{numbered[1]} {said}"
        for core, stop in ((text, ""), (text[:-1], text[-1])):
            if stop and stop not in STOPS:
                break
            said = self.catalogue.get(core) or self.short.get(core)
            if said is not None:
                return said + stop
            turned = core[:1].swapcase() + core[1:]
            said = self.catalogue.get(turned) or self.short.get(turned)
            if said is not None and core[:1].isalpha():
                return self._begun(said, core) + stop
        return None

    def _headed(self, text: str, depth: int) -> str | None:
        """Return a name with its amount behind a colon: `Engine power, from the compressor: 1,690`."""
        head, colon, rest = text.rpartition(": ")
        if not colon or not begins_with_amount(rest) or (name := self._exact(head, depth)) is None:
            return None
        said, known = self.tell(rest, depth + 1)
        return f"{name}: {said}" if known else None

    def _made(self, text: str, depth: int) -> str | None:
        """Return what the pattern that made a text gives in the reader's language, its places told as well."""
        turned = text[:1].swapcase() + text[1:]
        for one in (text, turned) if LETTER.match(text) else (text,):
            for pattern, found in islice(self.index.of(one), MOST_PATTERNS):
                parts: dict[int, tuple[str, bool]] = {}
                if not all(map(bracketed, found.values())) or not may_stand(pattern, found, self.counted):
                    continue  # a bracket begins and ends at the same place
                if not of_sentences(pattern) and (
                    (pattern.fixed[-1] == "" and text[-1] == ".")
                    or any(
                        of_several(pattern, place).search(part) and self._exact(part, depth) is None
                        for place, part in found.items()
                    )
                ):
                    continue  # one sentence does not hold another: these are several, told one by one
                for place in found:
                    parts[place] = self._place(pattern, place, found, depth)
                    if pattern.letters < SURE and pattern.message not in OF_NAMES and not parts[place][1]:
                        break
                weak = pattern.letters < SURE and pattern.message not in OF_NAMES
                if len(parts) < len(found) or (weak and not all(sure for _, sure in parts.values())):
                    continue
                said = PLACE.sub(
                    lambda place: parts[int(place[1])][0] if int(place[1]) in parts else place[0],  # noqa: B023
                    self._message(pattern, found),
                )
                said = joined(said, self.language)
                return said if one == text else self._begun(said, text)
        return None

    def _message(self, pattern: Pattern, found: dict[int, str]) -> str:
        """Return the translation of a message; it may have a second one for a day at its place: `by {0} [day]`."""
        if len(found) == 1 and (dated := self.catalogue.get(f"{pattern.message} [day]")) is not None:
            (only,) = found.values()
            if date_told(only, self.language, self.dates) is not None:
                return dated
        return self.catalogue.get(pattern.message) or self.short[pattern.message]

    def _begun(self, said: str, text: str) -> str:
        """Return a translation that begins as the text does, large or small; a German noun and NOx stay as they are."""
        if text[0].isupper():
            return said[:1].upper() + said[1:]
        stays = not SMALL_IN_GERMAN.match(said) if self.language == "de" else not said[1:2].islower()
        return said if stays else said[:1].lower() + said[1:]

    def _place(self, pattern: Pattern, place: int, found: dict[int, str], depth: int) -> tuple[str, bool]:
        """Return what stands at a place, told."""
        part = found[place]
        at = pattern.message.index(f"{{{place}}}")
        if at and pattern.message[at - 1] in QUOTED:  # what somebody gave, word for word; or a title of ours
            return (self._title(part) if len(part) > SURE else part), True
        if not part.strip():
            return part, True
        if CITED.search(PLACE.sub(lambda one: found[int(one[1])], pattern.message[:at]).rstrip()):
            code, gap, rest = part.partition(" ")
            said, known = self.tell(rest, depth + 1) if rest else ("", True)
            return code + gap + said, known
        if pattern.letters < WEAK:  # with "of" or "to" alone the places must be plain
            plain = self._amount(part, depth) or self._exact(part, depth)
            return (plain, True) if plain is not None else self._two(part, depth)
        return self.tell(part, depth + 1)

    def _title(self, text: str) -> str:
        """Return a title of ours, or several with "or" between them; what somebody gave stays."""
        titles = [self.catalogue.get(one) for one in text.split(" or ")]
        if text in self.catalogue or None in titles:
            return self.catalogue.get(text, text)
        return f" {self.catalogue.get('or', 'or')} ".join(one for one in titles if one)


@cache
def _teller(language: str, numbers: str, dates: str) -> Teller:
    return Teller(Reader(language, numbers, dates))


def told(text: str) -> str:
    """Return a text as the reader reads it; one that the program does not know stays as it is.

    Parameters
    ----------
    text : str
        English, as rooms and contents say it. What a person `Written` is given back untouched.
    """
    who = reader()
    if who.plain or isinstance(text, Written):
        return text
    return _teller(who.language, who.numbers, who.dates).tell(text)[0]


def told_parts(text: str) -> tuple[str, bool]:
    """Return a text as the reader reads it, and whether it is wholly known."""
    who = reader()
    if who.plain or isinstance(text, Written):
        return text, True
    return _teller(who.language, who.numbers, who.dates).tell(text)
