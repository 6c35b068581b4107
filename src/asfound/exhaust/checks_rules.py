"""Published values and kept cases of limits, duties and catalysts, recomputed."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date

import numpy as np

from asfound.exhaust import catalyst, catalyst_heat, due, duties, judged_runs
from asfound.exhaust.concentration import MOLAR_MASS
from asfound.exhaust.emission_rate import F_FACTOR_NATURAL_GAS, MILLION_BTU, f_factor_si
from asfound.exhaust.facts import fact
from asfound.exhaust.limits import applicable
from asfound.exhaust.limits_margin import heat_rate_where_equal
from asfound.exhaust.limits_table import Rule, rules
from asfound.exhaust.reference_oxygen import at_reference_oxygen
from asfound.exhaust.rule_facts import EngineFacts
from asfound.exhaust.worksheets_catalyst import catalyst_pressure_drop_change
from asfound.quantities.typing import Array
from asfound.quantities.units import from_si, to_si
from asfound.sources.prove import Check
from asfound.sources.tables import load_csv

TESTS = ("none", "initial", "repeat", "not due")
PASSED = {"acid number": 1, "viscosity": 2, "water": 4}
BURN = {"rich": 1.0, "lean": 2.0}
SHARES = {"nitrogen": 0, "oxygen": 1, "carbon_dioxide": 2, "water": 3}
F_CARBON = 1040.0
"""[dscf/MMBtu], Method 19, Table 19-2, natural gas"""


def _rule(name: str) -> Rule:
    return next(one for one in rules() if one.id == name)


def _oil(row: str, hours: str, last: str, today: str) -> due.OilDue:
    limit = next(one.hours for one in duties.duties() if one.id == row) or 0.0
    return due.oil_due(limit, float(hours), date.fromisoformat(last), date.fromisoformat(today))


def _test(*given: str) -> due.DueTest:
    power, certified, kept, tested, start = (float(one) for one in given[:5])
    hours, months, rebuilt = (float(one) for one in (given[5:] or ("nan", "nan", "0")))
    return due.emission_test_due(
        power=float(to_si(power, "hp")),
        certified=bool(certified),
        by_instructions=bool(kept),
        tested=bool(tested),
        months_since_start=start,
        hours_since_test=hours,
        months_since_test=months,
        rebuilt_since_test=bool(rebuilt),
    )


def _rolling(given: tuple[str, ...]) -> tuple[float, float, Array, Array]:
    low, high, *values = (float(one) for one in given)
    return low, high, np.array(values), judged_runs.rolling_means(np.array(values))


def _outside(values: Array, low: float, high: float) -> float:
    return float(np.count_nonzero((values < low) | (values > high)))


def _runs(given: tuple[str, ...]) -> judged_runs.RunsJudged:
    doubt, limit, *runs = (float(one) for one in given)
    return judged_runs.judge_runs(runs, doubt, limit)


def _within(*given: str) -> float:
    base, base_load, now, load = (float(one) for one in given)
    found = judged_runs.pressure_drop_within(
        float(to_si(base, "inH2O")), base_load / 100, float(to_si(now, "inH2O")), load / 100
    )
    return -1.0 if found is None else float(found)


def _oil_sample(given: tuple[str, ...]) -> due.OilJudged:
    new, now, viscosity_new, viscosity, water = (float(one) for one in given)
    return due.judge_oil(
        acid_new=new * 1e-3,
        acid=now * 1e-3,
        viscosity_new=viscosity_new,
        viscosity=viscosity,
        water=water / 100,
    )


def _table1(power: str, made: str, burn: str, pollutant: str) -> float:
    """Return the limit in g/hp-h that the table gives for a natural-gas engine which is not for emergencies."""
    facts = EngineFacts.of(
        {
            "jurisdictions": "US",
            "power": f"{power} hp",
            "made": made,
            "burn": burn,
            "fuel": "natural_gas",
            "ignition": "spark",
            "emergency": "no",
            "modified": "no",
        }
    )
    wanted = [one.rule for one in applicable(facts, rules(), day=date(2026, 9, 17)).applying]
    found = [one.value for one in wanted if one.pollutant == pollutant and one.unit == "g/hp-h"]
    return found[0] if len(found) == 1 else float("nan")


def _pair(stem: str) -> float:
    """Return the heat rate at which a row in g/hp-h and its twin in ppm mean the same engine. [Btu/hp-h]"""
    by_energy, by_volume = _rule(f"{stem}.g"), _rule(f"{stem}.ppm")
    mass = MOLAR_MASS[{"NOx": "nox", "CO": "co", "VOC": "propane"}[by_energy.pollutant]]
    heat = heat_rate_where_equal(by_energy.si, by_volume.si, float(f_factor_si(F_FACTOR_NATURAL_GAS)), mass)
    return heat * float(to_si(1.0, "hp")) * 3600 / (MILLION_BTU / 1e6)


def _by_co2(concentration: str, co2: str) -> float:
    """Return a concentration at 15 % oxygen by the carbon dioxide route, for natural gas."""
    share = 0.059 / (0.209 * F_FACTOR_NATURAL_GAS / F_CARBON)
    return float(concentration) * share / float(co2)


def _heat_capacity(gas: str, temperature: str) -> float:
    shares = [0.0, 0.0, 0.0, 0.0]
    shares[SHARES[gas]] = 1.0
    return float(catalyst_heat.heat_capacity(tuple(shares), float(temperature)))  # type: ignore[arg-type]


def _so2_at_5(name: str) -> float:
    rule = _rule(name)
    return float(at_reference_oxygen(rule.value, rule.reference_oxygen or 0.0, 0.05, rule.oxygen_in_air or 0.21))


def _open_test() -> Array:
    """Return NOx, compression ratio and lambda of the open engine test. Shape (settings, 3)."""
    rows = load_csv("asfound.exhaust", "data/open_nox_mixture.csv")
    names = ("nox_ug_per_J", "compression_ratio", "equivalence_ratio")
    table = np.array([[float(row[name]) for name in names] for row in rows])
    table[:, 2] = 1.0 / table[:, 2]
    return table


def _open_slope(compression: str) -> float:
    """Return the slope of ln NOx against lambda, fitted over the lean settings at one compression ratio."""
    table = _open_test()
    lean = table[(table[:, 1] == float(compression)) & (table[:, 2] >= 1.3)]
    return float(np.polyfit(lean[:, 2], np.log(lean[:, 0]), 1)[0])


def _open_peak(*_: str) -> float:
    table = _open_test()
    return float(table[table[:, 0].argmax(), 2])


WAYS: dict[str, Callable[..., float]] = {
    "conversion": lambda *given: 100 * float(catalyst.conversion(*[float(one) for one in given])),
    "conversion_by_co2": lambda *given: 100 * float(catalyst.conversion_by_co2(*[float(one) for one in given])),
    "by_co2": _by_co2,
    "test_due": lambda *given: float(TESTS.index(_test(*given).test)),
    "test_overdue": lambda *given: float(_test(*given).overdue),
    "oil_hours": lambda row: next(one.hours or 0.0 for one in duties.duties() if one.id == row),
    "oil_date": lambda *given: float(_oil(*given).date_limit.toordinal()),
    "oil_due": lambda *given: float(_oil(*given).due),
    "rolling_lowest": lambda *given: float(_rolling(given)[3].min()),
    "rolling_highest": lambda *given: float(_rolling(given)[3].max()),
    "rolling_outside": lambda *given: _outside(_rolling(given)[3], *_rolling(given)[:2]),
    "rolling_single": lambda *given: _outside(_rolling(given)[2], *_rolling(given)[:2]),
    "dp_within": _within,
    "dp_change": lambda base, now: float(catalyst_pressure_drop_change(float(now), float(base))),
    "oil_passed": lambda *given: float(sum(PASSED[one] for one in _oil_sample(given).passed)),
    "oil_acid": lambda *given: _oil_sample(given).acid_rise * 1e3,
    "oil_viscosity": lambda *given: _oil_sample(given).viscosity_change * 100,
    "oil_days": lambda *given: float(_oil_sample(given).change_within_business_days or 0),
    "runs_mean": lambda *given: _runs(given).mean,
    "runs_mean_holds": lambda *given: float(_runs(given).mean_holds),
    "runs_worst": lambda *given: _runs(given).worst_with_uncertainty,
    "runs_each_holds": lambda *given: float(_runs(given).each_holds),
    "table1": _table1,
    "burn_oxygen": lambda strokes, oxygen: BURN[
        duties.burn_class(strokes=int(strokes), oxygen_full_load=float(oxygen)) or ""
    ],
    "burn_modified": lambda strokes, ratio: BURN[
        duties.burn_class(strokes=int(strokes), ratio_full_load=float(ratio), lean_by_early_modification=True) or ""
    ],
    "remote": lambda buildings, assembly: float(
        bool(duties.remote(on_pipeline=True, buildings_220_yd=int(buildings), assembly_100_yd=bool(int(assembly))))
    ),
    "pair": _pair,
    "fact_low_celsius": lambda key: fact(key).low_si - 273.15,
    "fact_high_celsius": lambda key: fact(key).high_si - 273.15,
    "fact_per_kwh": lambda key: float(from_si(fact(key).low_si, "g/kWh")),
    "rule_si": lambda name, scale: _rule(name).si * float(scale),
    "rule_value": lambda name: _rule(name).value,
    "so2_at_5": _so2_at_5,
    "heat_capacity": _heat_capacity,
    "open_slope": _open_slope,
    "open_peak": _open_peak,
    "heat": lambda species: catalyst_heat.heat(species) / 1e3,
}


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for row in load_csv("asfound.exhaust", "data/published_rules.csv"):
        yield Check.of_row("exhaust", WAYS[row["of"]](*row["inputs"].split("|")), row)
