"""What stands for a part of the setting that nobody read: usual values with a wide doubt, and when they may stand.

They make the answer wide, and it says so. Only what is set by hand or made by the day may be assumed, never what is on
a plate; never the mixture of a lean engine, since NOx hangs on it more than on all else; never more than two at once.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from functools import cache

from asfound.sources.tables import load_csv

MOST = 2
"""Parts of the setting, the gas among them, that may be assumed at once (engineering judgement)."""
GAS = "fuel_methane"
"""The quantity that stands for an analysis of the gas."""
GAS_RANK = 3
PIPELINE_GAS = {"methane": 0.94, "ethane": 0.03, "propane": 0.006, "nitrogen": 0.014, "carbon dioxide": 0.01}
"""Natural gas of pipeline quality (engineering judgement). [mol/mol]"""
SCALES = {"1": (1.0, 0.0), "deg": (math.pi / 180.0, 0.0), "°C": (1.0, 273.15)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """What stands for one part; SI."""

    quantity: str
    value: float
    u: float
    again: float
    """Standard uncertainty with which it would be read."""
    rank: int
    says: str
    text: str
    """Value and doubt as a person reads them."""


@cache
def _rows() -> dict[tuple[str, str], Usual]:
    found = {}
    for row in load_csv("asfound.whatif", "data/usual_settings.csv"):
        scale, offset = SCALES[row["unit"]]
        unit = "" if row["unit"] == "1" else f" {row['unit']}"
        found[row["quantity"], row["burns"]] = Usual(
            quantity=row["quantity"], value=float(row["value"]) * scale + offset, u=float(row["u"]) * scale,
            again=float(row["again"]) * scale, rank=int(row["rank"]), says=row["says"],
            text=f"{row['value']}{unit}, give or take {row['u']}{' K' if row['unit'] == '°C' else unit}",
        )  # fmt: skip
    return found


def usual(quantity: str, *, near_one: bool) -> Usual | None:
    """Return what stands for a part; None where nothing can."""
    rows = _rows()
    return rows.get((quantity, "near_one" if near_one else "lean")) or rows.get((quantity, "any"))


def rank_of(quantity: str) -> int:
    """Return how soon a missing part is to be read: 0 is first."""
    ranks = {name: one.rank for (name, _), one in _rows().items()} | {GAS: GAS_RANK}
    return ranks.get(quantity, 0)


def to_take(missing: Collection[str], *, near_one: bool, gas_may_be: bool) -> tuple[str, ...]:
    """Return which of the missing parts must be read before a question can be answered; none: the rest may be assumed.

    Parameters
    ----------
    missing : collection of str
        Quantities of the setting; `GAS` for the gas.
    near_one : bool
        The engine burns near lambda 1.
    gas_may_be : bool
        The gas may be taken for natural gas of pipeline quality.
    """
    may = [one for one in missing if (gas_may_be if one == GAS else usual(one, near_one=near_one) is not None)]
    must = [one for one in missing if one not in may]
    may.sort(key=rank_of)
    first = may[: max(len(may) - MOST, 0)]
    return tuple(sorted((*must, *first), key=rank_of))
