"""Codes proposed from the words of a work order, in English, German, Spanish, with typing errors; never filled in.

A word is found when few letters are wrong, left out, doubled or change places: one from five letters on, two
from eleven.
The confidence says how far the words found speak for one code against the others of its field. It is a measure of
words and no chance; a person decides.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache

from asfound.sources.tables import load_yaml
from asfound.upkeep.failure_records import means

LANGUAGES = ("en", "de", "es")
LEAST = 0.25
"""Confidence below which nothing is proposed."""
_QUALITY = (1.0, 0.75, 0.5)
"""Worth of a word by the number of its errors."""
_DOUBT = 0.5
"""Weight of 'something else', so that no proposal is ever certain."""
_REACH = 3  # words that a 'no' turns round
_WORD = re.compile(r"[a-z0-9]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A code that words speak for."""

    field: str
    code: str
    title: str
    confidence: float
    because: tuple[str, ...]
    """Words of the text, as they stand in it."""


@dataclass(frozen=True, slots=True)
class _Phrase:
    field: str
    code: str
    language: str
    words: tuple[str, ...]
    negative: bool
    """Holds a 'no' of its own ('does not start'), so that one before it does not turn it round."""


def propose(text: str, language: str = "") -> tuple[Proposal, ...]:
    """Return codes for the fields of a failure, by field and then the most supported first.

    Parameters
    ----------
    text : str
        Of a work order, in any of `LANGUAGES`.
    language : str
        One of them; empty: words of all three are looked for.
    """
    support: dict[str, dict[str, tuple[float, list[str]]]] = {}
    for sentence in re.split(r"[.;!?\n]+", text):
        tokens = [(word, _plain(word)) for word in re.findall(r"\w+", sentence)]
        for phrase in _phrases():
            if language in LANGUAGES and phrase.language != language:
                continue
            worth, found = _support(phrase, tokens)
            if worth > 0.0:
                before, words = support.setdefault(phrase.field, {}).get(phrase.code, (0.0, []))
                support[phrase.field][phrase.code] = max(before, worth), [*words, found]
    return tuple(one for field, of in support.items() for one in _ranked(field, of))


def _ranked(field: str, support: Mapping[str, tuple[float, Sequence[str]]]) -> Iterator[Proposal]:
    whole = sum(worth for worth, _ in support.values()) + _DOUBT
    for code, (worth, words) in sorted(support.items(), key=lambda one: (-one[1][0], one[0])):
        if worth / whole >= LEAST:
            yield Proposal(
                field=field, code=code, title=means(field, code), confidence=worth / whole,
                because=tuple(dict.fromkeys(words)),
            )  # fmt: skip


def _support(phrase: _Phrase, tokens: Sequence[tuple[str, str]]) -> tuple[float, str]:
    """Return how well a phrase stands in a sentence (0: not at all; longer phrases weigh more), and the words of it."""
    best, words = 0.0, ""
    for at in range(len(tokens) - len(phrase.words) + 1):
        worth, end = 1.0, at
        for number, word in enumerate(phrase.words):
            window = range(end, min(end + (3 if number else 1), len(tokens)))
            alike, end = next(((a, i + 1) for i in window if (a := _alike(word, tokens[i][1])) > 0.0), (0.0, end))
            worth *= alike
        worth *= 1.0 + 0.5 * (len(phrase.words) - 1)
        if worth > best and (phrase.negative or not _turned(tokens[max(0, at - _REACH) : at], phrase.language)):
            best, words = worth, " ".join(token for token, _ in tokens[at:end])
    return best, words


def _turned(before: Sequence[tuple[str, str]], language: str) -> bool:
    return any(plain in _no_words()[language] for _, plain in before)


@lru_cache(maxsize=50_000)
def _alike(word: str, token: str) -> float:
    """Return the worth of a token for a word: 1 the same, less with errors, 0 another word."""
    if word == token:
        return 1.0
    allowed = 0 if len(word) < 5 else 1 if len(word) < 11 else 2
    if len(word) >= 6 and word in token:  # part of a longer word
        return 0.9
    if abs(len(word) - len(token)) > allowed:
        return 0.0
    errors = typing_errors(word, token, most=allowed)
    return _QUALITY[errors] if errors <= allowed else 0.0


def typing_errors(a: str, b: str, *, most: int = 9) -> int:
    """Return letters wrong, left out, added, or changed about with their neighbour; ``most`` + 1 where it is more."""
    before, last = list[int](), list(range(len(b) + 1))
    for i, letter in enumerate(a, 1):
        row = [i]
        for j, other in enumerate(b, 1):
            cost = min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == b[j - 2] and a[i - 2] == other:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
        if min(row) > most and (i < 2 or min(last) > most):
            return most + 1
        before, last = last, row
    return min(last[-1], most + 1)


def _plain(word: str) -> str:
    """Return a word in small letters without marks: ö and oe, ß and ss, ñ and n are one."""
    low = word.casefold().replace("ß", "ss")
    bare = "".join(sign for sign in unicodedata.normalize("NFKD", low) if not unicodedata.combining(sign))
    for two, one in (("ae", "a"), ("oe", "o"), ("ue", "u")):
        bare = bare.replace(two, one)
    return "".join(_WORD.findall(bare))


@cache
def _phrases() -> tuple[_Phrase, ...]:
    found = []
    for row in load_yaml("asfound.upkeep", "data/failure_words.yaml")["words"]:
        for language in LANGUAGES:
            for phrase in row.get(language, ()):
                words = tuple(_plain(word) for word in phrase.split())
                negative = any(word in _no_words()[language] for word in words)
                found.append(_Phrase(row["field"], row["code"], language, words, negative))
    return tuple(found)


@cache
def _no_words() -> Mapping[str, frozenset[str]]:
    given = load_yaml("asfound.upkeep", "data/failure_words.yaml")["no"]
    return {language: frozenset(_plain(word) for word in words) for language, words in given.items()}
