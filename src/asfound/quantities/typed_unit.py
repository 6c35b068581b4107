"""The unit that somebody typed behind a number, and the words with it, against the quantity it is meant for."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from asfound.errors import AmbiguousError, InputError, UnknownNameError
from asfound.quantities.pressure_kind import split_pressure, with_kind
from asfound.quantities.unit_table import BASES
from asfound.quantities.units import Unit, fits, unit

if TYPE_CHECKING:
    from asfound.quantities.register import Quantity, System

_GAS = BASES.index("m3(n)")
_SPECIES = (
    r"O2|CO2|CO|NOx|NOX|NO2|NO|N2O|SO2|H2S|H2O|H2|N2|CH4|C2H6|C3H8|iC4|nC4|iC5|nC5|C6\+|THC|NMHC|VOC|HC|HCHO|CH2O"
    "|RH|rH|MN"
)
_A_YEAR = re.compile(r"(?:\s*/\s*(?:a|y|yr|year|annum)|\s+(?:per|a)\s+(?:year|annum))\s*$", re.IGNORECASE)
_AT_OXYGEN = re.compile(
    r"[\s,;(]*(?:at|@|bei|ref\.?|corr\.?(?:\s+to)?|,|\()\s*(?P<o2>\d+(?:[.,]\d+)?)\s*(?:%|vol-?%)\s*O2\s*\)?", re.I
)
_WORDS = (
    ("basis", re.compile(r"[\s,;]*\(?\b(?P<word>dry|wet|d\.?b\.?|trocken|feucht)\)?\.?\s*$", re.I)),
    ("as", re.compile(r"[\s,;]*\(?\b(?P<word>as\s+(?:NO2|propane|C3H8|C1|methane|CH4|C3|hexane))\)?\s*$")),
    ("by", re.compile(r"[\s,;]*\(?\b(?P<word>by\s+vol(?:ume)?\.?|vol\.?)\)?\s*$", re.I)),
    ("difference", re.compile(r"[\s,;]*\(?\b(?P<word>difference|diff\.?|interval|rise|delta)\)?\s*$", re.I)),
    (
        "species",
        re.compile(
            rf"[\s,;]*\(?(?<![A-Za-z0-9])(?P<word>rel\.?\s*(?:hum\.?|humidity)|relative\s+humidity|{_SPECIES})\)?\s*$"
        ),
    ),
    ("angle", re.compile(r"[\s,;]*\(?\b(?P<word>BTDC|bTDC|before\s+TDC|v\.?\s*OT)\)?\s*$")),
)
_PPM = re.compile(r"^(?P<unit>ppm|ppb)v?(?P<basis>d|w)v?$", re.I)


@dataclass(frozen=True, slots=True)
class TypedUnit:
    """A unit that fits its quantity, with what was said beside it."""

    unit: Unit
    quantity: Quantity
    gauge: bool = False
    turned: bool = False
    """A vacuum: counted downward from the surroundings."""
    reference_oxygen: float | None = None
    says: tuple[str, ...] = field(default=())

    def si(self, value: float) -> float:
        """Return a value in this unit in the SI unit of the quantity."""
        found = self.unit.to_si(value, difference=self.quantity.difference)
        mine = self.quantity.unit.factor
        return (-found if self.turned else found) / mine if mine != 1.0 or self.turned else found

    def size(self, value: float) -> float:
        """Return a difference in this unit in the SI unit of the quantity: no offset."""
        return self.unit.to_si(value, difference=True) / self.quantity.unit.factor


@dataclass(frozen=True, slots=True)
class _Asked:
    """What is asked of the text, for the complaints."""

    quantity: Quantity
    number: str
    given: str
    field: str
    system: System | None
    reference: str | None

    def refuse(self, because: str, try_next: str = "") -> InputError:
        return InputError(
            self.field, self.given, because, allowed=", ".join(fits(self.quantity.name)), try_next=try_next
        )


def typed_unit(
    written: str, quantity: Quantity, *, number: str, given: str, field: str, system: System | None,
    reference: str | None, default: str | None,
) -> TypedUnit:  # fmt: skip
    """Return the unit that was typed; InputError when it does not fit, AmbiguousError when it can be two."""
    asked = _Asked(quantity, number, given, field, system, reference)
    text, oxygen, says = _words(written.strip(), asked)
    if _is_symbol(text, quantity):
        text = ""
    if not text:
        text = default or ("1" if quantity.units == ("1",) else "")
        if not text:
            raise asked.refuse("has no unit", "Write the unit behind the number.")
    core, kind = split_pressure(text)
    found = _find(core, asked)
    _fit(found, asked)
    gauge, turned = _gauge(core, kind, asked)
    return TypedUnit(found, quantity, gauge, turned, oxygen, says)


def _is_symbol(text: str, quantity: Quantity) -> bool:
    return bool(text) and bool(quantity.symbol) and text.casefold() == quantity.symbol.casefold()


def _words(text: str, asked: _Asked) -> tuple[str, float | None, tuple[str, ...]]:
    """Take the words off the end of a unit and hold them against the quantity."""
    says: list[str] = []
    oxygen = None
    if asked.quantity.name.endswith("annual_mass"):  # a mass in a year: t/a, tons per year, tpy (short tons in the US)
        text = _A_YEAR.sub("", "ton(US)" if text.strip().lower() == "tpy" else text)
    at_oxygen = _AT_OXYGEN.search(text)
    if at_oxygen:
        oxygen = float(at_oxygen["o2"].replace(",", ".")) / 100
        says.append(f"at {at_oxygen['o2']} % O2")
        text = (text[: at_oxygen.start()] + " " + text[at_oxygen.end() :]).strip()
        if not asked.quantity.reference_oxygen:
            raise asked.refuse(f"is counted {says[0]}; this field wants the reading itself")
    ppm = None if asked.quantity.dimension == "mass ratio" else _PPM.match(text)  # ppmw is by weight there, not wet
    if ppm:
        says.append(_basis({"d": "dry", "w": "wet"}[ppm["basis"].lower()], asked))
        text = ppm["unit"]
    while found := next(((kind, hit) for kind, pattern in _WORDS if (hit := pattern.search(text))), None):
        kind, hit = found
        if (kind == "species" and asked.quantity.pressure) or (kind == "by" and not text[: hit.start()].strip()):
            break  # inches of H2O; a unit that is all one of these words
        says.insert(0, _word(kind, " ".join(hit["word"].split()), asked))
        text = text[: hit.start()].strip()
    return text, oxygen, tuple(says)


def _word(kind: str, word: str, asked: _Asked) -> str:
    if kind == "basis":
        return _basis("dry" if word[0].lower() in "dt" else "wet", asked)
    if kind == "difference" and not asked.quantity.difference and asked.quantity.pressure != "difference":
        raise asked.refuse("is a difference; this field wants the reading itself")
    if kind == "species":
        species = "RH" if word[0] in "rR" else {"NOX": "NOx", "CH2O": "HCHO"}.get(word, word)
        if species != asked.quantity.species:
            wanted = asked.quantity.species or asked.quantity.title
            raise asked.refuse(
                f"is of {species}; this field wants {wanted}", "Look whether it belongs in another field."
            )
    return word


def _basis(basis: str, asked: _Asked) -> str:
    if asked.quantity.basis and asked.quantity.basis != basis:
        raise asked.refuse(
            f"is {basis}; this field wants it {asked.quantity.basis}",
            "Put it into the field of its own basis: water makes them differ by a tenth to a fifth.",
        )
    return basis


def _find(text: str, asked: _Asked) -> Unit:
    """Return the unit; a volume of gas gets the site's state where the text gives none."""
    try:
        found = unit(text, reference=asked.reference, system=asked.system)
        if asked.quantity.unit.vector[_GAS] and not found.vector[_GAS]:
            found = _at_state(text, found, asked)
    except AmbiguousError as several:
        if not asked.quantity.unit.vector[_GAS] and _is_gas(text):
            raise asked.refuse(_IN_THE_PIPE) from None
        choices = {f"{asked.number} {choice}": meaning for choice, meaning in several.choices.items()}
        raise AmbiguousError(asked.field, asked.given, several.because, choices=choices) from None
    except UnknownNameError:
        raise asked.refuse(f"has a unit that nothing here bears: '{text}'") from None
    return found


_IN_THE_PIPE = "is a volume of gas at a reference state; this field wants no such volume"


def _is_gas(text: str) -> bool:
    try:
        return bool(unit(text, reference="0 C, 101.325 kPa").vector[_GAS])
    except (AmbiguousError, UnknownNameError):
        return False


def _at_state(text: str, found: Unit, asked: _Asked) -> Unit:
    """Return a plain volume (m3, ft3) told at the site's state, where a quantity of gas wants one."""
    try:
        if asked.reference:
            return unit(f"{text} ({asked.reference})")
        normal = unit(f"{text} (0 C, 101.325 kPa)")
    except UnknownNameError:
        return found
    if normal.vector != asked.quantity.unit.vector:
        return found
    states = ("0 C, 101.325 kPa", "15 C, 101.325 kPa", "20 C, 101.325 kPa", "60 F, 14.696 psia", "60 F, 14.73 psia")
    choices = {unit(f"{text} ({state})").symbol: f"gas volume at {state}" for state in states}
    raise AmbiguousError("unit", text, "is a volume of gas without its temperature and pressure", choices=choices)


def _fit(found: Unit, asked: _Asked) -> None:
    wanted = asked.quantity.unit
    same = found.vector == wanted.vector
    if same and not any(found.vector):  # numbers: a mole fraction is no mass ratio, a heat rate no per cent
        same = found.dimension in {unit(symbol).dimension for symbol in asked.quantity.units}
    if same:
        return
    if found.vector[_GAS] and not wanted.vector[_GAS]:
        raise asked.refuse(_IN_THE_PIPE)
    raise asked.refuse(
        f"is a unit of {found.dimension}; {asked.quantity.title.lower()} is {_article(asked.quantity.dimension)}"
    )


def _article(dimension: str) -> str:
    return f"{'an' if dimension[0] in 'aeiou' else 'a'} {dimension}"


def _gauge(core: str, kind: str, asked: _Asked) -> tuple[bool, bool]:
    """Return whether it is gauge, and whether it counts downward, for a pressure; asks where it can be either."""
    about = asked.quantity
    if not about.pressure:
        return False, False
    if about.pressure == "difference":
        if kind == "absolute":
            raise asked.refuse("is absolute; this is counted from the surroundings, or across something")
        return False, kind == "vacuum"
    if kind == "difference":
        raise asked.refuse("is a difference of pressures; this field wants the pressure itself")
    if not about.gauge_possible:
        if kind in ("gauge", "vacuum"):
            raise asked.refuse("is gauge; this pressure is absolute by its nature")
        return False, False
    if not kind:
        choices = {
            f"{asked.number} {with_kind(core, gauge=True)}": "gauge: counted from the barometer",
            f"{asked.number} {with_kind(core, gauge=False)}": "absolute: counted from vacuum",
        }
        raise AmbiguousError(
            asked.field, asked.given, "can be gauge or absolute", choices=choices,
            try_next="Look at the instrument: at standstill a gauge reads 0, an absolute one the barometer.",
        )  # fmt: skip
    return kind in ("gauge", "vacuum"), kind == "vacuum"
