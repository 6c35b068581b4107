"""How a unit is written: one spelling out of many, then tokens."""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction
from typing import NamedTuple

_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺", "0123456789-+")
_SUPERSCRIPT_RUN = re.compile("[⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺]+")
_BEFORE_NFKC = {"º": "°", "˚": "°", "″": '"', "”": '"', "“": '"', "′": "'", "’": "'", "µ": "µ", "μ": "µ"}
_AFTER_NFKC = {
    "μ": "µ",
    "−": "-",
    "–": "-",
    "‐": "-",
    "·": ".",
    "⋅": ".",
    "∙": ".",
    "×": ".",
    "*": ".",
    "⁄": "/",
    "∕": "/",
}
_TRANSLATE_BEFORE = str.maketrans(_BEFORE_NFKC)
_TRANSLATE_AFTER = str.maketrans(_AFTER_NFKC)
_PER = re.compile(r"\s+per\s+")
_SPACE_TO_PRODUCT = re.compile(r"(?<=[A-Za-z0-9)])\s+(?=[A-Za-z(])")

_T = r"(?P<t>-?\d+(?:\.\d+)?)\s*(?:°|deg\s*)?(?P<tu>[CFK])"
_P = r"(?P<p>\d+(?:\.\d+)?)\s*(?P<pu>kPa|psia?|bara?|mbara?|hPa|Pa|atm|in\s*Hg)(?:\s*\(?(?:abs|a)\)?)?"
_STATE = re.compile(rf"\s*(?:\(|@|\bat\b|\bbei\b|,)?\s*{_T}\s*[,;/&]?\s*(?:and|und)?\s*{_P}\s*\)?")
_NAMED_STATES = (
    (
        re.compile(r"(?<![A-Za-z])(?:Nm\^?3|nm\^?3(?!\w)|m\^?3\s*\(?[nN]\)?(?![A-Za-z])|normal\s*m\^?3)"),
        "m3",
        "0 C, 101.325 kPa",
    ),
    (re.compile(r"(?<![A-Za-z])(?:[Ss]m\^?3|m\^?3\s*\(s\))(?!\w)"), "scm", "15 C, 101.325 kPa"),
    (re.compile(r"(?<![A-Za-z])(?:dscm|DSCM)(?![A-Za-z])"), "scm", "20 C, 101.325 kPa"),
    (re.compile(r"(?<![A-Za-z])(?:dscf|DSCF)(?=[^A-Za-z]|$)"), "scf", "20 C, 101.325 kPa"),
    (re.compile(r"(?<![A-Za-z])(?:dscf|DSCF)(?=[mhdMHD](?![A-Za-z]))"), "scf", "20 C, 101.325 kPa"),
)


class Token(NamedTuple):
    """A piece of a unit: ``kind`` is ``name``, ``number``, ``power`` or one of the signs ``/ . ( )``."""

    kind: str
    text: str
    number: Fraction = Fraction(1)


def plain(text: str) -> str:
    """Return the one spelling: superscripts as ``^n``, one kind of stroke, dot, micro and degree sign.

    >>> plain("kg·m⁻³"), plain("℃"), plain("µmol/mol")
    ('kg.m^-3', '°C', 'µmol/mol')
    """
    return unicodedata.normalize("NFKC", raised(text.translate(_TRANSLATE_BEFORE))).translate(_TRANSLATE_AFTER).strip()


def raised(text: str) -> str:
    """Return a text with raised figures as ``^n``; to be done before NFKC, which would make 10³ into 103."""
    return _SUPERSCRIPT_RUN.sub(lambda run: "^" + run.group().translate(_SUPERSCRIPTS), text)


def split_state(text: str) -> tuple[str, str]:
    """Return a unit without the gas state that is written in it, and that state; both as text, the state maybe empty.

    >>> split_state("Btu/scf (60 F, 14.73 psia)")
    ('Btu/scf', '60 F, 14.73 psia')
    >>> split_state("mg/Nm3")
    ('mg/m3', '0 C, 101.325 kPa')
    """
    found = _STATE.search(text)
    if found:
        rest = (text[: found.start()] + text[found.end() :]).strip()
        return rest, f"{found['t']} {found['tu']}, {found['p']} {found['pu'].replace(' ', '')}"
    for pattern, instead, state in _NAMED_STATES:
        rest, count = pattern.subn(instead, text)
        if count:
            return rest, state
    return text, ""


def squeeze(text: str) -> str:
    """Return a plain spelling without its spaces, inch and foot signs as words: the key of the table of aliases."""
    text = _PER.sub("/", text).replace('"', "in").replace("''", "in").replace("'", "ft")
    return re.sub(r"\s+", "", text.replace("^", "").replace("**", ""))


def tokens(text: str, special: re.Pattern[str]) -> list[Token] | None:
    """Return the tokens of a plain spelling, or None where something in it is no part of a unit.

    ``special`` matches names that hold signs (``hp-h``, ``gal(UK)``), longest first.
    """
    text = _PER.sub("/", text).replace("**", "^").replace('"', "in").replace("''", "in").replace("'", "ft")
    text = re.sub(r"\s*([/.()^])\s*", r"\1", text)
    text = _SPACE_TO_PRODUCT.sub(".", text)
    found: list[Token] = []
    at = 0
    while at < len(text):
        token, at = _next(text, at, special, after_name=bool(found) and found[-1].kind in ("name", ")"))
        if token is None:
            return None
        found.append(token)
    return found


_NAME = re.compile(r"[A-Za-zµΩ°%‰_$ÄÖÜäöü]+")
_NUMBER = re.compile(r"\d+")
_POWER = re.compile(r"\^?([-+]?\d+)")


def _next(text: str, at: int, special: re.Pattern[str], *, after_name: bool) -> tuple[Token | None, int]:
    if after_name and (power := _POWER.match(text, at)):
        return Token("power", power.group(), Fraction(int(power.group(1)))), power.end()
    if text[at] in "/.()":
        return Token(text[at], text[at]), at + 1
    if text[at] == "-":  # g/hp-h: a product; a sign before digits was a power
        return Token(".", "-"), at + 1
    if name := special.match(text, at) or _NAME.match(text, at):
        return Token("name", name.group()), name.end()
    if number := _NUMBER.match(text, at):
        return Token("number", number.group(), Fraction(int(number.group()))), number.end()
    return None, at
