"""Reference states of a gas volume: a cubic foot of gas is a quantity only at a temperature and a pressure.

The ratio to the normal cubic metre (0 C, 101.325 kPa) is that of an ideal gas; for a real gas multiply by the ratio of
compression factors.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from functools import cache, lru_cache

from asfound.errors import InputError
from asfound.quantities.unit_table import table
from asfound.quantities.unit_text import plain
from asfound.sources.tables import load_csv

R = Fraction("8.31446261815324")
"""Molar gas constant, exact: 8.314 462 618 153 24 J/(mol K). CODATA 2018."""
NORMAL = "0 C, 101.325 kPa"
_WRITTEN = re.compile(r"\s*(-?[\d.]+)\s*°?\s*([CFK])\s*[,;/ ]\s*([\d.]+)\s*([A-Za-z]+?)(?:a|\s*abs)?\s*$")


@dataclass(frozen=True, slots=True)
class GasState:
    """A temperature [K] and an absolute pressure [Pa] at which a volume of gas is told."""

    name: str
    title: str
    temperature: Fraction
    pressure: Fraction
    used_by: str = ""
    source: str = "own_calculation"

    @property
    def normal_per_here(self) -> Fraction:
        """Normal cubic metres (0 C, 101.325 kPa) in one cubic metre of ideal gas at this state."""
        return self.pressure / Fraction(101325) * Fraction("273.15") / self.temperature

    @property
    def molar_volume(self) -> float:
        """Volume of a mole of ideal gas. [m3/mol]"""
        return float(R * self.temperature / self.pressure)


@cache
def gas_states() -> dict[str, GasState]:
    """Return the states in use, by name (``60 F, 14.73 psia``). Source of each: ``data/gas_states.csv``."""
    return {state.name: state for state, _ in _rows()}


def offered_states() -> tuple[str, ...]:
    """Return the names of the states that a page offers first when a volume comes without one."""
    return tuple(gas_states())[:6]


@lru_cache(maxsize=256)
def gas_state(text: str) -> GasState:
    """Return the state that a text names: a name or alias of the table, or any ``T, p`` with units.

    Raises
    ------
    InputError
        When it is neither, or below absolute zero.

    Examples
    --------
    >>> round(float(gas_state("60 F, 14.73 psia").normal_per_here), 5)
    0.94831
    """
    key = _key(text)
    for state, names in _rows():
        if key in names:
            return state
    written = _WRITTEN.match(plain(text))
    if not written:
        raise _refused(text, "is no state of a gas volume")
    temperature, pressure = _si(written[1], f"°{written[2]}".replace("°K", "K")), _si(written[3], written[4])
    if temperature is None or pressure is None:
        raise _refused(text, "has a unit that does not fit")
    if temperature <= 0 or pressure <= 0:
        raise _refused(text, "is not above absolute zero and zero pressure")
    return GasState(text.strip(), text.strip(), temperature, pressure)


def _refused(text: str, because: str) -> InputError:
    return InputError(
        "gas_state", text, because, allowed="; ".join(gas_states()), try_next="Write temperature and pressure."
    )


@cache
def _rows() -> tuple[tuple[GasState, frozenset[str]], ...]:
    found = []
    for row in load_csv("asfound.quantities", "data/gas_states.csv"):
        temperature, pressure = _si(*row["temperature"].split()), _si(*row["pressure"].split())
        assert temperature is not None
        assert pressure is not None
        state = GasState(row["state"], row["title"], temperature, pressure, row["used_by"], row["source"])
        names = frozenset(_key(name) for name in (row["state"], *row["aliases"].split("|")) if name)
        found.append((state, names))
    return tuple(found)


def _si(number: str, symbol: str) -> Fraction | None:
    try:
        atoms = table().find(symbol)
        value = Fraction(number)
    except ValueError:
        return None
    if len(atoms) != 1 or atoms[0].dimension not in ("temperature", "pressure"):
        return None
    return value * Fraction(atoms[0].factor) + atoms[0].zero


def _key(text: str) -> str:
    return re.sub(r"[\s,;°]", "", plain(text)).replace("psia", "psi").replace("/", "")
