"""Published and proved answers of life, replacement, repairs and availability, recomputed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from itertools import accumulate
from typing import Any

import numpy as np

from asfound.sources.prove import Check
from asfound.upkeep import availability, economic_life, repairs, replacement
from asfound.upkeep.life import Weibull, fit_weibull
from asfound.upkeep.published import cases


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    yield from cases(
        "reliability",
        {
            "age_replacement": _age_replacement, "cost_rate_at": _cost_rate_at, "overhaul_minimal_repair": _overhaul,
            "group_replacement": _group, "economic_life": _economic_life, "weibull_mle": _fit,
            "weibull_points": _points, "power_law": _power_law, "duane": _duane, "cramer_von_mises": _cramer_von_mises,
            "power_law_mtbf_factors": _factors, "power_law_grouped": _grouped, "laplace_trend": _laplace,
            "mtbf_interval": _mtbf, "system": _system, "availability": _availability, "unit_indices": _unit_indices,
        },
    )  # fmt: skip


def _age_replacement(eta: float, beta: float, cost_planned: float, cost_failure: float) -> dict[str, Any]:
    best = replacement.best_age(Weibull(eta, beta), planned=cost_planned, failure=cost_failure)
    return {"interval": best.age, "cost_rate": best.cost_rate}


def _cost_rate_at(
    eta: float, beta: float, cost_planned: float, cost_failure: float, interval: float
) -> dict[str, float]:
    life = Weibull(eta, beta)
    return {
        "cost_rate": float(replacement.cost_rate(life, interval, planned=cost_planned, failure=cost_failure)),
        "mean_cycle": float(life.mean_up_to(interval)),
        "share_planned": float(life.reliability(interval)),
    }


def _overhaul(lam: float, beta: float, cost_repair: float, cost_overhaul: float) -> dict[str, Any]:
    best = replacement.best_overhaul(lam, beta, repair=cost_repair, overhaul=cost_overhaul)
    return {"interval": best.interval, "cost_rate": best.cost_rate, "repairs_per_cycle": best.repairs}


def _group(n: int, p: list[float], cost_group_each: float, cost_single: float) -> dict[str, Any]:
    """Give the textbook's example with parts rounded, as it does."""
    found = replacement.group_replacement(
        n, p, each_together=cost_group_each, each_single=cost_single, whole_parts=True
    )
    return {
        "expected_life": found.mean_life, "single_cost": found.single, "best_period": found.best_period,
        "best_cost": found.best,
    }  # fmt: skip


def _economic_life(first_cost: float, yearly_cost: list[float], rate: float) -> dict[str, Any]:
    found = economic_life.economic_life(first_cost, yearly_cost, rate)
    return {"best_year": found.year, "best_cost": found.yearly, "table": list(found.by_year)}


def _fit(failures: list[float], survivors: list[float] | None = None) -> dict[str, float]:
    fit = fit_weibull(failures, survivors or ())
    of_scale, of_shape = fit.standard_errors
    return {
        "eta": fit.scale.value, "eta_lower": fit.scale.lower, "eta_upper": fit.scale.upper, "se_eta": of_scale,
        "beta": fit.shape.value, "beta_lower": fit.shape.lower, "beta_upper": fit.shape.upper, "se_beta": of_shape,
        "loglik": fit.log_likelihood, "mean_life": fit.life.mean, "aic": 2.0 * 2 - 2.0 * fit.log_likelihood,
    }  # fmt: skip


def _points(eta: float, beta: float, times: list[float], shares: list[float]) -> dict[str, Any]:
    life = Weibull(eta, beta)
    return {
        "reliability": life.reliability(np.array(times)).tolist(),
        "b_life": life.age_failed(np.array(shares)).tolist(),
        "mean_life": life.mean,
    }


def _power_law(times: list[float], end: float) -> dict[str, float]:
    law = repairs.fit_power_law(times, end)
    cvm = repairs.cramer_von_mises(times, end, law.growth_unbiased)
    return {"beta": law.growth, "lam": law.rate, "intensity": law.intensity, "mtbf": law.mtbf, "cvm": cvm}


def _cramer_von_mises(times: list[float], end: float, beta: float) -> dict[str, float]:
    return {"cvm": repairs.cramer_von_mises(times, end, beta), "chi2": 2.0 * len(times) / beta}


def _factors(n: int, level: float) -> dict[str, float]:
    lower, upper = repairs.mtbf_factors(n, level)
    return {"lower": lower, "upper": upper}


def _grouped(ends: list[float], counts: list[int]) -> dict[str, float]:
    law = repairs.fit_power_law_grouped(ends, counts)
    before, last = (float(law.expected(end)) for end in ends[-2:])
    rate = (last - before) / (ends[-1] - ends[-2])
    return {
        "beta": law.growth, "lam": law.rate, "intensity": law.intensity, "mtbf": law.mtbf,
        "last_interval_intensity": rate, "last_interval_mtbf": 1.0 / rate,
    }  # fmt: skip


def _duane(times: list[float], target_mtbf: float) -> dict[str, float]:
    line = repairs.fit_duane(times)
    return {
        "alpha": line.slope, "a": line.scale, "mtbf_cumulative": line.mtbf_so_far, "mtbf": line.mtbf,
        "time_to_target": line.time_to(target_mtbf),
    }  # fmt: skip


def _laplace(intervals: list[float]) -> dict[str, float]:
    """Give the source's growth, n over the sum of n - 1 logarithms, from the most likely one of the room."""
    times = list(accumulate(intervals))
    law = repairs.fit_power_law(times, times[-1])
    return {"u": repairs.laplace(times, times[-1]), "beta": law.growth, "lam": law.rate}


def _mtbf(total_time: float, failures: int, level: float, terminated: str) -> dict[str, Any]:
    return asdict(repairs.mtbf_limits(total_time, failures, level=level, at_failure=terminated == "failure"))


def _system(structure: list[Any]) -> dict[str, float]:
    return {"value": availability.up(_part(structure))}


def _part(given: Any) -> availability.Part:
    if not isinstance(given, list):
        return float(given)
    if given[0] == "koon":
        return availability.Structure(given[1], tuple(_part(one) for one in given[2:]))
    of = availability.series if given[0] == "series" else availability.parallel
    return of(*(_part(one) for one in given[1:]))


def _availability(weibull: dict[str, float], lognormal_repair: dict[str, float]) -> dict[str, float]:
    up = Weibull(weibull["eta"], weibull["beta"]).mean
    down = availability.lognormal_mean(lognormal_repair["mu"], lognormal_repair["sigma"])
    return {"inherent": availability.availability(up, down)}


def _unit_indices(**hours: Any) -> dict[str, float]:
    unit = availability.UnitHours(**hours)
    return unit.indices() | {"period_hours": unit.period}
