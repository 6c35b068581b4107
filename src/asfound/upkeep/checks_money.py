"""Published and proved answers of money, recomputed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from asfound.quantities.typing import Values
from asfound.sources.prove import Check
from asfound.upkeep import availability, money, what_matters
from asfound.upkeep.life_cycle import Compared, Cost, compare, life_cycle_cost
from asfound.upkeep.published import cases
from asfound.upkeep.upgrade_worth import ChangeWorth, change_worth

_GIGAJOULE = 1e9


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    yield from cases(
        "money",
        {
            "cash_flow": _flows, "annuity": _annuity, "levelised_cost": _levelised,
            "irr_by_interpolation": _interpolated, "inflated_series": _inflated, "annual_cost": _annual_cost,
            "keep_value": _keep, "cleaning_cycle": _cleaning, "bill_load_factor": _bill, "flip_point": _flip,
            "life_cycle_cost": _life_cycle, "compare_alternatives": _compare, "present_factors": _factors,
            "program_report": _report, "upgrade_case": _upgrade, "tornado": _tornado, "lognormal_product": _product,
            "triangular_sum": _sum, "redundancy_value": _redundancy,
        },
    )  # fmt: skip


def _flows(
    flows: list[float], rate: float | None = None, finance_rate: float | None = None, reinvest_rate: float = 0.0
) -> dict[str, Any]:
    found = money.rates_of_return(flows)
    given: dict[str, Any] = {
        "irr": list(found.rates), "sign_changes": found.sign_changes, "payback": money.payback(flows),
    }  # fmt: skip
    if rate is not None:
        given |= {
            "npv": money.present_value(flows, rate),
            "annual_equivalent": money.yearly_worth(flows, rate),
            "discounted_payback": money.payback(flows, rate),
            "savings_to_investment": money.savings_to_investment(flows, rate),
        }
    if finance_rate is not None:
        given["mirr"] = money.modified_return(flows, finance=finance_rate, reinvest=reinvest_rate)
    return given


def _annuity(rate: float, years: int, yearly: float) -> dict[str, float]:
    return {"present": yearly * float(money.annuity_factor(rate, years))}


def _levelised(
    capital: float, yearly_cost: float, yearly_output: float, rate: float, years: int, timing: str = "end"
) -> dict[str, float]:
    return {"cost": money.levelised_cost(capital, yearly_cost, yearly_output, rate, years, begin=timing == "begin")}


def _interpolated(flows: list[float], low: float, high: float) -> dict[str, float]:
    """Give the textbook's line between two rates; the room itself gives the rate to all digits."""
    a, b = money.present_value(flows, low), money.present_value(flows, high)
    return {"npv_low": a, "npv_high": b, "interpolated": low + a * (high - low) / (a - b)}


def _inflated(
    base: float, inflation: float, rate: float, years: int, step: float = 0.0, first_cost: float = 0.0,
    salvage: float = 0.0,
) -> dict[str, float]:  # fmt: skip
    present = money.growing_yearly(base, years, rate, growth=inflation, step=step)
    return {"present": present, "total": first_cost + present - salvage * float(money.present_factor(rate, years))}


def _annual_cost(first: float, salvage: float, yearly: float, rate: float, years: int) -> dict[str, float]:
    return {"annual": money.yearly_cost(first, salvage, yearly, rate, years)}


def _keep(annual_new: float, keep_salvage: float, keep_yearly: float, rate: float, years: int) -> dict[str, float]:
    return {"value": money.worth_of_keeping(annual_new, keep_salvage, keep_yearly, rate, years)}


def _cleaning(
    run_hours: list[float], coefficient: list[float], area: float, difference: float, clean_hours: float
) -> dict[str, Any]:
    run = np.array(run_hours, dtype=float)
    mean = money.mean_over_cycle(run, np.array(coefficient) * area * difference, clean_hours)
    return {"mean": mean.tolist(), "best": run_hours[int(np.argmax(mean))]}


def _bill(max_demand: float, load_factor: float, demand_price: float, energy_price: float) -> dict[str, float]:
    energy = max_demand * load_factor * availability.HOURS_OF_YEAR
    total = money.bill(max_demand, energy, power_price=demand_price, energy_price=energy_price)
    return {"per_unit": total / energy}


def _flip(a_fixed: float, a_slope: float, b_fixed: float, b_slope: float) -> dict[str, Any]:
    return {"x": money.crossing(a_fixed, a_slope, b_fixed, b_slope)}


def _life_cycle(rate: float, years: int, items: dict[str, dict[str, Any]]) -> dict[str, Any]:
    costs = {
        name: Cost(
            in_years=[(year, amount) for year, amount in item.get("at", ())],
            yearly=item.get("yearly", item.get("base", 0.0)),
            growth=item.get("growth", 0.0),
            path=item.get("escalation", ()),
        )
        for name, item in items.items()
    }
    found = life_cycle_cost(costs, rate, years)
    return {"items": found.items, "total": found.total, "annual": found.yearly}


def _compare(rate: float, years: int, base: dict[str, float], alternative: dict[str, float]) -> dict[str, Any]:
    found = compare(
        (base["investment"], base["running"]), (alternative["investment"], alternative["running"]), rate=rate,
        years=years,
    )  # fmt: skip
    return {"net_savings": found.net_savings, "sir": found.ratio, "airr": found.adjusted_return}


def _factors(rate: float, pairs: list[float]) -> dict[str, Any]:
    return {"factors": [money.present_factor(rate, year) for year in pairs]}


def _report(
    total_investment: float, first_year_saving: float, discounted_savings: float, rate: float, years: int
) -> dict[str, Any]:
    found = Compared(total_investment, discounted_savings, years, rate)
    payback = money.payback([-total_investment] + [first_year_saving] * years)
    return {"simple_payback": payback, "sir": found.ratio, "airr": found.adjusted_return}


def _worth(
    load_kw: Values, hours: Values, eff0: Values, eff1: Values, fuel_price_gj: Values, avail0: Values, avail1: Values,
    **more: Values,
) -> ChangeWorth:  # fmt: skip
    return change_worth(
        power=load_kw * 1e3, hours=hours, efficiency_now=eff0, efficiency_then=eff1,
        fuel_price=fuel_price_gj / _GIGAJOULE, availability_now=avail0, availability_then=avail1, **more,
    )  # fmt: skip


def _upgrade(**inputs: float) -> dict[str, Any]:
    found = _worth(**inputs)
    return {
        "fuel_saved": found.fuel_saved, "downtime_saved": found.downtime_saved, "net_saving": found.net_saving,
        "simple_payback": found.payback, "npv": found.present, "margin_to_break_even": found.margin_to_break_even,
    }  # fmt: skip


def _present(**inputs: Values) -> Values:
    return _worth(**inputs).present


def _tornado(base: dict[str, float], ranges: dict[str, list[float]]) -> dict[str, Any]:
    bars = what_matters.bars(_present, base, {name: (low, high) for name, (low, high) in ranges.items()})
    return {
        "base": _present(**base), "rows": [[bar.name, bar.at_low, bar.at_high] for bar in bars],
        "sign_flips": [bar.name for bar in bars if bar.turns],
    }  # fmt: skip


def _product(medians: list[float], p90_over_median: list[float]) -> dict[str, float]:
    factors = [what_matters.LogNormal(m, p) for m, p in zip(medians, p90_over_median, strict=True)]
    return dict(zip(("p10", "p50", "p90", "mean"), what_matters.product_of(factors), strict=True))


def _sum(parts: list[list[float]]) -> dict[str, float]:
    mean, deviation, skew = what_matters.sum_of([what_matters.LowLikelyHigh(*part) for part in parts])
    return {"mean": mean, "sd": deviation, "skew": skew}


def _redundancy(a_one: float, needed: int, installed: int, margin: float) -> dict[str, float]:
    lost = availability.hours_short(a_one, needed, installed)
    full = availability.up(availability.Structure(needed, (a_one,) * installed))
    return {"hours_equivalent_lost": lost, "cost": lost * margin, "full_output": full}
