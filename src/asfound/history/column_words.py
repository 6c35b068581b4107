"""What the words over a column speak of, in the languages of panels: ``T_Abgas_Zyl3`` is exhaust and cylinder 3."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from asfound.quantities.register import quantities
from asfound.sources.tables import load_csv

_PACKAGE = "asfound.history"
_PARTS = re.compile(r"[A-Z]+(?![a-z])\d*|[A-Z]?[a-z]+|\d+|[A-Za-z]+\d+", re.ASCII)
_SIGN = {
    "ä": "ae",
    "ö": "oe",
    "ü": "ue",
    "ß": "ss",
    "ø": "o",
    "å": "a",
    "æ": "ae",
    "ł": "l",
    "đ": "d",
    "₂": "2",
    "°": " ",
}
_SPECIES = re.compile(r"(?<![A-Za-z])(CH4|H2S|O2|NOx|CO2|CO)(?=\s*\d?\b|_|-|\d?$)", re.IGNORECASE)
_SPECIES_WORDS = {
    "ch4": "methane", "h2s": "hydrosulfide", "o2": "oxygen", "nox": "nox", "co2": "carbondioxide",
    "co": "carbonmonoxide",
}  # fmt: skip
_BANK_NUMBER = re.compile(r"([LR])(\d{1,2})$")
_SMALL_WORDS = """of the at for de la du der die des and und no nr num value wert actual ist istwert pv avg mean average
valor a main total sensor ch channel"""
_SMALL = frozenset(_SMALL_WORDS.split())
_ALONE = {"t": "temperature", "p": "pressure", "n": "speed", "h": "hours", "u": "voltage", "i": "current", "q": "flow",
          "f": "frequency", "s": "starts", "pel": "power", "l": "left", "r": "right", "lambda": "lambda"}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Spoken:
    """What a head speaks of."""

    concepts: frozenset[str]
    unknown: tuple[str, ...]
    """Words that no table knows."""
    number: int | None = None
    """The number in it: of a cylinder, a bearing, a stage."""
    side: str = ""
    """``L4``, ``R2``: a cylinder of a bank."""


def plain(text: str) -> str:
    """Return a text without marks over its letters, German ones spelt out."""
    text = "".join(_SIGN.get(sign, _SIGN.get(sign.lower(), sign)) for sign in text)
    return "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))


def spoken(head: str) -> Spoken:
    """Return the concepts of a column's head, the number in it, and what nobody knows."""
    concepts: set[str] = set()
    unknown: list[str] = []
    number: int | None = None
    side = ""
    for part in _PARTS.findall(_SPECIES.sub(_species, plain(head))):
        if part.isdigit():
            number = int(part) if number is None else number
            continue
        if found := _BANK_NUMBER.match(part):
            side, number = part, int(found[2])
            continue
        word = part.lower()
        letters, digits = re.match(r"([a-z]+)(\d*)", word).groups()  # type: ignore[union-attr]
        if word not in _words() and digits and letters not in ("co", "o"):
            number, word = int(digits) if number is None else number, letters
        if word in _SMALL:
            continue
        hit = _words().get(word) or _ALONE.get(word)
        several = (hit,) if hit else _compound(word)
        if several:
            concepts.update(several)
        else:
            unknown.append(word)
    return Spoken(frozenset(concepts), tuple(unknown), number, side)


def _species(found: re.Match[str]) -> str:
    return f" {_SPECIES_WORDS[found[1].lower()]} "


def _compound(word: str) -> tuple[str, ...]:
    """Return the concepts of a word made of words (``Abgastemperatur``), none when a part is unknown."""
    if len(word) < 5:
        return ()
    known = _words()
    at = 0
    found: list[str] = []
    while at < len(word):
        if word[at] in "sn" and found and word[at + 1 :] and any(
            word[at + 1 : end] in known for end in range(at + 3, len(word) + 1)
        ) and not any(word[at:end] in known for end in range(at + 3, len(word) + 1)):  # fmt: skip
            at += 1
        end = next((end for end in range(len(word), at + 2, -1) if word[at:end] in known), 0)
        if not end:
            return ()
        found.append(known[word[at:end]])
        at = end
    return tuple(found)


@cache
def _words() -> Mapping[str, str]:
    rows = load_csv(_PACKAGE, "data/concepts.csv")
    return {word: row["concept"] for row in rows for word in row["words"].split() if len(word) > 1}


@cache
def ways() -> Mapping[str, tuple[frozenset[str], ...]]:
    """Return for every quantity of the register the sets of concepts that name it: its title, and the table's ways."""
    found: dict[str, list[frozenset[str]]] = {}
    for name, one in quantities().items():
        title = spoken(one.title)
        found[name] = [title.concepts | {f"word:{word}" for word in title.unknown}]
    for row in load_csv(_PACKAGE, "data/column_quantities.csv"):
        found[row["quantity"]].append(frozenset(row["concepts"].split()))
    return {name: tuple(several) for name, several in found.items()}


@cache
def of_table() -> frozenset[str]:
    """Return the quantities that logs usually hold: those of the table."""
    return frozenset(row["quantity"] for row in load_csv(_PACKAGE, "data/column_quantities.csv"))
