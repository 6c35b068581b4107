"""Spares to hold: for a season, against a lead time, and in what lots to buy.

Demand that comes at random (Poisson) only: parts that wear out bunch with age. Last buy and repair turnaround are facts
to ask for, never to guess. Rate and time share one unit; money has none.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array

_TAIL = 1e-16  # what is left of the distribution where its table ends


@dataclass(frozen=True, slots=True)
class PoissonDemand:
    """Demand that comes at random with a mean number."""

    mean: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.mean) and 0.0 <= self.mean <= 1e6):
            raise InputError("mean", f"{self.mean:g}", "is no mean demand", allowed="0 to 1,000,000")

    def table(self) -> Array:
        """Return the chances of 0, 1, 2, ... wanted, as far as they count."""
        if self.mean == 0.0:
            return np.ones(1)
        top = int(self.mean + 12.0 * math.sqrt(self.mean) + 40.0)
        steps = np.concatenate([[0.0], np.log(self.mean) - np.log(np.arange(1.0, top + 1.0))])
        logs = np.cumsum(steps) - self.mean
        chances: Array = np.exp(logs)
        return chances

    def at_most(self, number: int) -> float:
        """Return the chance that not more than ``number`` are wanted."""
        return min(1.0, math.fsum(self.table()[: max(0, number + 1)].tolist()))

    def smallest(self, wanted: float) -> int:
        """Return the smallest number that is enough with the chance ``wanted`` or more."""
        if not 0.0 < wanted < 1.0:
            raise InputError("wanted", f"{wanted:g}", "is no chance to plan for", allowed="between 0 and 1")
        enough = np.cumsum(self.table())
        return int(np.searchsorted(enough, wanted * (1.0 - _TAIL)))

    def left_over(self, stock: int) -> float:
        """Return the mean number that stays on the shelf."""
        chances = self.table()[: max(stock, 0)]
        return float(((stock - np.arange(len(chances))) * chances).sum())

    def short(self, stock: int) -> float:
        """Return the mean number that is wanted and not there."""
        return self.mean - stock + self.left_over(stock)


@dataclass(frozen=True, slots=True)
class SeasonSpares:
    """Spares that last over a season, and the chance that they do."""

    mean: float
    spares: int
    chance: float


def spares_for_season(rate: float, places: int, time: float, wanted: float) -> SeasonSpares:
    """Return the fewest spares that last with the chance ``wanted``.

    ``places`` counts all places on all engines of the fleet that share the shelf; ``rate`` is failures of one place per
    unit of time. Form of military handbooks (from memory).
    """
    if not (rate >= 0.0 and places >= 0 and time >= 0.0):
        raise InputError("rate", f"{rate:g}", "gives no demand", allowed="rate, places and time 0 or more")
    demand = PoissonDemand(rate * places * time)
    spares = demand.smallest(wanted)
    return SeasonSpares(demand.mean, spares, demand.at_most(spares))


@dataclass(frozen=True, slots=True)
class Shelf:
    """What a stock gives where each part taken is ordered again at once."""

    stock: int
    fill: float
    """Share of demands served from the shelf: demand in the lead time below the stock."""
    ready: float
    """Share of time in which no place waits: demand in the lead time not above the stock. One part apart from fill."""
    waiting: float
    """Mean number of places that wait."""


def shelf(lead_time_demand: float, stock: int) -> Shelf:
    """Return what a stock gives; only the mean of the lead time matters (Palm)."""
    if stock < 0:
        raise InputError("stock", str(stock), "cannot be held", allowed="0 or more")
    demand = PoissonDemand(lead_time_demand)
    return Shelf(stock, demand.at_most(stock - 1), demand.at_most(stock), demand.short(stock))


def shelf_for(lead_time_demand: float, *, fill: float | None = None, ready: float | None = None) -> Shelf:
    """Return the smallest stock that gives the fill rate, or the ready rate, that is wanted; name one of the two."""
    if (fill is None) == (ready is None):
        raise InputError("fill", "both or neither", "leaves open what is wanted", allowed="either fill or ready")
    demand = PoissonDemand(lead_time_demand)
    if fill is not None:
        return shelf(lead_time_demand, demand.smallest(fill) + 1)
    return shelf(lead_time_demand, demand.smallest(ready if ready is not None else 0.0))


@dataclass(frozen=True, slots=True)
class OneSeason:
    """Stock to buy once, and the mean cost of what is left over and what is short."""

    stock: float
    cost: float


def buy_once(mean: float, *, left_over: float, short: float) -> OneSeason:
    """Return the stock of least mean cost against a Poisson demand, bought once; costs are per part."""
    demand = PoissonDemand(mean)
    stock = demand.smallest(short / (left_over + short))
    return OneSeason(stock, left_over * demand.left_over(stock) + short * demand.short(stock))


def buy_once_normal(mean: float, spread: float, *, left_over: float, short: float) -> OneSeason:
    """Return the same for a demand that is large and normal."""
    z = NormalDist().inv_cdf(short / (left_over + short))
    return OneSeason(mean + spread * z, (left_over + short) * spread * NormalDist().pdf(z))


@dataclass(frozen=True, slots=True)
class Lot:
    """How much to order at a time."""

    quantity: float
    cost: float
    """Of ordering, holding and waiting, per unit of time; with prices the price of the parts as well."""
    orders: float
    """Orders per unit of time."""
    most_in_stock: float


def order_lot(
    order_cost: float, demand: float, holding: float, *, short: float | None = None, made_at: float | None = None
) -> Lot:
    """Return the lot of least cost: for cheap, steady consumables (oil, filters, plugs), not for parts that fail.

    Parameters
    ----------
    order_cost, demand, holding : float
        Cost of one order; parts per unit of time; cost of holding one part per unit of time.
    short : float, optional
        Cost of waiting for one part per unit of time; without it no part is ever waited for.
    made_at : float, optional
        Parts per unit of time at which the lot arrives, above demand; without it, all at once.
    """
    if not (order_cost > 0.0 and demand > 0.0 and holding > 0.0) or (made_at is not None and not made_at > demand):
        raise InputError(
            "demand", f"{demand:g}", "gives no lot", allowed="costs and demand above 0, arrival above demand"
        )
    slowed = 1.0 - demand / made_at if made_at is not None else 1.0
    waited = (holding + short) / short if short is not None else 1.0
    quantity = math.sqrt(2.0 * order_cost * demand / (holding * slowed) * waited)
    cost = math.sqrt(2.0 * order_cost * demand * holding * slowed / waited)
    return Lot(quantity, cost, demand / quantity, quantity * slowed / waited)


def order_lot_at_prices(
    order_cost: float, demand: float, holding_rate: float, steps: Sequence[tuple[float, float]]
) -> Lot:
    """Return the lot of least cost where the price of the whole order falls with its size.

    ``steps`` are (from this quantity on, price), rising from 0; ``holding_rate`` is the share of the price that holding
    costs per unit of time.
    """
    starts = [start for start, _ in steps]
    if not steps or starts != sorted(set(starts)) or starts[0] != 0.0:
        raise InputError("steps", str(starts), "are no price steps", allowed="rising quantities from 0")
    best: Lot | None = None
    for (start, price), end in zip(steps, [*starts[1:], math.inf], strict=True):
        quantity = max(order_lot(order_cost, demand, holding_rate * price).quantity, start)
        if quantity >= end:
            continue  # that much is cheaper by a later step
        cost = price * demand + lot_cost(quantity, order_cost, demand, holding_rate * price)
        if best is None or cost < best.cost:
            best = Lot(quantity, cost, demand / quantity, quantity)
    assert best is not None  # the last step has no end
    return best


def lot_cost(quantity: float, order_cost: float, demand: float, holding: float) -> float:
    """Return what ordering and holding cost per unit of time with a given lot: to weigh a discount against."""
    return order_cost * demand / quantity + holding * quantity / 2.0


@dataclass(frozen=True, slots=True)
class ReorderPoint:
    """Order ``quantity`` when stock and orders under way fall to ``level``."""

    level: int
    quantity: int
    cost: float


def reorder_point(demand: float, lead_time: float, *, holding: float, short: float, order_cost: float) -> ReorderPoint:
    """Return the reorder level and lot of least mean cost per unit of time, Poisson demand (Federgruen and Zheng).

    The cost of a position (stock and orders less what is owed) is convex, so the best lot of each size takes the
    cheapest positions in a row, and the lot grows as long as the next position costs less than the mean.
    """
    if not (demand > 0.0 and lead_time > 0.0 and holding > 0.0 and short > 0.0 and order_cost >= 0.0):
        raise InputError("demand", f"{demand:g}", "gives no reorder point", allowed="all above 0")
    at = _position_cost(PoissonDemand(demand * lead_time), holding, short)
    low = PoissonDemand(demand * lead_time).smallest(short / (short + holding))
    high = low
    total = order_cost * demand + at(low)
    while True:
        below, above = at(low - 1), at(high + 1)
        quantity = high - low + 1
        if min(below, above) >= total / quantity:
            return ReorderPoint(low - 1, quantity, total / quantity)
        total += min(below, above)
        low, high = (low - 1, high) if below <= above else (low, high + 1)


def _position_cost(demand: PoissonDemand, holding: float, short: float) -> Callable[[int], float]:
    def cost(position: int) -> float:
        return holding * demand.left_over(position) + short * demand.short(position)

    return cost
