"""Units at the boundary: what a person may write beside a number, and what it is in SI.

A unit is composed as the trade writes it: ``g/hp-h``, ``Btu/(h.ft.F)``, ``mg/m3(n)``, ``gr/100scf``. All after a
stroke is below it, up to the next stroke (``g/hp.h`` is per horsepower hour). A volume of gas is not a quantity
without temperature and pressure: its unit carries its reference state, and one without (``scf``) is asked about
unless the site has set one.

The factors are exact fractions where the definition is exact; see ``data/units.csv`` for each definition and its
source.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, TypeVar

from asfound.errors import AmbiguousError, UnknownNameError
from asfound.quantities.gas_states import NORMAL, gas_state, offered_states
from asfound.quantities.unit_table import BASES, Atom, NotAUnitError, Parsed, Vector, evaluate, table
from asfound.quantities.unit_text import plain, split_state, squeeze, tokens

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.quantities.typing import Array

V = TypeVar("V", "float", "Array")

_LENGTH, _TIME, _NORMAL, _STATELESS = (BASES.index(base) for base in ("m", "s", "m3(n)", "std"))
_LONGEST = 120
_SEVERAL = {
    "ton": {"t": "tonne, 1000 kg", "ton(US)": "short ton, 2000 lb", "ton(UK)": "long ton, 2240 lb"},
    "therm": {"thm(US)": "US therm, 100 000 Btu of 59 F", "thm": "therm (EC), 105.506 MJ"},
}
_SEVERAL["tons"], _SEVERAL["therms"] = _SEVERAL["ton"], _SEVERAL["therm"]
_PREFERRED = {"us": {"ton": "ton(US)", "tons": "ton(US)", "therm": "thm(US)", "therms": "thm(US)"}, "si": {}}
_DIMENSIONS = {
    "m": "length", "m2": "area", "m3": "volume", "kg": "mass", "s": "time", "K": "temperature", "A": "current",
    "mol": "amount of substance", "rad": "angle", "m3(n)": "gas volume", "Pa": "pressure", "J": "energy", "W": "power",
    "N": "force", "V": "voltage", "Ohm": "resistance", "Hz": "frequency", "rad/s": "angular speed", "m/s": "speed",
    "m3/s": "volume flow", "m3(n)/s": "gas volume flow", "kg/s": "mass flow", "mol/s": "molar flow",
    "kg/m3": "density", "kg/m3(n)": "mass per gas volume", "J/m3(n)": "energy per gas volume",
    "J/kg": "specific energy", "J/(kg.K)": "specific heat capacity", "J/mol": "molar energy",
    "J/m3": "energy per volume",
    "W/(m.K)": "thermal conductivity", "W/(m2.K)": "heat transfer coefficient", "kg/J": "mass per energy",
    "Pa.s": "dynamic viscosity", "m2/s": "kinematic viscosity", "kg/mol": "molar mass", "kg/m2": "mass per area",
    "m/s2": "acceleration", "m3(n)/J": "gas volume per energy", "m3/J": "volume per energy",
    "kg.m2": "moment of inertia",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit and how it becomes SI: SI value = value * ``factor`` + ``offset``.

    ``factor`` leads to the coherent SI unit of the dimension, gas volumes to normal cubic metres (0 C, 101.325 kPa).
    ``offset`` is not zero for temperatures alone. ``exact`` is the factor as a fraction, None where it is only printed
    as a rounded number (pi) . ``reference`` is the state of the gas volume in it. ``ucum`` is empty where that code has
    no such unit.
    """

    symbol: str
    title: str
    dimension: str
    factor: float
    offset: float
    ucum: str
    reference: str = ""
    exact: Fraction | None = None
    exactness: str = "exact"
    source: str = "si_brochure"
    note: str = ""
    vector: Vector = ()

    @property
    def text(self) -> str:
        """The symbol as a page prints it: raised figures and dots."""
        text = self.symbol
        for plain_form, printed in (
            ("m2", "m²"),
            ("m3", "m³"),
            ("t2", "t²"),
            ("t3", "t³"),
            ("n2", "n²"),
            ("n3", "n³"),
            ("s2", "s²"),
        ):
            text = text.replace(plain_form, printed)
        return text

    def to_si(self, value: V, *, difference: bool = False) -> V:
        """Return the value in SI; a difference of temperatures has no offset."""
        return value * self.factor if difference or not self.offset else value * self.factor + self.offset

    def from_si(self, value: V, *, difference: bool = False) -> V:
        """Return an SI value in this unit; a difference of temperatures has no offset."""
        return value / self.factor if difference or not self.offset else (value - self.offset) / self.factor


def to_si(value: V, symbol: str, *, difference: bool = False, reference: str | None = None) -> V:
    """Return a value, float or array, in the SI unit of its dimension.

    >>> to_si(90.0, "°C"), round(to_si(60.0, "psi"), 2)
    (363.15, 413685.44)
    """
    return unit(symbol, reference=reference).to_si(value, difference=difference)


def from_si(value: V, symbol: str, *, difference: bool = False, reference: str | None = None) -> V:
    """Return an SI value, float or array, in a unit.

    >>> round(from_si(1.0 / 3.6e6 * 1e-3, "g/hp-h"), 6)
    0.7457
    """
    return unit(symbol, reference=reference).from_si(value, difference=difference)


def fits(quantity: str) -> tuple[str, ...]:
    """Return the units that a page offers for a quantity, as they can be typed; others of its dimension are taken too.

    A pressure that may be gauge or absolute has each unit both ways (``bar g``, ``bar abs``).
    """
    from asfound.quantities.register import quantity as registered  # the register stands on this module

    return registered(quantity).typed_units


@lru_cache(maxsize=4096)
def unit(symbol: str, *, reference: str | None = None, system: str | None = None) -> Unit:
    """Return the unit that a symbol means.

    Parameters
    ----------
    symbol : str
        As people write it: ``psi``, ``g/hp-h``, ``MMBtu/hr``, ``mg/Nm³``, ``Btu/scf (60 F, 14.73 psia)``.
    reference : str, optional
        State of gas volumes that come without one (``60 F, 14.73 psia``).
    system : {'si', 'us'}, optional
        Decides ``ton`` and ``therm``.

    Raises
    ------
    UnknownNameError
        Nothing is written so.
    AmbiguousError
        The state of a gas volume is missing; or only the case tells two units apart (``mw``); or ``ton``.
    """
    if len(symbol) > _LONGEST:
        raise UnknownNameError("unit", f"{symbol[:20]}...", ())
    text = plain(symbol)
    key = squeeze(text)
    if key in _SEVERAL:
        preferred = _PREFERRED.get(system or "", {}).get(key)
        if preferred is None:
            raise AmbiguousError("unit", symbol, "is the name of several units", choices=dict(_SEVERAL[key]))
        text = preferred
    text, state = split_state(text)
    parsed = _parse(text, symbol)
    if state or parsed.vector[_STATELESS]:
        return _at_state(parsed, text, symbol, state or reference)
    return _unit(parsed, NORMAL if parsed.vector[_NORMAL] else "")


def _parse(text: str, symbol: str) -> Parsed:
    known = table()
    whole = known.find(text)
    if len(whole) == 1:
        return Parsed(whole[0].factor, whole[0].vector, ((whole[0], 1),))
    if len(whole) > 1:
        raise _by_case(symbol, symbol, whole)
    found = tokens(text, known.special)
    if not found:
        raise UnknownNameError("unit", symbol, known.spellings)
    try:
        return evaluate(found, known)
    except NotAUnitError as wrong:
        if wrong.several:
            raise _by_case(symbol, wrong.name, wrong.several) from None
        raise UnknownNameError("unit", symbol, known.spellings) from None


def _by_case(symbol: str, name: str, several: tuple[Atom, ...]) -> AmbiguousError:
    choices = {symbol.replace(name, atom.symbol): atom.title for atom in several}
    return AmbiguousError("unit", symbol, "can be read as more than one unit: small or capital letter", choices=choices)


def _at_state(parsed: Parsed, text: str, symbol: str, state: str | None) -> Unit:
    """Return the unit with its gas volume told at a state; cubic length counts as gas volume here."""
    if not state:
        choices = {f"{symbol} ({name})": f"gas volume at {name}" for name in offered_states()}
        raise AmbiguousError("unit", symbol, "is a volume of gas without its temperature and pressure", choices=choices)
    power = parsed.vector[_STATELESS] or sum(_cubes(part, power) for part, power in parsed.parts)
    if not power:
        raise UnknownNameError("unit with a gas volume", symbol, ("m3(n)", "scf", "m3"))
    here = gas_state(state)
    vector = list(parsed.vector)
    vector[_NORMAL] += power
    if vector[_STATELESS]:
        vector[_STATELESS] = 0
    else:
        vector[_LENGTH] -= 3 * power
    at_state = Parsed(parsed.factor * here.normal_per_here**power, tuple(vector), parsed.parts)
    return _unit(at_state, here.name, written=text)


def _cubes(part: Atom | int, power: int) -> int:
    """Return how often a part is a volume: a litre, a cfm, a metre to the third."""
    if isinstance(part, int):
        return 0
    if part.vector[_LENGTH] == 3 and not any(part.vector[base] for base in range(1, len(BASES)) if base != _TIME):
        return power
    return power // 3 if part.dimension == "length" and power % 3 == 0 else 0


def _unit(parsed: Parsed, reference: str, *, written: str = "") -> Unit:
    alone = parsed.parts[0][0] if len(parsed.parts) == 1 and parsed.parts[0][1] == 1 else None
    atom = alone if isinstance(alone, Atom) else None
    exact = parsed.factor if isinstance(parsed.factor, Fraction) else None
    symbol, ucum = _symbol(parsed), _ucum(parsed, reference)
    if written:
        symbol = _with_state(symbol, reference)
    kinds = {part.exactness for part, _ in parsed.parts if isinstance(part, Atom)}
    exactness = next((kind for kind in ("printed", "conventional") if kind in kinds), "exact")
    sources = dict.fromkeys(part.source for part, _ in parsed.parts if isinstance(part, Atom))
    return Unit(
        symbol=symbol,
        title=(atom.title if atom else symbol) + (f", gas at {reference}" if written else ""),
        dimension=atom.dimension if atom and not written else _dimension(parsed),
        factor=float(parsed.factor),
        offset=float(atom.zero) if atom else 0.0,
        ucum=ucum,
        reference=reference,
        exact=exact,
        exactness=atom.exactness if atom else exactness,
        source=";".join(sources) or "si_brochure",
        note=atom.note if atom else "",
        vector=parsed.vector,
    )


def _dimension(parsed: Parsed) -> str:
    parts = [part for part, _ in parsed.parts if isinstance(part, Atom)]
    return f"{parts[0].dimension} ratio" if parts and not any(parsed.vector) else dimension_name(parsed.vector)


def dimension_name(vector: Vector) -> str:
    """Return what a unit measures, in words, from its exponents of `BASES`; the exponents where it has no name."""
    name = _dimension_names().get(vector)
    if name:
        return name
    return "ratio" if not any(vector) else _symbol_of(zip(BASES, vector, strict=True))


@lru_cache(maxsize=1)
def _dimension_names() -> dict[Vector, str]:
    return {_parse(symbol, symbol).vector: name for symbol, name in _DIMENSIONS.items()}


def _symbol(parsed: Parsed) -> str:
    return _symbol_of((str(part) if isinstance(part, int) else part.symbol, power) for part, power in parsed.parts)


def _symbol_of(parts: Iterable[tuple[str, int]]) -> str:
    sides: dict[bool, list[str]] = {True: [], False: []}
    for name, power in parts:
        if power:
            sides[power > 0].append(name + (str(abs(power)) if abs(power) != 1 else ""))
    over, below = (_joined(side) for side in sides.values())
    return f"{over or 1}/{f'({below})' if '.' in below else below}" if below else over or "1"


def _joined(names: list[str]) -> str:
    text = ""
    for name in names:
        text += name if not text or (text[-1].isdigit() and text.isdigit()) else f".{name}"
    return text


def _with_state(symbol: str, reference: str) -> str:
    symbol = symbol.replace("scm", "m3")
    return symbol.replace("m3", "m3(n)") if reference == NORMAL and "m3" in symbol else f"{symbol} ({reference})"


def _ucum(parsed: Parsed, reference: str) -> str:
    """Return the UCUM code, composed from memory of its grammar; empty where a part has none."""
    single = len(parsed.parts) == 1 and parsed.parts[0][1] == 1
    code = ""
    for part, power in sorted(parsed.parts, key=lambda one: one[1] < 0):
        name = str(part) if isinstance(part, int) else part.ucum
        if not name:
            return ""
        if not single:
            name = {"Cel": "K", "[degF]": "[degR]"}.get(name, name)  # no scale with an offset inside a product
        if (len(parsed.parts) > 1 or power != 1) and any(sign in name for sign in "./"):
            name = f"({name})"
        size = str(abs(power)) if abs(power) != 1 else ""
        code += ("/" if power < 0 else "." if code else "") + name + size
    if (reference and reference != NORMAL) or (reference and "{" not in code):
        code += "{" + reference.replace(" ", "").replace(",", "_") + "}"
    return code
