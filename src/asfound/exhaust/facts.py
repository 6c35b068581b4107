"""What is said of NOx and of catalysts: windows, usual levels, emission factors. No limit and no evidence of anything.

Each row says how it was seen. Most of them were not: they serve to doubt a reading, never to prove one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from asfound.errors import UnknownNameError
from asfound.quantities.units import to_si
from asfound.sources.tables import load_csv

NOT_EVIDENCE = "a factor of uncontrolled engines: not a limit and not evidence of compliance"
FULL_LOAD = 0.9
"""From here on a factor for 90 to 105 % load is taken. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Said:
    """One thing that is said: a range in SI, and who says so."""

    key: str
    fact: str
    low: float | None
    high: float | None
    unit: str
    source: str
    clause: str
    status: str

    @property
    def low_si(self) -> float:
        """[SI]; nan where there is no number."""
        return float("nan") if self.low is None else float(to_si(self.low, self.unit))

    @property
    def high_si(self) -> float:
        """[SI]; nan where there is no number."""
        return float("nan") if self.high is None else float(to_si(self.high, self.unit))


@cache
def facts() -> dict[str, Said]:
    """Return all that is said, by key, in the order of the table."""
    return {
        row["key"]: Said(
            key=row["key"],
            fact=row["fact"],
            low=float(row["low"]) if row["low"] else None,
            high=float(row["high"]) if row["high"] else None,
            unit=row["unit"],
            source=row["source"],
            clause=row["clause"],
            status=row["status"],
        )
        for row in load_csv("asfound.exhaust", "data/nox_and_catalyst_facts.csv")
    }


def fact(key: str) -> Said:
    """Return one thing that is said; UnknownNameError when there is none of that name."""
    if key not in facts():
        raise UnknownNameError("fact of NOx and catalysts", key, facts())
    return facts()[key]


@dataclass(frozen=True, slots=True, kw_only=True)
class Factor:
    """An emission factor of AP-42 section 3.2, by gross heat of the fuel."""

    pollutant: str
    load: str
    """``90-105 %``, ``<90 %`` or empty: any load."""
    engine: str
    """``2-stroke lean``, ``4-stroke lean``, ``4-stroke rich``."""
    value: float
    """[kg/J]"""
    as_printed: str
    """With its unit."""
    clause: str
    status: str


@cache
def factors() -> tuple[Factor, ...]:
    """Return the emission factors, in the order of the table."""
    return tuple(
        Factor(
            pollutant=row["pollutant"],
            load=row["load"],
            engine=row["engine"],
            value=float(to_si(float(row["factor"]), "lb/MMBtu")),
            as_printed=f"{row['factor']} lb/MMBtu",
            clause=row["clause"],
            status=row["status"],
        )
        for row in load_csv("asfound.exhaust", "data/ap42_3_2.csv")
    )


def factor(pollutant: str, engine: str, load: float | None) -> Factor | None:
    """Return the factor for a pollutant, a kind of engine and a load; None where the table has none.

    Parameters
    ----------
    pollutant : str
        As the table writes it: ``NOx``, ``CO``, ``VOC``, ``formaldehyde``.
    engine : str
        ``2-stroke lean``, ``4-stroke lean``, ``4-stroke rich``.
    load : float or None
        Over rated power. NOx of a four-stroke lean burn falls from 4.08 to 0.847 lb/MMBtu below 90 % load, so without
        the load there is no factor for what depends on it. [1]
    """
    for one in factors():
        if one.pollutant == pollutant and one.engine == engine:
            if not one.load:
                return one
            if load is not None and (load >= FULL_LOAD) == one.load.startswith("90"):
                return one
    return None
