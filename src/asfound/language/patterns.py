"""From a finished sentence back to the pattern that made it: `12 of 16 places` is `{0} of {1} places`.

Each pattern is filed under the rarest whole word among its fixed parts; a sentence asks only for the patterns filed
under its own words. Matching looks for the fixed parts one behind the other, from the left: linear in the length, so
that no text can make it slow.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

PLACE = re.compile(r"\{(\d+)\}")
TAG = re.compile(r"</?\d+/?>")
_WORD = re.compile(r"\w+")


@dataclass(frozen=True, slots=True)
class Pattern:
    """A message with places."""

    message: str
    fixed: tuple[str, ...]
    """What stands before, between and behind the places."""
    places: tuple[int, ...]
    letters: int
    """How many letters are fixed: the more, the surer."""
    words: frozenset[str] = frozenset()
    """The words that stand whole in the fixed parts: a text without one of them is not made by it."""

    def matches(self, text: str) -> Iterator[dict[int, str]]:
        """Yield what stands at each place: where a fixed part stands several times, its first and then its last.

        >>> list(pattern_of("stop: {0} and {1} more").matches("stop: oil and filter and 4 more"))
        [{0: 'oil', 1: 'filter and 4'}, {0: 'oil and filter', 1: '4'}]
        """
        first = self.match(text)
        if first is None:
            return
        yield first
        last = self.match(text, last=True) if len(self.places) > 1 else first
        if last is not None and last != first:
            yield last

    def match(self, text: str, *, last: bool = False) -> dict[int, str] | None:
        """Return what stands at each place, or None where this is no such sentence.

        >>> pattern_of("{0} of {1} places").match("12 of 16 places")
        {0: '12', 1: '16'}
        """
        head, tail = self.fixed[0], self.fixed[-1]
        if not text.startswith(head) or not text.endswith(tail) or len(text) < len(head) + len(tail):
            return None
        end = len(text) - len(tail)
        at = len(head)
        found: dict[int, str] = {}
        for place, behind in zip(self.places[:-1], self.fixed[1:-1], strict=True):
            cut = text.rfind(behind, at, end) if last else text.find(behind, at, end)
            if cut < 0 or found.setdefault(place, text[at:cut]) != text[at:cut]:
                return None
            at = cut + len(behind)
        if at > end or found.setdefault(self.places[-1], text[at:end]) != text[at:end]:
            return None
        return found


def pattern_of(message: str) -> Pattern:
    """Return the pattern of a message; it has at least one place."""
    parts = PLACE.split(message)
    fixed = tuple(parts[::2])
    letters = sum(sign.isalpha() for sign in "".join(fixed))
    return Pattern(message, fixed, tuple(map(int, parts[1::2])), letters, frozenset(_whole_words(fixed)))


def has_places(message: str) -> bool:
    """Return whether a message has places and no elements of a page: a sentence may be made by it."""
    return PLACE.search(message) is not None and TAG.search(message) is None


def _whole_words(fixed: tuple[str, ...]) -> Iterator[str]:
    """Yield the words that stand whole in the fixed parts: whatever fills the places, they stay words."""
    last = len(fixed) - 1
    for i, part in enumerate(fixed):
        for word in _WORD.finditer(part):
            if (word.start() > 0 or i == 0) and (word.end() < len(part) or i == last):
                yield word.group()


class Index:
    """All patterns of a language, filed by word."""

    def __init__(self, messages: Iterable[str]) -> None:
        patterns = [pattern_of(one) for one in messages if has_places(one)]
        patterns = [one for one in patterns if "" not in one.fixed[1:-1]]
        met = Counter(word for one in patterns for word in one.words)
        self.by_word: dict[str, list[Pattern]] = {}
        self.without: list[Pattern] = []
        for one in sorted(patterns, key=lambda p: (-p.letters, p.message)):
            if one.words:
                self.by_word.setdefault(min(one.words, key=lambda w: (met[w], -len(w), w)), []).append(one)
            elif one.letters > 1:
                self.without.append(one)

    def of(self, text: str) -> Iterator[tuple[Pattern, dict[int, str]]]:
        """Yield the patterns that a text may have been made by, the one with most fixed letters first."""
        words = frozenset(_WORD.findall(text))
        candidates = [one for word in words for one in self.by_word.get(word, ()) if one.words <= words]
        candidates.extend(self.without)
        candidates.sort(key=_surest)
        for one in candidates:
            for found in one.matches(text):
                yield one, found


def _surest(pattern: Pattern) -> tuple[int, str]:
    return -pattern.letters, pattern.message
