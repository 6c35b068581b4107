"""A year of hourly exhaust readings in one call of each form, against the same hour by hour.

Lambda by every form with all pollutants, and water in the exhaust. Two sides go hour by hour: the program's own
functions, called once for each hour, and plain Python, which writes the same formulas a second time with floats only;
where 40 CFR 1065.655 asks for iteration plain Python iterates, until nothing moves by 1e-12. Answers are compared to
1e-9 before the race; sides take turns; processor time per hour, median over turns.

Targets: in one call at least 100 times the functions hour by hour, for each form; at least 100 times plain Python for
the form that iterates, and 50 times for all forms together. NumPy takes about half a nanosecond for an operation on a
number and plain Python about 15, so 30 is what a single form of many operations and no iteration can gain.
"""

from __future__ import annotations

import sys

import numpy as np

from asfound.exhaust import mixture_balance, wet_dry
from asfound.exhaust.balance_1065 import balance_1065
from asfound.exhaust.brettschneider import lambda_brettschneider
from asfound.exhaust.mixture import excess_air_ratio
from asfound.exhaust.spindt import air_fuel_ratio_spindt
from asfound.quantities.run_arrays import keep_heap
from benchmarks.races import Form, hour_by_hour

HOURS, ALONE, FEW, TURNS = 8760, 1460, 30, 7
BY_FUNCTION, ITERATED, ALL_FORMS = 100.0, 100.0, 50.0
RULE = "40 CFR 1065.655, which plain Python iterates"
GAS = (1.035, 4.02, 0.01, 0.03)
AIR, RULE_AIR, K = 0.2095, 0.209820, 3.5
R = (1 - AIR) / AIR
C, H, O, N = GAS  # noqa: E741
NEED = C + H / 4 - O / 2
DRY = C + N / 2 + R * NEED
SLIPPED = H / (C - O / 2)
MASS_C, MASS_H = C * 12.011e-3, H * 1.008e-3
MASS = MASS_C + MASS_H + O * 15.999e-3 + N * 14.007e-3


def year() -> list[np.ndarray]:
    """Return dry O2, CO2, CO, hydrocarbons, NO, NO2 and the air's humidity, hour by hour."""
    draw = np.random.default_rng(3)
    lean = draw.uniform(0.06, 0.11, HOURS)
    co2 = 0.1174 - 0.56 * lean + draw.normal(0, 5e-4, HOURS)
    return [
        lean, co2, draw.uniform(2e-4, 3e-3, HOURS), draw.uniform(5e-4, 2e-3, HOURS), draw.uniform(3e-5, 3e-4, HOURS),
        draw.uniform(1e-5, 6e-5, HOURS), draw.uniform(0.003, 0.03, HOURS),
    ]  # fmt: skip


def by_oxygen(o2: float, co: float, hc: float, no: float, no2: float, moist: float) -> float:
    if not -0.005 <= o2 < AIR:
        return float("nan")
    bound = 2 * o2 + no + 2 * no2 - co - hc * (2 + SLIPPED / 2)
    by_water = H / 2 + moist / AIR * NEED
    moles0 = (1 - o2 - (no + no2) / 2 - R * bound / 2) / DRY
    moles1 = (1 - R / 2) / DRY
    co2_0, co2_1 = moles0 * C - co - hc, moles1 * C
    water0 = moles0 * by_water + (moist / AIR * bound - SLIPPED * hc) / 2
    water1 = 1 + moles1 * by_water + moist / AIR / 2
    linear = K * co2_0 + co * water1
    g = 2 * co * water0 / (linear + (linear**2 - 4 * K * co2_1 * co * water0) ** 0.5)
    return 1 + (bound - g) / (2 * (moles0 - moles1 * g) * NEED)


def by_carbon(co2: float, co: float, hc: float, no: float, no2: float, moist: float) -> float:
    if co2 <= 0:
        return float("nan")
    bound = no + 2 * no2 - co - hc * (2 + SLIPPED / 2)
    moles = (co2 + co + hc) / C
    oxygen0 = (1 - moles * DRY - (no + no2) / 2 - R * bound / 2) * AIR
    oxygen1 = (1 - R / 2) * AIR
    air0 = (moles * NEED + oxygen0 + bound / 2) / AIR
    water0 = moles * H / 2 - SLIPPED * hc / 2 + moist * air0
    g = co * water0 / (K * co2 + co * (1 + moist * (oxygen1 + 0.5) / AIR))
    oxygen = oxygen0 - oxygen1 * g
    if oxygen <= -0.1 * AIR:
        return float("nan")
    return 1 + (oxygen + (bound - g) / 2) / (moles * NEED)


def by_brettschneider(co2: float, o2: float, co: float, hc: float, no: float, no2: float) -> float:
    if co2 <= 0:
        return float("nan")
    h, o = H / C, O / C
    water = h / 4 * K / (K + co / co2)
    return (co2 + co / 2 + o2 + no / 2 + no2 + (water - o / 2) * (co2 + co)) / ((1 + h / 4 - o / 2) * (co2 + co + hc))


def by_rule(co2: float, co: float, hc: float, no: float, no2: float, moist: float) -> float:
    if co2 <= 0:
        return float("nan")
    alpha, beta, delta = H / C, O / C, N / C
    of_air, oxygen_air = moist / (1 + moist), RULE_AIR / (1 + moist)
    water, excess = 0.1, 0.3
    for _ in range(200):
        before = water, excess
        burned = co2 + co
        h2 = co * (water - of_air * excess) / (K * co2)
        used = ((alpha / 2 - beta + 2) * burned - (co - no - 2 * no2 + h2)) / (2 * oxygen_air)
        water = alpha / 2 * burned + of_air * (excess + used) - h2
        raw = ((alpha / 2 + beta + delta) * burned + (2 * hc + co - no2 + h2)) / 2 + used
        excess = 1 + water - raw
        if abs(water - before[0]) < 1e-12 and abs(excess - before[1]) < 1e-12:
            break
    if used <= 0 or excess <= -0.1 * used:
        return float("nan")
    return (used + excess) * oxygen_air / ((co2 + co + hc) * (1 + alpha / 4 - beta / 2))


def by_spindt(co2: float, o2: float, co: float, hc: float) -> float:
    if co2 <= 0:
        return float("nan")
    q, r, share = o2 / co2, co / co2, MASS_C / (MASS_C + MASS_H)
    burned = (co2 + co) / (co2 + co + hc)
    formula = 11.492 * share * (1 + r / 2 + q) / (1 + r) + 120 * (1 - share) / (3.5 + r)
    return (MASS_C + MASS_H) / MASS * burned * formula


def by_wet_oxygen(o2: float, moist: float) -> float:
    left = NEED - o2 * NEED / AIR * (1 + moist)
    if left <= 0 or o2 < -0.005:
        return float("nan")
    return (NEED + o2 * (C + N / 2 + H / 2 - NEED)) / left


def by_oxygen_alone(o2: float) -> float:
    left = AIR - o2
    if left <= 0:
        return float("nan")
    air = NEED / AIR
    return 1 + (C + N / 2 + (1 - AIR) * air) / air * o2 / left


def water(o2: float, moist: float) -> float:
    ratio = by_oxygen_alone(o2)
    air = ratio * NEED / AIR
    dry = C + N / 2 + air * (1 - AIR) + NEED * max(ratio - 1, 0.0)
    steam = H / 2 + air * moist
    return steam / (dry + steam)


def forms() -> dict[str, Form]:
    """Return for each form: one hour in plain Python, many in one call, and which columns it takes."""
    pollutants = mixture_balance.Pollutants
    return {
        "dry oxygen, CO, HC, NO, NO2": (
            by_oxygen,
            lambda o2, co, hc, no, no2, m: mixture_balance.from_oxygen(o2, *GAS, pollutants(co, hc, no, no2), m).ratio,
            (0, 2, 3, 4, 5, 6),
        ),
        "carbon dioxide, CO, HC, NO, NO2": (
            by_carbon,
            lambda c, co, hc, no, no2, m: (
                mixture_balance.from_carbon_dioxide(c, *GAS, pollutants(co, hc, no, no2), m).ratio
            ),
            (1, 2, 3, 4, 5, 6),
        ),
        "Brettschneider": (
            by_brettschneider,
            lambda c, o2, co, hc, no, no2: lambda_brettschneider(c, o2, C, H, O, co, hc, no, no2),
            (1, 0, 2, 3, 4, 5),
        ),
        RULE: (
            by_rule,
            lambda c, co, hc, no, no2, m: balance_1065(c, *GAS, co, hc, no, no2, m).ratio,
            (1, 2, 3, 4, 5, 6),
        ),
        "Spindt": (by_spindt, lambda c, o2, co, hc: air_fuel_ratio_spindt(c, o2, *GAS, co, hc), (1, 0, 2, 3)),
        "wet oxygen": (by_wet_oxygen, lambda o2, m: wet_dry.lambda_from_wet_oxygen(o2, *GAS, m), (0, 6)),
        "dry oxygen alone": (by_oxygen_alone, lambda o2: excess_air_ratio(o2, *GAS), (0,)),
        "water in the exhaust": (water, lambda o2, m: wet_dry.water_fraction_from_oxygen(o2, *GAS, m), (0, 6)),
    }


def main() -> int:
    keep_heap()  # as the sheet does before it works out a visit
    columns = year()
    found = {
        name: hour_by_hour(form, columns, alone=ALONE, few=FEW, turns=TURNS, close=1e-9)
        for name, form in forms().items()
    }
    print(f"\n| {HOURS:,} hours; µs per hour | plain Python | function, hour by hour | in one call | plain | hours |")
    print("|---|---:|---:|---:|---:|---:|")
    whole = [sum(one[side] for one in found.values()) for side in range(3)]
    for name, (plain, single, ours) in [*found.items(), ("**all of them**", whole)]:
        print(f"| {name} | {plain:.2f} | {single:.0f} | {ours:.4f} | {plain / ours:.0f} | {single / ours:,.0f} |")
    missed = [
        *(name for name, (_, single, ours) in found.items() if single / ours < BY_FUNCTION),
        *([RULE] if found[RULE][0] / found[RULE][2] < ITERATED else []),
        *(["all forms"] if whole[0] / whole[2] < ALL_FORMS else []),
    ]
    if missed:
        print("missed:", ", ".join(missed))
    return int(bool(missed))


if __name__ == "__main__":
    sys.exit(main())
