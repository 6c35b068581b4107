"""What the checks of published problems have in common."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from asfound.crosscheck.balances import Balances
from asfound.crosscheck.network import flow_network
from asfound.crosscheck.readings import Readings
from asfound.sources.prove import Check

Item = dict[str, Any]


def network(item: Item) -> Balances:
    """Return the balances of a problem that gives the streams of each node."""
    return flow_network(item["nodes"])


def readings_of(item: Item, balances: Balances) -> Readings:
    """Return the readings of a problem that gives values and variances."""
    return Readings(balances.readings, np.array(item["measured"], dtype=float), np.diag(item["variance"]).astype(float))


def check(item: Item, what: str, value: float, printed: float, tolerance: float, *, note: str = "") -> Check:
    """Return one check of a problem."""
    return Check(
        check=f"{item['id']} {what}",
        room="crosscheck",
        value=float(value),
        published=float(printed),
        tolerance=tolerance,
        source=item["source"].split(";")[0],
        clause=item["clause"],
        note=note,
    )


def checks_each(
    item: Item,
    what: str,
    values: ArrayLike,
    printed: Sequence[float],
    *,
    rel: float = 0.0,
    tolerance: float = 0.0,
    note: str = "",
) -> Iterator[Check]:
    """Yield a check of each value; the tolerance is absolute, or relative to the printed value."""
    for at, (value, one) in enumerate(zip(np.asarray(values, dtype=float), printed, strict=True)):
        allowed = max(tolerance, rel * abs(one))
        yield check(item, f"{what}, no. {at + 1}", float(value), one, allowed, note=note)
