"""The register of quantities: everything that a visit reads or computes, under its one name.

Data: ``data/quantities.csv`` and ``data/quantity_kinds.csv`` (tables, not YAML: they are read at every start).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal, get_args

from asfound.errors import KnowledgeError, UnknownNameError
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.own_units import shown_unit
from asfound.quantities.pressure_kind import split_pressure, with_kind
from asfound.quantities.units import Unit, unit
from asfound.sources.tables import load_csv

if TYPE_CHECKING:
    from collections.abc import Mapping
Step = Literal["fitted", "fuel", "load", "exhaust", "cylinders", "other"]
STEPS: tuple[Step, ...] = get_args(Step)
System = Literal["si", "us"]
_PACKAGE = "asfound.quantities"


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A quantity of the trade: its name, its SI unit, and how people write it."""

    name: str
    title: str
    step: Step
    """Page of the visit it belongs to."""
    kind: str
    """What it has in common with others: row of ``quantity_kinds.csv``."""
    si_unit: str
    """Unit of every value inside the program. A gas volume counts at the state that stands here."""
    si_display: str
    us_display: str
    units: tuple[str, ...]
    """What a page offers first; any other unit of the dimension is taken too."""
    plausible_as_written: tuple[float, float, str]
    plausible_source: str
    """Key in the register of sources; ``engineering_judgement`` and ``common_practice`` say what they are."""
    places: tuple[str, ...]
    """Where it is usually read: ``engine``, ``stack``, ``site`` ...; ``cylinder``, ``bearing`` stand for each one."""
    pressure: Literal["absolute", "difference", ""] = ""
    gauge_possible: bool = False
    """An absolute pressure that instruments often give as gauge: what is typed must say which."""
    difference: bool = False
    """A difference of temperatures: no offset."""
    carries: bool = False
    """Holds for both states of a visit unless taken again."""
    basis: Literal["dry", "wet", ""] = ""
    reference_oxygen: bool = False
    """It is counted at the oxygen of a permit."""
    species: str = ""
    """What it is a concentration of, as written after a unit: ``O2``, ``NOx``."""
    symbol: str = ""
    help: str = ""
    digits: int = 3
    """Significant figures shown where no interval says how many."""
    decimals: int | None = None
    """No more decimals than this are shown without an interval."""

    @property
    def unit(self) -> Unit:
        """The SI unit."""
        return unit(self.si_unit)

    @property
    def dimension(self) -> str:
        """What its unit measures: ``pressure``, ``gas volume flow``."""
        return self.unit.dimension if not self.difference else "temperature difference"

    @property
    def ucum(self) -> str:
        """UCUM code of the SI unit."""
        return self.unit.ucum

    @property
    def plausible(self) -> tuple[float, float]:
        """Plausible range, in ``si_unit``."""
        low, high, symbol = self.plausible_as_written
        return self.from_unit(low, symbol), self.from_unit(high, symbol)

    @property
    def typed_units(self) -> tuple[str, ...]:
        """The units as they can be typed: a pressure that may be either, as gauge and as absolute."""
        if not self.gauge_possible:
            return self.units
        return tuple(with_kind(symbol, gauge=gauge) for symbol in self.units for gauge in (True, False))

    def display(self, system: str = "si") -> str:
        """Return the symbol of the unit that people of a unit system see; what the reader chose goes before it."""
        own = shown_unit(self.kind)
        if own is not None:
            return own
        return self.us_display if system == "us" else self.si_display

    def from_unit(self, value: float, symbol: str) -> float:
        """Return a value given in a unit in ``si_unit``."""
        return self._scaled(unit(_core(self, symbol)).to_si(value, difference=self.difference))

    def to_unit(self, value: float, symbol: str) -> float:
        """Return a value in ``si_unit`` in another unit."""
        mine = self.unit
        si = value if mine.factor == 1.0 else value * mine.factor
        return unit(_core(self, symbol)).from_si(si, difference=self.difference)

    def _scaled(self, value: float) -> float:
        mine = self.unit
        return value if mine.factor == 1.0 else value / mine.factor


def _core(about: Quantity, symbol: str) -> str:
    """Return a unit without gauge or absolute behind it: both have the same size."""
    return split_pressure(symbol)[0] if about.pressure else symbol


def quantity(name: str) -> Quantity:
    """Return the quantity of that name; UnknownNameError, with the nearest, when there is none."""
    try:
        return quantities()[name]
    except KeyError:
        raise UnknownNameError("quantity", name, quantities()) from None


def title_of(name: str) -> str:
    """Return the title of a quantity; one that the register does not know keeps its name, in words."""
    known = quantities().get(name)
    return known.title if known else name.replace("_", " ")


@cache
def quantities() -> Mapping[str, Quantity]:
    """Return the whole register in the order of a visit, read once.

    Raises
    ------
    KnowledgeError
        When the packaged file is wrong.
    """
    kinds = {row["kind"]: row for row in load_csv(_PACKAGE, "data/quantity_kinds.csv")}
    rows = load_csv(_PACKAGE, "data/quantities.csv")
    found = (_quantity(row, kinds, row_number) for row_number, row in enumerate(rows, start=1))
    return MappingProxyType({one.name: one for one in found})


def of_step(step: Step) -> tuple[Quantity, ...]:
    """Return the quantities of one page of the visit, in its order."""
    return tuple(one for one in quantities().values() if one.step == step)


def implausible(name: str, value: float, *, gauge: bool = False) -> str | None:
    """Return a warning when an SI value lies outside the plausible range of its quantity, else None.

    It never refuses: the engine may be odd, and the range may be. A gauge pressure is compared with 101.325 kPa added,
    for this question alone.
    """
    one = quantity(name)
    low, high = one.plausible
    compared = value + ATMOSPHERE if gauge else value
    if math.isnan(compared) or low <= compared <= high:
        return None
    written_low, written_high, symbol = one.plausible_as_written
    shown = "" if symbol == "1" else f" {unit(symbol).text}"
    side = "below" if compared < low else "above"
    return (
        f"{one.title}: this is {side} {written_low:g} to {written_high:g}{shown}, where such readings lie. "
        "Read it again, and look at unit, basis and instrument."
    )


def _quantity(row: dict[str, str], kinds: Mapping[str, dict[str, str]], number: int) -> Quantity:
    """Return the quantity of a row; KnowledgeError names the row, counted from the first below the header."""

    def word(of: Mapping[str, str], column: str, *choices: str) -> Any:
        if of[column] not in choices:
            raise KnowledgeError(
                "asfound/quantities/data/quantities.csv", number, 1,
                f"row {number}, '{row['name']}', has {column} '{of[column]}'.", allowed=", ".join(choices),
            )  # fmt: skip
        return of[column]

    kind = kinds[word(row, "kind", *kinds)]
    return Quantity(
        name=row["name"],
        title=row["title"],
        step=word(row, "step", *STEPS),
        kind=row["kind"],
        si_unit=kind["si_unit"],
        si_display=row["si"] or kind["si"],
        us_display=row["us"] or kind["us"],
        units=tuple(symbol.strip() for symbol in kind["units"].split(";")),
        plausible_as_written=(float(row["low"]), float(row["high"]), row["in"]),
        plausible_source=row["source"],
        places=tuple(row["places"].split()),
        pressure=word(kind, "pressure", "absolute", "difference", ""),
        gauge_possible=word(kind, "gauge", "yes", "") == "yes",
        difference=word(kind, "difference", "yes", "") == "yes",
        carries=word(row, "carries", "yes", "") == "yes",
        basis=word(row, "basis", "dry", "wet", ""),
        reference_oxygen=word(row, "at_oxygen", "yes", "") == "yes",
        species=row["species"],
        symbol=row["symbol"],
        help=row["help"],
        digits=int(row["digits"] or kind["digits"]),
        decimals=int(kind["decimals"]) if kind["decimals"] else None,
    )
