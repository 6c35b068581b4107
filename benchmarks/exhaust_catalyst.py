"""A year of hourly readings of a catalyst and a NOx limit in one call of each formula, against the same hour by hour.

Conversion at one oxygen, the temperature rise to be expected, pressure drop against clean, and the lambda that meets a
limit. Two sides go hour by hour: the program's own functions, called once for each hour, and plain Python, which writes
the same formulas a second time with floats only (the heat capacities by the ideal gases' own formula, with
``math.sinh``). Answers are compared to 1e-6 before the race (the program's heat capacities lie straight between whole
kelvins); sides take turns; processor time per hour, median over turns.

Targets: in one call at least 100 times the functions hour by hour, for each formula; at least 50 times plain Python
for all of them together, as for the mixture: a formula of four operations gains 20 to 40 on plain floats and no more.
"""

from __future__ import annotations

import math
import sys

import numpy as np

from asfound.exhaust import catalyst, catalyst_heat
from asfound.exhaust.mixture_for_limit import excess_air_ratio_for
from asfound.quantities.run_arrays import keep_heap
from benchmarks.races import Form, hour_by_hour

HOURS, ALONE, FEW, TURNS = 8760, 730, 30, 7
BY_FUNCTION, TOGETHER = 100.0, 50.0
AIR, R = 0.209, 8.31451
# nitrogen, oxygen, carbon dioxide, water as the fuel room has them: n3, then (n, theta) by sinh and by cosh
GASES = (
    (3.50031, ((0.13732, 662.738), (0.90066, 1740.06)), ((-0.1466, 680.562),)),
    (3.50146, ((1.07558, 2235.71),), ((1.01334, 1116.69),)),
    (3.50002, ((2.04452, 919.306), (2.03366, 483.553)), ((-1.06044, 865.07), (0.01393, 341.109))),
    (4.00392, ((0.01059, 268.795), (3.06904, 2507.37)), ((0.98763, 1141.41),)),
)
HEAT = {one: catalyst_heat.heat(one) for one in ("co", "hydrogen", "formaldehyde")}


def year() -> list[np.ndarray]:
    """Return oxygen and CO before and after, inlet temperature, pressure drop, flow, NOx over limit, lambda, slope."""
    draw = np.random.default_rng(4)
    before, inlet = draw.uniform(0.07, 0.10, HOURS), draw.uniform(650.0, 760.0, HOURS)
    return [
        before, before + draw.normal(0, 5e-4, HOURS), draw.uniform(3e-4, 9e-4, HOURS), draw.uniform(2e-5, 9e-5, HOURS),
        inlet, draw.uniform(600, 1500, HOURS), draw.uniform(0.7, 1.2, HOURS), draw.uniform(0.5, 1.5, HOURS),
        draw.uniform(1.5, 1.9, HOURS), draw.uniform(-15, -5, HOURS),
    ]  # fmt: skip


def conversion(o_in: float, o_out: float, c_in: float, c_out: float) -> float:
    if c_in <= 0 or o_in >= AIR or o_out >= AIR:
        return float("nan")
    return 1 - c_out * (AIR - o_in) / (c_in * (AIR - o_out))


def capacity(shares: tuple[float, ...], kelvin: float) -> float:
    total = 0.0
    for share, (own, by_sinh, by_cosh) in zip(shares, GASES, strict=True):
        found = own
        for n, theta in by_sinh:
            found += n * (theta / kelvin / math.sinh(theta / kelvin)) ** 2
        for n, theta in by_cosh:
            found += n * (theta / kelvin / math.cosh(theta / kelvin)) ** 2
        total += share * found
    return R * total


def rise(o_in: float, o_out: float, c_in: float, c_out: float, inlet: float) -> float:
    ratio = 1 + (1 + 0.7905 * 2 / 0.2095) / (2 / 0.2095) * o_in / (0.2095 - o_in)
    air = ratio * 2 / 0.2095
    moles = (0.7905 * air, (ratio - 1) * 2, 1.0, 2.0)
    shares = tuple(one / sum(moles) for one in moles)
    taken = c_in - c_out * (AIR - o_in) / (AIR - o_out)
    released = (1 - shares[3]) * taken * (HEAT["co"] + 0.3 * HEAT["hydrogen"])
    found = released / capacity(shares, inlet)
    for _ in range(2):
        found = released / capacity(shares, inlet + found / 2)
    return found


def rise_of_many(o_in: np.ndarray, o_out: np.ndarray, c_in: np.ndarray, c_out: np.ndarray, inlet: np.ndarray) -> object:
    gas = catalyst_heat.wet_exhaust(o_in, 1.0, 4.0, 0.0, 0.0)
    taken = catalyst_heat.converted(c_in, o_in, c_out, o_out, AIR)
    return catalyst_heat.temperature_rise((1 - gas[3]) * taken * (HEAT["co"] + 0.3 * HEAT["hydrogen"]), gas, inlet)


def against_clean(drop: float, flow: float, kelvin: float) -> float:
    if flow <= 0 or kelvin <= 0:
        return float("nan")
    return drop / 1000.0 * (1.0 / flow) ** 2 * 713.0 / kelvin


def for_limit(share: float, ratio: float, slope: float) -> float:
    if share <= 0 or ratio < 1.2 or slope >= -0.5:
        return float("nan")
    return ratio - math.log(share) / slope


FORMS: dict[str, Form] = {
    "conversion at one oxygen": (
        conversion,
        lambda o_in, o_out, c_in, c_out: catalyst.conversion(c_in, o_in, c_out, o_out),
        (0, 1, 2, 3),
    ),
    "temperature rise to be expected": (rise, rise_of_many, (0, 1, 2, 3, 4)),
    "pressure drop against clean": (
        against_clean,
        lambda drop, flow, kelvin: catalyst.pressure_drop_ratio(drop, flow, kelvin, 1000.0, 1.0, 713.0),
        (5, 6, 4),
    ),
    "lambda that meets the limit": (for_limit, excess_air_ratio_for, (7, 8, 9)),
}


def main() -> int:
    """Print the table; 1 where a target is missed."""
    keep_heap()  # as the sheet does before it works out a visit
    columns = year()
    found = {
        name: hour_by_hour(form, columns, alone=ALONE, few=FEW, turns=TURNS, close=1e-6) for name, form in FORMS.items()
    }
    print(f"\n| {HOURS:,} hours; µs per hour | plain Python | function, hour by hour | in one call | plain | hours |")
    print("|---|---:|---:|---:|---:|---:|")
    whole = tuple(sum(one[side] for one in found.values()) for side in range(3))
    for name, (plain, single, ours) in [*found.items(), ("**all of them**", whole)]:
        print(f"| {name} | {plain:.2f} | {single:.0f} | {ours:.4f} | {plain / ours:.0f} | {single / ours:,.0f} |")
    missed = [name for name, (_, single, ours) in found.items() if single / ours < BY_FUNCTION]
    if whole[0] / whole[2] < TOGETHER:
        missed.append("all of them against plain Python")
    print(f"missed: {', '.join(missed)}" if missed else "all targets met")
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
