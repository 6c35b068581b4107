"""Published and proved answers of stocks and lots, recomputed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from asfound.sources.prove import Check
from asfound.upkeep import spares
from asfound.upkeep.published import cases


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    yield from cases(
        "spares",
        {
            "eoq": _lot, "eoq_price_breaks": _prices, "order_now_or_eoq": _discount, "poisson_loss": _loss,
            "one_period_stock": _once, "base_stock": _shelf, "spares_for_period": _season,
            "reorder_point_poisson": _reorder,
        },
    )  # fmt: skip


def _lot(
    order_cost: float, demand: float, holding: float, shortage: float | None = None, production: float | None = None
) -> dict[str, float]:
    lot = spares.order_lot(order_cost, demand, holding, short=shortage, made_at=production)
    return asdict(lot) | {"max_stock": lot.most_in_stock}


def _prices(
    order_cost: float, demand: float, holding_rate: float, breaks: list[float], prices: list[float]
) -> dict[str, float]:
    lot = spares.order_lot_at_prices(order_cost, demand, holding_rate, list(zip(breaks, prices, strict=True)))
    return asdict(lot) | {"region": sum(lot.quantity >= start for start in breaks) - 1}


def _discount(
    order_cost: float, demand: float, price: float, holding_rate: float, lot: float, discount: float
) -> dict[str, float]:
    holding = holding_rate * price
    best = spares.order_lot(order_cost, demand, holding)
    return {
        "eoq": best.quantity,
        "extra_holding_and_ordering": spares.lot_cost(lot, order_cost, demand, holding) - best.cost,
        "discount": discount * price * demand,
    }


def _loss(mean: float, level: int) -> dict[str, float]:
    demand = spares.PoissonDemand(mean)
    return {"shortage": demand.short(level), "leftover": demand.left_over(level)}


def _once(holding: float, shortage: float, poisson_mean: float) -> dict[str, float]:
    found = spares.buy_once(poisson_mean, left_over=holding, short=shortage)
    return {"level": found.stock, "cost": found.cost}


def _shelf(
    mean: float, stock: int | None = None, target: float | None = None, measure: str = "fill"
) -> dict[str, float]:
    found = spares.shelf(mean, stock) if stock is not None else spares.shelf_for(mean, **{measure: target})
    return asdict(found) | {"backorders": found.waiting}


def _season(rate_per_hour: float, units: int, hours: float, confidence: float) -> dict[str, Any]:
    found = spares.spares_for_season(rate_per_hour, units, hours, confidence)
    return {"mean": found.mean, "spares": found.spares, "probability": found.chance}


def _reorder(holding: float, shortage: float, order_cost: float, demand: float, lead_time: float) -> dict[str, float]:
    found = spares.reorder_point(demand, lead_time, holding=holding, short=shortage, order_cost=order_cost)
    return {"reorder_point": found.level, "quantity": found.quantity, "cost": found.cost}
