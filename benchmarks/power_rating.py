"""Site rating of an engine over years of hourly weather in one call, against the same hour by hour.

Two roads to a rating: the standard's formula (k, alpha, beta, rating) and the engine's own derate tables (a chart with
two axes and two curves). Both are raced against calling the same functions hour by hour, and against a loop in plain
Python with `math` that does the same arithmetic with its tables as lists, which is the least that Python can do.
Answers are compared to 1e-9 before the race; sides take turns; processor time per hour, median of turns. Target: in one
call at least 100 times the same functions hour by hour.
"""

from __future__ import annotations

import math
import sys
from bisect import bisect_right

import numpy as np

from asfound.power.derating import Derate, Table
from asfound.power.derating_file import demo_derating
from asfound.power.rating_iso3046 import ISO_REFERENCE, Air, fuel_adjustment, power_adjustment, ratio_by_row
from asfound.power.site_air import saturation_pressure
from benchmarks.races import race

HOURS, ALONE, PLAIN, TURNS, TARGET = 10 * 8760, 400, 4000, 7, 100.0
RATED, EFFICIENCY = 1470e3, 0.87
OURS, ONE_BY_ONE, BY_HAND = "**all hours in one call**", "the same functions, hour by hour", "plain Python, `math`"


def weather(number: int) -> dict[str, np.ndarray]:
    """Return hours of weather and gas at a site at 1,460 m."""
    draw = np.random.default_rng(1)
    temperature = 283.0 + 12 * np.sin(np.arange(number) * 2 * np.pi / 8760) + draw.normal(0, 5, number)
    return {
        "site_height": np.full(number, 1460.0),
        "ambient_temperature": temperature,
        "auxiliary_water_inlet_temperature": 313.0 + draw.normal(0, 3, number),
        "methane_number_margin": draw.normal(2, 3, number),
        "pressure": draw.normal(85e3, 800, number),
        "vapour": draw.uniform(0.2, 0.9, number) * np.asarray(saturation_pressure(temperature)),
    }


def formula(air: dict[str, np.ndarray]) -> np.ndarray:
    """Return power and specific fuel by the standard's formula; row E, so that every term counts."""
    here = Air(
        pressure=air["pressure"], temperature=air["ambient_temperature"],
        coolant=air["auxiliary_water_inlet_temperature"], vapour=air["vapour"],
    )  # fmt: skip
    ratio = ratio_by_row(here, ISO_REFERENCE, "E")
    alpha = power_adjustment(ratio, EFFICIENCY)
    return np.stack(np.broadcast_arrays(RATED * np.minimum(alpha, 1.0), fuel_adjustment(ratio, alpha)))


def formula_by_hand(air: dict[str, np.ndarray], count: int) -> list[tuple[float, float]]:
    """Return the same hour by hour with `math` alone."""
    reference = ISO_REFERENCE
    dry_there, friction = reference.pressure - reference.vapour, 0.7 * (1 / EFFICIENCY - 1)
    columns = [air[name][:count].tolist() for name in ("pressure", "vapour", "ambient_temperature")]
    found = []
    for pressure, vapour, temperature in zip(*columns, strict=True):
        dry = pressure - vapour
        if not (dry > 0 and temperature > 0):
            found.append((math.nan, math.nan))
            continue
        ratio = (dry / dry_there) ** 0.86 * (298.0 / temperature) ** 0.55
        alpha = ratio - (1 - ratio) * friction
        found.append((RATED * min(alpha, 1.0), ratio / alpha) if alpha > 0 else (math.nan, math.nan))
    return found


def tables_by_hand(derate: Derate, air: dict[str, np.ndarray], count: int) -> list[float]:
    """Return the share by the tables hour by hour, with their points as lists."""
    ready = [(t.against, [axis.tolist() for axis in t.axes], t.power.tolist(), t.ends) for t in derate.tables]
    columns = {name: air[name][:count].tolist() for name in derate.takes}
    found = []
    for k in range(count):
        share = 1.0
        for against, axes, power, ends in ready:
            given = [columns[name][k] for name in against]
            if not all(low <= one <= high for one, (low, high) in zip(given, ends, strict=True)):
                share = math.nan
                break
            at = []
            for one, axis in zip(given, axes, strict=True):
                held = min(max(one, axis[0]), axis[-1])
                i = min(max(bisect_right(axis, held) - 1, 0), len(axis) - 2)
                at.append((i, (held - axis[i]) / (axis[i + 1] - axis[i])))
            i, u = at[0]
            if len(at) == 1:
                share *= (1 - u) * power[i] + u * power[i + 1]
            else:
                j, v = at[1]
                low = (1 - u) * power[i][j] + u * power[i + 1][j]
                share *= (1 - v) * low + v * ((1 - u) * power[i][j + 1] + u * power[i + 1][j + 1])
        found.append(share)
    return found


def report(title: str, found: dict[str, float]) -> bool:
    """Print a table and return whether the target was missed."""
    print(f"\n| {title} | µs per hour | times ours |\n|---|---:|---:|")
    for name, took in found.items():
        print(f"| {name} | {took:.3f} | {took / found[OURS]:.0f} |")
    return found[ONE_BY_ONE] / found[OURS] < TARGET


def main() -> int:
    air = weather(HOURS)
    hours = [{name: column[k] for name, column in air.items()} for k in range(ALONE)]
    derate = demo_derating().of("HM9")
    assert all(isinstance(one, Table) for one in derate.tables)
    assert np.allclose(formula(air)[:, :PLAIN].T, formula_by_hand(air, PLAIN), rtol=1e-9, equal_nan=True)
    assert np.allclose(
        np.asarray(derate.fraction(air))[:PLAIN], tables_by_hand(derate, air, PLAIN), rtol=1e-9, equal_nan=True
    )
    missed = report(
        "site rating by the standard's formula",
        race(
            TURNS,
            {
                OURS: (lambda: formula(air), HOURS),
                ONE_BY_ONE: (lambda: [formula(one) for one in hours], ALONE),
                BY_HAND: (lambda: formula_by_hand(air, PLAIN), PLAIN),
            },
        ),
    )
    missed |= report(
        "site rating by the engine's own tables",
        race(
            TURNS,
            {
                OURS: (lambda: derate.fraction(air), HOURS),
                ONE_BY_ONE: (lambda: [derate.fraction(one) for one in hours], ALONE),
                BY_HAND: (lambda: tables_by_hand(derate, air, PLAIN), PLAIN),
            },
        ),
    )
    return int(missed)


if __name__ == "__main__":
    sys.exit(main())
