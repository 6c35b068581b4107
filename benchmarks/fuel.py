"""Heating values of 100,000 gases at once, against the same formulas gas by gas.

All sides compute all of ISO 6976:2016 (twelve properties, 15/15) on the same compositions, compared to 1e-9 before the
race, and take turns. Plain Python does it twice: formula by formula as the standard writes them, each a sum over the
components, and once with all sums drawn into one loop by hand, which is the least that Python can do. Both have their
tables ready as lists and take 500 gases in each turn; time is counted per gas. Target: at least 100 times the formulas.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from statistics import median

import numpy as np

from asfound.fuel import iso6976
from asfound.fuel.components import ELEMENTS, table
from asfound.fuel.iso6976 import MOLAR_MASS_AIR, REFERENCE_PRESSURE, Reference, as_array, properties
from asfound.fuel.iso6976_uncertainty import uncertainty
from asfound.fuel.stoichiometry import f_factor_method_19, stoichiometry
from benchmarks.races import seconds

GASES, TURNS, SLICE, TARGET = 100_000, 7, 500, 100.0
NAMES = ("methane", "ethane", "propane", "isobutane", "n-butane", "isopentane", "n-pentane", "n-hexane", "nitrogen",
         "carbon dioxide", "hydrogen")  # fmt: skip
MIDDLE = (0.90, 0.05, 0.015, 0.002, 0.003, 0.0008, 0.0006, 0.0006, 0.015, 0.010, 0.0020)
REFERENCE = Reference.named("15/15")
PLAIN, OURS = "plain Python, formula by formula", "**ISO 6976, all twelve properties**"


def gases(number: int, seed: int = 1) -> np.ndarray:
    """Return compositions as a gas chromatograph's log has them: about a natural gas, each adding up to 1."""
    drawn = np.random.default_rng(seed).gamma(200.0, 1.0, (number, len(NAMES))) * np.array(MIDDLE)
    return np.asarray(drawn / drawn.sum(axis=1, keepdims=True))


def formulas() -> Callable[[list[float]], tuple[float, ...]]:
    """Return the standard for one gas, formula by formula, in plain Python with its table as lists."""
    data, (burn, meter) = table(), REFERENCE.columns
    at = [data.place[name] for name in NAMES]
    masses, factors = data.molar_mass[at].tolist(), data.summation[at, meter].tolist()
    heats, hydrogen = data.gross[at, burn].tolist(), data.atoms[at, ELEMENTS.index("H")].tolist()
    ratio = REFERENCE.pressure / REFERENCE_PRESSURE

    def sum_over(x: list[float], of: list[float]) -> float:
        return sum(fraction * one for fraction, one in zip(x, of, strict=True))

    def one(x: list[float]) -> tuple[float, ...]:
        z = 1 - ratio * sum_over(x, factors) ** 2
        if abs(sum(x) - 1) > iso6976.SUM_TOLERANCE or min(x) < 0 or z <= iso6976.LOWEST_Z:
            return (math.nan,) * 12
        mass, gross = sum_over(x, masses), sum_over(x, heats)
        net = gross - iso6976.WATER_HEAT[burn] * sum_over(x, hydrogen) / 2
        volume = z * iso6976.GAS_CONSTANT * REFERENCE.metering / REFERENCE.pressure
        relative = mass / MOLAR_MASS_AIR * (1 - ratio * (1 - iso6976.Z_AIR[meter])) / z
        root = math.sqrt(relative)
        return (mass, z, gross, net, gross / mass, net / mass, gross / volume, net / volume, mass / volume,
                relative, gross / volume / root, net / volume / root)  # fmt: skip

    return one


def loop() -> Callable[[list[float]], tuple[float, ...]]:
    """Return the standard for one gas, all sums in one loop, in plain Python with its table as lists."""
    data, (burn, meter) = table(), REFERENCE.columns
    at = [data.place[name] for name in NAMES]
    rows = list(
        zip(
            data.molar_mass[at].tolist(), data.summation[at, meter].tolist(), data.gross[at, burn].tolist(),
            (data.atoms[at, ELEMENTS.index("H")] / 2 * iso6976.WATER_HEAT[burn]).tolist(), strict=True,
        )
    )  # fmt: skip
    ratio = REFERENCE.pressure / REFERENCE_PRESSURE
    air = 1 - ratio * (1 - iso6976.Z_AIR[meter])
    rt = iso6976.GAS_CONSTANT * REFERENCE.metering

    def one(x: list[float]) -> tuple[float, ...]:
        mass = s = gross = water = total = 0.0
        for fraction, (m, factor, heat, w) in zip(x, rows, strict=True):
            if fraction:
                mass += fraction * m
                s += fraction * factor
                gross += fraction * heat
                water += fraction * w
                total += fraction
        z = 1 - ratio * s * s
        if not (abs(total - 1) <= iso6976.SUM_TOLERANCE and z > iso6976.LOWEST_Z):
            return (math.nan,) * 12
        net = gross - water
        per_volume = REFERENCE.pressure / (z * rt)
        relative = mass / MOLAR_MASS_AIR * air / z
        root = math.sqrt(relative)
        return (mass, z, gross, net, gross / mass, net / mass, gross * per_volume, net * per_volume, mass * per_volume,
                relative, gross * per_volume / root, net * per_volume / root)  # fmt: skip

    return one


def main() -> int:
    """Print the table; return 1 when the target is missed."""
    x, one, drawn_together = gases(GASES), formulas(), loop()
    some = x[:SLICE].tolist()
    ours = as_array(properties(x[:SLICE], NAMES, REFERENCE))
    for way in (one, drawn_together):
        np.testing.assert_allclose(ours, np.array([way(gas) for gas in some]), rtol=1e-9)
    u = 0.002 * np.sqrt(x)
    heat = np.asarray(properties(x, NAMES, REFERENCE).molar_gross)
    sides: dict[str, tuple[Callable[[], object], int]] = {
        PLAIN: (lambda: [one(gas) for gas in some], SLICE),
        "plain Python, all sums in one loop": (lambda: [drawn_together(gas) for gas in some], SLICE),
        OURS: (lambda: properties(x, NAMES, REFERENCE), GASES),
        "ISO 6976, standard uncertainty of all twelve": (lambda: uncertainty(x, u, NAMES, REFERENCE), GASES),
        "stoichiometric air and exhaust": (lambda: stoichiometry(x, NAMES), GASES),
        "F factor by Method 19": (lambda: f_factor_method_19(x, heat, NAMES), GASES),
    }
    times: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(TURNS):
        for name, (work, number) in sides.items():
            times[name].append(seconds(work) / number)
    base = median(times[PLAIN])
    print(f"{GASES:,} gases of {len(NAMES)} components; processor time, median of {TURNS} turns\n")
    print("| what | microseconds a gas | gases a second | times formula by formula |\n|---|---:|---:|---:|")
    for name, taken in times.items():
        each = median(taken)
        same = name == OURS or name.startswith("plain")  # the others compute something else
        print(f"| {name} | {1e6 * each:.3f} | {1 / each:,.0f} | {f'{base / each:.0f}' if same else ''} |")
    turns = zip(times[PLAIN], times[OURS], strict=True)
    ratio = median(slow / fast for slow, fast in turns)
    print(f"\nplain Python over ISO 6976, median of the turns: {ratio:.0f} (target {TARGET:.0f})")
    return 0 if ratio >= TARGET else 1


if __name__ == "__main__":
    sys.exit(main())
