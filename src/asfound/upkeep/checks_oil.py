"""Published and proved answers of oil, trends and alarm limits, recomputed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asfound.sources.prove import Check
from asfound.upkeep import alarms, oil, trend
from asfound.upkeep.published import cases


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    yield from cases(
        "oil",
        {
            "line_inverse": _reaches, "oil_topup": _topped_up, "oil_generation": _made, "alarm_limits": _alarms,
            "charge_life": _charge,
        },
    )  # fmt: skip


def _reaches(x: list[float], y: list[float], y0: float, mean: bool = True, level: float = 0.95) -> dict[str, Any]:
    found = trend.reaches(trend.fit_line(x, y, level=level), y0, single=not mean)
    return {
        "estimate": found.at, "lower": found.lower, "upper": found.upper, "wald_lower": found.at - found.about,
        "wald_upper": found.at + found.about,
    }  # fmt: skip


def _topped_up(
    volume: float, consumption: float, generation: float, hours: float, events: list[float] | None = None
) -> dict[str, Any]:
    sump: dict[str, float] = {"volume": volume, "use": consumption, "made": generation}
    return {
        "concentration": oil.concentration(hours, **sump),
        "equilibrium": oil.steady_concentration(use=consumption, made=generation),
        "concentration_discrete": oil.concentration_by_topping_up(events or [], hours, **sump),
    }


def _made(volume: float, consumption: float, hours: float, start: float, end: float) -> dict[str, Any]:
    made = float(oil.metal_made(hours, start, end, volume=volume, use=consumption))
    naive = float(oil.metal_made(hours, start, end, volume=volume, use=0.0))
    return {"generation": made, "naive": naive, "ratio": made / naive}


def _alarms(values: list[float]) -> dict[str, Any]:
    found = alarms.alarm_limits(values)
    ways: dict[str, alarms.Between] = {"linear": "linear", "weibull": "weibull", "inverted": "inverted_cdf"}
    return {
        "n": len(found.values), "mean": found.mean, "sd": found.deviation, "median": found.median, "skew": found.skew,
        **{f"mean_plus_{k}sd": found.above_mean(k) for k in (2, 3)},
        **{f"median_plus_{k}mad": found.above_median(k) for k in (2, 3)},
        **{f"p{p}_{name}": found.percentage(p, way) for p in (80, 95, 98) for name, way in ways.items()},
    }  # fmt: skip


def _charge(hours: list[float], readings: dict[str, list[float]], limits: dict[str, float]) -> dict[str, Any]:
    life = oil.charge_life(hours, readings, limits)
    properties = {
        name: {"slope": p.line.slope, "estimate": p.reached.at, "lower": p.reached.lower, "upper": p.reached.upper}
        for name, p in life.properties.items()
    }
    return {
        "properties": properties, "governing": life.governing, "change_at": life.change_at,
        "not_later_than": life.not_later_than,
    }  # fmt: skip
