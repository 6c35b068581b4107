"""Read a label that cannot be read whole: how well does it fit each pattern of the catalogue?

What is typed has one character per place of the label: itself where it was read, ``?`` for a character that is there
and cannot be made out, ``.`` for one that is gone or uncertain. A dot mostly stands for one place of the pattern; it
may be none, or two, because nobody counts what is not there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import lru_cache

MISREAD = 0.02
"""Chance that a character which was read is another one (judgement, no source)."""
GONE = {0: 0.12, 1: 0.76, 2: 0.12}
"""How many places of the pattern a dot stands for (judgement, no source)."""
ADDED = 0.002
"""Chance, per place, that a place of the pattern was passed over, or that a character stands there which is none of
it.
"""
ALPHABET = 36
"""Characters that a label is made of: digits and letters."""


def label_likelihood(typed: str, pattern: str) -> float:
    """Return the chance of reading this where the label follows the pattern, up to a factor common to all patterns.

    Digits and letters that the pattern leaves open have chance 1/10 and 1/26, those that it prescribes 1: a pattern
    that says more is believed more when it fits.

    Parameters
    ----------
    typed : str
        As far as it can be read; blanks do not count, capitals and small letters are one.
    pattern : str
        ``9`` for a digit, ``A`` for a capital letter, all else for itself.

    Examples
    --------
    >>> plain, filled = (label_likelihood("M.2?..6", pattern) for pattern in ("M999999", "MD999999"))
    >>> 2 < plain / filled < 8
    True
    """
    return _likelihood("".join(typed.split()).upper(), pattern.upper() if "A" not in pattern else pattern)


@lru_cache(maxsize=4096)
def _likelihood(typed: str, pattern: str) -> float:
    """Forward pass over (characters typed, places of the pattern used)."""
    places = len(pattern)
    now = [0.0] * (places + 1)
    now[0] = 1.0
    for used in range(places):  # places passed over before anything was typed
        now[used + 1] += now[used] * ADDED
    for character in typed:
        after = [0.0] * (places + 1)
        for used, mass in enumerate(now):
            if mass == 0.0:
                continue
            for span, chance in GONE.items() if character == "." else ((1, 1.0),):
                if used + span <= places:
                    fits = 1.0 if character == "." else _fits(character, pattern[used])
                    after[used + span] += mass * chance * fits
            if character != ".":
                after[used] += mass * ADDED / ALPHABET
        for used in range(places):
            after[used + 1] += after[used] * ADDED
        now = after
    return now[places]


def _fits(character: str, place: str) -> float:
    if character == "?":
        return 1.0
    wrong = MISREAD / ALPHABET
    if place == "9":
        return (1.0 - MISREAD) / 10 + wrong if character.isdigit() else wrong
    if place == "A":
        return (1.0 - MISREAD) / 26 + wrong if character.isalpha() else wrong
    return 1.0 - MISREAD + wrong if character == place.upper() else wrong


def label_likelihoods(typed: str, patterns: Mapping[str, tuple[str, ...]]) -> dict[str, float]:
    """Return for each named set of patterns the chance of what was typed, scaled so that the best is 1.

    A set with several patterns counts their mean. Something that fits none well keeps a floor for 'another label': the
    chance of a label of any characters of that length.
    """
    any_label = math.exp(-math.log(ALPHABET) * sum(1 for one in "".join(typed.split()) if one not in "?."))
    raw = {
        name: sum(label_likelihood(typed, one) for one in written) / len(written) for name, written in patterns.items()
    }
    raw[""] = any_label * 0.2
    best = max(raw.values())
    return {name: value / best for name, value in raw.items()}


def length_words(typed: str, pattern: str) -> str:
    """Say in words how what was typed stands to a pattern: 'fits', 'is shorter', 'is longer', 'differs at ...'."""
    plain = "".join(typed.split()).upper()
    if len(plain) != len(pattern):
        return "would be longer" if len(pattern) > len(plain) else "would be shorter"
    clashes = [n for n, (a, b) in enumerate(zip(plain, pattern, strict=True), 1) if a != "." and _fits(a, b) < MISREAD]
    return "fits" if not clashes else f"differs at character {clashes[0]}"
