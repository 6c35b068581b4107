"""How a finished text comes apart: sentences, lists, names with an amount, what is the same in every language."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from asfound.language.forms import is_amount
from asfound.quantities.days import MONTHS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.language.patterns import Pattern

OF_NAMES = frozenset({
    "{0}, visit of {1}", "{0}, {1}: visit of {2}", "{0}, usual doubt", "{0}, {1}-stage compressor", "Repair: {0}",
    "content {0}", "{0}, as found: {1}", "{0}, as left: {1}", "by {0}, {1}", "Open point: {0}", "Photo {0}",
    "Setting {0}: {1}", "{0}, told ({1})", "{0}, told (shift: {1})",
})  # fmt: skip
"""Messages whose places hold names that somebody gave: few fixed letters are enough."""
LONGEST_NAME = 4
"""So many members of a list may be one name: `Heating value, gross`."""
WEAK, SURE = 6, 12
"""So many fixed letters make a pattern weak, or sure whatever stands at its places."""
SENTENCE = re.compile(r"(?<=[.?!:;])(?<![ (][A-Z]\.)(?<!^[A-Z]\.) +(?=[A-Z0-9‘“\"'−<>±])")
FULL = re.compile(r"(?<=[.?!])(?<![ (][A-Z]\.)(?<!^[A-Z]\.) +(?=[A-Z0-9‘“\"'−<>±])")
LISTS = ("; ", ": ", ", ", " and ", " or ", " to ", " · ", " – ", " / ")
CODE = re.compile(r"[^\s]*[\d_/@#=][^\s]*|[A-Z]{1,5}[a-z]?|[A-Z]-[a-z]+|[^\W\d_]|\W+|(?:[A-Z]\. )+[A-Z]\w+")
"""A tag, a number, a formula, a single letter, a person's name: the same in every language."""
BEFORE_AMOUNT = re.compile(r"(\D*[^\d\s]) +([<>−+-]?\d.*)", re.DOTALL)
BEFORE_NOTE = re.compile(r"(.*\w) (\[\d+\])", re.DOTALL)
BEHIND_CODE = re.compile(
    rf"([A-Z]{{1,3}}-\w+(?: \([a-z]\))?|[A-Z]{{3}}(?= [a-z])|\d{{1,2}}|\d\.\d|'[^']*') ((?!{'|'.join(MONTHS)})\w.*)",
    re.DOTALL,
)
"""Number and title of a paper or a place, what was typed and what is wrong with it: `VR-12 Fironelle spark rails`."""
NUMBERED = re.compile(r"(\d{1,2}|[A-Z]{1,3}-\w+(?: \([a-z]\))?) ([A-Z].*)", re.DOTALL)
"""A place on a drawing with its number, a paper with its name."""
CLOCK = re.compile(r"(?:\d\d:\d\d|[A-Z]{2}-\d\d;) (?=\S)")
"""Before what was noted of a day, or before a finding: its time, its code."""
BY_THE_CLOCK = re.compile(r"; (?=\d\d:\d\d \S)")
"""Between the notes of a day: `08:50 Signed in.; 13:45 visit closed`."""
STOPS = ".:;,"
_REMARK = re.compile(r" \([^()]*\)")
_NAME = re.compile(r"[A-Z](?=.*[a-z]{3}).*\w")
_PLAIN_WORDS = re.compile(
    r"\b(?:the|is|are|was|were|be|to|and|or|not|no|with|at|for|by|from|in|on|it|its|than|as|has|have|what|which|per)\b"
)
LETTER = re.compile(r"[^\W\d_]")
QUOTED = ("'", "‘", "“", '"')


def is_name(text: str) -> bool:
    """Return whether a text looks like a name that somebody gave: `Portable analyser`, `Ashgrebe station`."""
    return _NAME.fullmatch(text) is not None and text.count(" ") < 3 and not _PLAIN_WORDS.search(text)


def bracketed(text: str) -> bool:
    """Return whether each bracket that begins in a text ends in it, and none ends that did not begin.

    >>> bracketed("oil (new) and gas (dry)"), bracketed("new) and gas (dry")
    (True, False)
    """
    depth = 0
    for sign in text if ")" in text or "(" in text else "":
        depth += (sign == "(") - (sign == ")")
        if depth < 0:
            return False
    return depth == 0


def come_apart(text: str) -> tuple[list[str], list[str]]:
    """Return the sentences of a text and the gaps between them; what stands in brackets stays in its sentence.

    >>> come_apart("Done. Seen (by hand; The dial lies). Next.")[0]
    ['Done.', 'Seen (by hand; The dial lies).', 'Next.']
    """
    ends = FULL if FULL.search(text) else SENTENCE
    pieces, between = ends.split(text), ends.findall(text)
    found, gaps = pieces[:1], []
    for gap, piece in zip(between, pieces[1:], strict=True):
        if found[-1].count("(") > found[-1].count(")"):
            found[-1] += gap + piece
        else:
            found.append(piece)
            gaps.append(gap)
    return found, gaps


def begins_with_amount(text: str) -> bool:
    """Return whether a text is an amount, or one with its interval or a remark behind it."""
    heads = (text, text.rpartition(" (")[0], re.split(r" to | \(", text)[0])
    return any(is_amount(head) for head in heads if head)


def short_names(catalogue: Mapping[str, str]) -> dict[str, str]:
    """Return the names that stand without their remark in brackets: `Detonation (knock) indicated`."""
    found = {}
    for message, said in catalogue.items():
        if message.count(" (") == 1 and "{" not in message:
            short = _REMARK.sub("", message)
            ends = message.endswith(")") and short != message
            if short != message and (said.endswith(")") or not ends):
                found[short] = _REMARK.sub("", said)
    return found


def later_sentences(catalogue: Mapping[str, str]) -> dict[str, str]:
    """Return the sentences that follow what comes first in a message: `{0} Behind it is a reading: {1}.`"""
    return {
        message[4:]: said[4:]
        for message, said in catalogue.items()
        if message.startswith("{0} ") and message[4:5].isupper() and said.startswith("{0} ") and "{0}" not in said[4:]
    }


def of_sentences(pattern: Pattern) -> bool:
    """Return whether a message is several sentences itself, the last maybe at a place: `{0}: no answer. {1}`."""
    return SENTENCE.search(pattern.message) is not None or FULL.search(pattern.message.replace("{", "A")) is not None


def of_several(pattern: Pattern, place: int) -> re.Pattern[str]:
    """Return what shows that more than one sentence stands at a place; behind a colon a list may stand."""
    return FULL if f": {{{place}}}" in pattern.message else SENTENCE
