"""Names of all values that the balances of an engine know, and what is assumed where nobody read them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType
from typing import Literal, cast

from asfound.sources.tables import load_csv

Role = Literal["reading", "default", "assumption"]


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineValue:
    """One value that may be wrong."""

    name: str
    symbol: str
    title: str
    quantity: str
    """In the register of quantities; empty where it has none."""
    places: tuple[str, ...]
    unit: str
    role: Role
    value: float | None
    """Assumed where nobody read it."""
    u: float | None
    low: float | None
    high: float | None
    """Beyond these no true value can be."""
    prior: float
    """Probability of being grossly wrong, before the balances are looked at. [1]"""
    source: str

    def can_be(self, true: float) -> bool:
        """Whether the true value can be this."""
        return (self.low is None or true >= self.low) and (self.high is None or true <= self.high)

    @property
    def may_be_assumed(self) -> bool:
        """Whether there is something to assume."""
        return self.value is not None


@cache
def _rows(table: str) -> tuple[EngineValue, ...]:
    def number(text: str) -> float | None:
        return float(text) if text else None

    return tuple(
        EngineValue(
            name=row["name"],
            symbol=row["symbol"],
            title=row["title"],
            quantity=row["quantity"],
            places=tuple(row["places"].split()),
            unit=row["unit"],
            role=cast("Role", row["role"]),
            value=number(row["value"]),
            u=number(row["u"]),
            low=number(row["low"]),
            high=number(row["high"]),
            prior=float(row["prior"]),
            source=row["source"],
        )
        for row in load_csv("asfound.crosscheck", f"data/{table}.csv")
    )


@cache
def engine_values(stages: tuple[str, ...] = (), stoichiometric: bool = False) -> Mapping[str, EngineValue]:
    """Return all values by name, those of a compressor for each of its stages.

    Parameters
    ----------
    stages : tuple of str
        Places.
    stoichiometric : bool
        Of an engine that burns near lambda 1: what is usual there, and the two sides of its catalyst.
    """
    found: dict[str, EngineValue] = {}
    others = {one.name: one for one in _rows("rich_values")} if stoichiometric else {}
    rows = [others.pop(one.name, one) for one in _rows("engine_values")]
    for one in (*rows, *others.values()):
        if not one.name.startswith("*/"):
            found[one.name] = one
            continue
        for stage in stages:
            name = f"{stage}/{one.name[2:]}"
            title = f"{one.title}, {stage.replace('_', ' ')}"
            symbol = f"{one.symbol}{stage.rsplit('_', 1)[-1]}"
            found[name] = replace(one, name=name, title=title, symbol=symbol, places=(stage,))
    return MappingProxyType(found)


def by_symbol(stages: Iterable[str] = ()) -> Mapping[str, EngineValue]:
    """Return the same by symbol."""
    return {one.symbol: one for one in engine_values(tuple(stages)).values()}
