"""The table of units that stand by themselves, with all their spellings. Source of each row: ``data/units.csv``."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache
from math import pi
from typing import TYPE_CHECKING, TypeAlias

from asfound.errors import KnowledgeError
from asfound.quantities.unit_text import Token, plain, squeeze, tokens
from asfound.sources.tables import load_csv

if TYPE_CHECKING:
    from collections.abc import Iterable

Factor: TypeAlias = Fraction | float
Vector: TypeAlias = tuple[int, ...]

BASES = ("m", "kg", "s", "K", "A", "mol", "rad", "m3(n)", "std")
"""What every unit is composed of. ``m3(n)`` is a cubic metre of gas at 0 C and 101.325 kPa; ``std`` is a cubic metre of
gas whose state has not been said yet."""
_BASE_UCUM = ("m", "kg", "s", "K", "A", "mol", "rad", "m3{0C_101.325kPa}", "m3")
NOTHING: Vector = (0,) * len(BASES)
_PREFIXES = {"n": -9, "µ": -6, "u": -6, "m": -3, "c": -2, "d": -1, "h": 2, "k": 3, "M": 6, "G": 9, "T": 12}
_FOLDS = frozenset("cfvwajl")
"""Single letters that may be typed in either case; others would be taken for something else (k, m, g, s)."""
_NEVER_FOLDED = frozenset({"mPa", "mW"})
"""MPA and mw mean megapascal and megawatt: thousandths of them are not met beside an engine (common practice)."""
_LARGEST_NUMBER, _LARGEST_POWER = 10**6, 9
"""gr/100scf, lb/1000gal, s-2: larger ones are scribbles, and slow to work out."""
_ANGLES = {"deg": pi / 180, "r": 2 * pi}


@dataclass(frozen=True, slots=True)
class Atom:
    """A unit that stands by itself."""

    symbol: str
    title: str
    dimension: str
    factor: Factor
    vector: Vector
    ucum: str
    zero: Fraction = Fraction(0)
    exactness: str = "exact"
    source: str = "si_brochure"
    note: str = ""


@dataclass(slots=True)
class Table:
    """All atoms by symbol, their spellings, and the pattern of names that hold signs."""

    atoms: dict[str, Atom] = field(default_factory=dict)
    spellings: dict[str, str] = field(default_factory=dict)
    folded: dict[str, set[str]] = field(default_factory=dict)
    special: re.Pattern[str] = re.compile(r"(?!)")

    def add(self, atom: Atom, *names: str) -> None:
        """Add an atom under its symbol and other spellings; a spelling that is taken is a mistake in the table."""
        self.atoms[atom.symbol] = atom
        for name in (atom.symbol, *names):
            key = squeeze(plain(name))
            if self.spellings.setdefault(key, atom.symbol) != atom.symbol:
                raise KnowledgeError("asfound/quantities/data/units.csv", 1, 1, f"'{name}' would mean two units.")

    def finish(self) -> None:
        """Build what is derived from the spellings."""
        for name, symbol in self.spellings.items():
            if (len(name) > 1 or name.lower() in _FOLDS) and symbol not in _NEVER_FOLDED:
                self.folded.setdefault(name.casefold(), set()).add(symbol)
        signs = sorted(
            (name for name in self.spellings if not name.isalpha() and "/" not in name), key=len, reverse=True
        )
        self.special = re.compile(rf"(?:{'|'.join(map(re.escape, signs))})(?![A-Za-z0-9])")

    def find(self, name: str) -> tuple[Atom, ...]:
        """Return the atoms that a spelling may mean: none, one, or several where only the case tells them apart."""
        key = squeeze(name)
        if key in self.spellings:
            return (self.atoms[self.spellings[key]],)
        return tuple(self.atoms[symbol] for symbol in sorted(self.folded.get(key.casefold(), ())))


@cache
def table() -> Table:
    """Return the table, read once."""
    found = Table()
    for place, (symbol, ucum) in enumerate(zip(BASES, _BASE_UCUM, strict=True)):
        vector = tuple(int(at == place) for at in range(len(BASES)))
        dimension, title, names, prefixes = _BASE_WORDS[symbol]
        base = Atom(symbol, title, dimension, Fraction(1), vector, ucum)
        found.add(base, *names)
        _add_prefixed(found, base, prefixes)
    for row in load_csv("asfound.quantities", "data/units.csv"):
        atom = _atom(found, row)
        spellings = row["aliases"].split()
        found.add(atom, *(name for name in spellings if ":" not in name))
        _add_prefixed(found, atom, row["prefixes"].split())
        for name, symbol in (name.split(":") for name in spellings if ":" in name):
            found.spellings[squeeze(plain(name))] = symbol
    found.finish()
    return found


_BASE_WORDS: dict[str, tuple[str, str, tuple[str, ...], tuple[str, ...]]] = {
    "m": ("length", "metre", ("metre", "meter", "metres", "meters"), ("n", "µ", "m", "c", "d", "k")),
    "kg": ("mass", "kilogram", ("kilogram", "kilograms", "kilo", "kgs"), ()),
    "s": ("time", "second", ("sec", "secs", "second", "seconds"), ("µ", "m")),
    "K": ("temperature", "kelvin", ("kelvin", "degK"), ()),
    "A": ("current", "ampere", ("amp", "amps", "ampere", "Aac"), ("m", "k")),
    "mol": ("amount of substance", "mole", ("mole", "moles"), ("µ", "m", "k")),
    "rad": ("angle", "radian", ("radian", "radians"), ("m",)),
    "m3(n)": ("gas volume", "normal cubic metre, 0 C and 101.325 kPa", (), ()),
    "std": ("gas volume", "cubic metre of gas, state not said", (), ()),
}


def _add_prefixed(found: Table, atom: Atom, prefixes: Iterable[str]) -> None:
    for prefix in prefixes:
        sign = "µ" if prefix == "u" else prefix
        factor = atom.factor * Fraction(10) ** _PREFIXES[prefix]
        ucum = ("u" if sign == "µ" else sign) + atom.ucum
        title = f"{_PREFIX_WORDS[sign]}{atom.title}"
        prefixed = Atom(sign + atom.symbol, title, atom.dimension, factor, atom.vector, ucum, source=atom.source)
        found.add(prefixed, *(("u" + atom.symbol,) if sign == "µ" else ()))


_PREFIX_WORDS = {
    "n": "nano", "µ": "micro", "m": "milli", "c": "centi", "d": "deci", "h": "hecto", "k": "kilo", "M": "mega",
    "G": "giga", "T": "tera",
}  # fmt: skip


def _atom(found: Table, row: dict[str, str]) -> Atom:
    symbol = row["symbol"]
    if symbol in _ANGLES:
        factor: Factor = _ANGLES[symbol]
        vector = found.atoms["rad"].vector
    else:
        number, _, expression = row["definition"].partition(" ")
        factor, vector = Fraction(number), NOTHING
        if expression:
            parsed = _defined(expression, found)
            factor, vector = factor * parsed.factor, parsed.vector
    zero = Fraction(row["zero"]) if row["zero"] else Fraction(0)
    words = {key: row[key] for key in ("title", "dimension", "ucum", "exactness", "source", "note")}
    return Atom(symbol=symbol, factor=factor, vector=vector, zero=zero, **words)


def _defined(expression: str, found: Table) -> Parsed:
    whole = found.find(expression)
    if len(whole) == 1:
        return Parsed(whole[0].factor, whole[0].vector, ((whole[0], 1),))
    return evaluate(tokens(expression, found.special) or [], found)


@dataclass(frozen=True, slots=True)
class Parsed:
    """What an expression of units comes to: its factor to SI, exponents of `BASES`, and atoms with their exponents."""

    factor: Factor
    vector: Vector
    parts: tuple[tuple[Atom | int, int], ...]


class NotAUnitError(Exception):
    """Inside this package only: a name in an expression is no unit; ``several`` holds what it may mean, if anything."""

    def __init__(self, name: str, several: tuple[Atom, ...] = ()) -> None:
        self.name, self.several = name, several
        super().__init__(name)


def evaluate(found: list[Token], units: Table) -> Parsed:
    """Return what the tokens come to. All after a stroke is below it, up to the next stroke."""
    parts, rest = _quotient(found, 0, units)
    if rest != len(found):
        raise NotAUnitError("".join(token.text for token in found[rest:]))
    factor: Factor = Fraction(1)
    vector = list(NOTHING)
    for atom, power in parts:
        factor = factor * (Fraction(atom) if isinstance(atom, int) else atom.factor) ** power
        if not isinstance(atom, int):
            vector = [have + power * more for have, more in zip(vector, atom.vector, strict=True)]
    return Parsed(factor, tuple(vector), tuple(parts))


_Parts: TypeAlias = list[tuple[Atom | int, int]]


def _quotient(found: list[Token], at: int, units: Table) -> tuple[_Parts, int]:
    parts, at = _product(found, at, units)
    while at < len(found) and found[at].kind == "/":
        below, at = _product(found, at + 1, units)
        parts += [(atom, -power) for atom, power in below]
    return parts, at


def _product(found: list[Token], at: int, units: Table) -> tuple[_Parts, int]:
    parts: _Parts = []
    while at < len(found) and found[at].kind not in ("/", ")"):
        if found[at].kind == "." and parts:
            at += 1
        piece, at = _piece(found, at, units)
        parts += piece
    if not parts:
        raise NotAUnitError("/")
    return parts, at


def _piece(found: list[Token], at: int, units: Table) -> tuple[_Parts, int]:
    if at >= len(found):
        raise NotAUnitError(found[-1].text if found else "")
    token = found[at]
    piece: _Parts
    if token.kind == "(":
        piece, at = _quotient(found, at + 1, units)
        if at >= len(found) or found[at].kind != ")":
            raise NotAUnitError("(")
        at += 1
    elif token.kind == "name":
        atoms = units.find(token.text)
        if len(atoms) != 1:
            raise NotAUnitError(token.text, atoms)
        piece, at = [(atoms[0], 1)], at + 1
    elif token.kind == "number" and 0 < token.number <= _LARGEST_NUMBER:
        piece, at = [(int(token.number), 1)], at + 1
    else:
        raise NotAUnitError(token.text)
    if at < len(found) and found[at].kind == "power":
        if abs(found[at].number) > _LARGEST_POWER:
            raise NotAUnitError(found[at].text)
        power = int(found[at].number)
        return [(atom, have * power) for atom, have in piece], at + 1
    return piece, at
