"""Two years of hourly readings through fuel meter and heat balance in one call, against a plain Python loop.

17,520 hours: orifice flow by ISO 5167-2 with its iteration, efficiency, exhaust by the elements with its heat, heat
into the coolant, rest of the balance. Plain Python does the same hour by hour with `math`, twice: formula by formula as
they are published (its iteration stops when the flow stands still), and once with our own ready-made table of
enthalpies, which is the least that Python can do. Compared before the race, to 1e-9 with the table and to 1e-5 without
it; sides take turns; processor time per hour of data, median. Target: in one call at least 100 times the formulas.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from statistics import median

import numpy as np

from asfound.fuel.ideal_gas import GAS_CONSTANT, _coefficients
from asfound.fuel.stoichiometry import OXYGEN_IN_DRY_AIR, element_columns
from asfound.power import coolant, efficiency, exhaust_heat, heat_balance, orifice
from asfound.power.coolant import MIDDLE_GLYCOL, MIDDLE_TEMPERATURE
from asfound.power.exhaust_heat import ARGON_IN_AIR, CARBON_DIOXIDE_IN_AIR, MOLAR_MASS, NITROGEN_IN_AIR
from asfound.quantities.run_arrays import keep_heap
from benchmarks.races import take_turns

HOURS, SLICE, TURNS, TARGET = 2 * 8_760, 300, 21, 100.0
BORE, PIPE, NET = 0.05, 0.1023, 50.03e6
METHANE = element_columns(("methane",))[0]
OURS, FORMULAS = "**two years in one call**", "plain Python, formula by formula"
TABLE = "plain Python, with our table of enthalpies"


def log(number: int) -> dict[str, np.ndarray]:
    """Return readings about an engine at changing load."""
    draw = np.random.default_rng(3).uniform
    return {
        "drop": draw(2e3, 1.2e4, number), "pressure": draw(3.8e5, 4.2e5, number), "density": draw(2.7, 3.0, number),
        "temperature": draw(275.0, 310.0, number), "power": draw(6e5, 1.2e6, number), "lambda": draw(1.5, 1.9, number),
        "exhaust": draw(650.0, 760.0, number), "flow": draw(0.010, 0.014, number), "inlet": draw(345.0, 352.0, number),
        "outlet": draw(355.0, 362.0, number),
    }  # fmt: skip


def ours(x: dict[str, np.ndarray]) -> tuple[np.ndarray, ...]:
    """Return flow, efficiency, exhaust heat, jacket heat, rest of the balance."""
    mass = orifice.orifice_flow(BORE, PIPE, 0.0254, x["drop"], x["pressure"], x["density"], 1.3, 1.1e-5,
                                temperature=x["temperature"]).mass_flow  # fmt: skip
    heat = mass * NET
    gas = exhaust_heat.exhaust_of(METHANE[:, np.newaxis], x["lambda"])
    exhaust = mass * (1 + gas.air / gas.fuel) * gas.specific_heat(x["exhaust"])
    jacket = coolant.heat_of_flow(x["flow"], x["inlet"], x["outlet"], 0.3)
    rest = heat_balance.rest(heat, x["power"], exhaust, 0.0, jacket, 0.0, 0.0).rest
    return mass, np.asarray(efficiency.efficiency(x["power"], heat)), exhaust, np.asarray(jacket), np.asarray(rest)


def by_formula() -> Callable[[int, float], float]:
    """Return the enthalpy of a species above 25 °C, by the published heat capacity."""
    own, n, theta = (one.tolist() for one in _coefficients(exhaust_heat.SPECIES))

    def bare(at: int, kelvin: float) -> float:
        found = own[at] * kelvin
        for row in range(4):
            if n[row][at]:
                x = theta[row][at] / kelvin
                tanh = math.sinh(x) / math.cosh(x)
                found += n[row][at] * theta[row][at] * (1 / tanh if row % 2 == 0 else -tanh)
        return found

    return lambda at, kelvin: GAS_CONSTANT * (bare(at, kelvin) - bare(at, 298.15))


def by_table() -> Callable[[int, float], float]:
    """Return the same from the ready-made table."""
    grid, table, _ = (one.tolist() for one in exhaust_heat._heat_table())

    def enthalpy(at: int, kelvin: float) -> float:
        step = int((kelvin - grid[0]) // 2)
        row, part = table[at], (kelvin - grid[step]) / 2
        return row[step] + part * (row[step + 1] - row[step])

    return enthalpy


def plain(enthalpy: Callable[[int, float], float]) -> Callable[..., tuple[float, ...]]:
    """Return the same for one hour, as the standards write it, with `math`."""
    terms = {name: coolant._rows(name) for name in ("density", "heat_capacity")}
    carbon, hydrogen, nitrogen, oxygen, sulfur, noble, fuel_mass = METHANE.tolist()
    masses = MOLAR_MASS.tolist()
    dry_mass = sum(a * b for a, b in zip(
        (NITROGEN_IN_AIR, OXYGEN_IN_DRY_AIR, CARBON_DIOXIDE_IN_AIR, 0.0, ARGON_IN_AIR, 0.0, 0.0), masses,
        strict=True))  # fmt: skip

    def coefficient(beta: float, reynolds: float, tap: float, pipe: float) -> float:
        a = (19_000 * beta / reynolds) ** 0.8
        dam = 2 * tap / (1 - beta)
        return (
            0.5961 + 0.0261 * beta**2 - 0.216 * beta**8 + 0.000521 * (1e6 * beta / reynolds) ** 0.7
            + (0.0188 + 0.0063 * a) * beta**3.5 * (1e6 / reynolds) ** 0.3
            + (0.043 + 0.080 * math.exp(-10 * tap) - 0.123 * math.exp(-7 * tap))
            * (1 - 0.11 * a) * beta**4 / (1 - beta**4)
            - 0.031 * (dam - 0.8 * dam**1.1) * beta**1.3
            + (0.011 * (0.75 - beta) * (2.8 - pipe / 0.0254) if pipe < 0.07112 else 0.0)
        )  # fmt: skip

    def polynomial(name: str, celsius: float, percent: float) -> float:
        return sum(c * percent**i * celsius**j for i, j, c in terms[name])

    def one(drop: float, pressure: float, density: float, temperature: float, power: float, ratio: float,
            exhaust: float, flow: float, inlet: float, outlet: float) -> tuple[float, ...]:  # fmt: skip
        warmer = temperature - 293.15
        d, wide = BORE * (1 + orifice.PLATE_EXPANSION * warmer), PIPE * (1 + orifice.PIPE_EXPANSION * warmer)
        beta = d / wide
        thinning = 1 - (0.351 + 0.256 * beta**4 + 0.93 * beta**8) * (1 - (1 - drop / pressure) ** (1 / 1.3))
        ideal = math.pi / 4 * d**2 * math.sqrt(2 * drop * density / (1 - beta**4)) * thinning
        mass, before = 0.6 * ideal, 0.0
        while abs(mass - before) > 1e-12 * mass:
            before = mass
            mass = ideal * coefficient(beta, 4 * mass / (math.pi * wide * 1.1e-5), 0.0254 / PIPE, wide)
        heat = mass * NET
        need = carbon + hydrogen / 4 + sulfur - oxygen / 2
        air = need * ratio / OXYGEN_IN_DRY_AIR
        moles = (NITROGEN_IN_AIR * air + nitrogen / 2, need * (ratio - 1),
                 carbon + sulfur + CARBON_DIOXIDE_IN_AIR * air, hydrogen / 2, ARGON_IN_AIR * air + noble,
                 0.0, 0.0)  # fmt: skip
        held = sum(n * enthalpy(at, exhaust) for at, n in enumerate(moles) if n)
        weight = sum(n * m for n, m in zip(moles, masses, strict=True))
        out = mass * (1 + air * dry_mass / fuel_mass) * held / weight
        middle = (inlet + outlet) / 2 - 273.15 - MIDDLE_TEMPERATURE
        carried = polynomial("density", middle, 30 - MIDDLE_GLYCOL) * polynomial(
            "heat_capacity", middle, 30 - MIDDLE_GLYCOL
        )
        jacket = flow * carried * (outlet - inlet)
        return mass, power / heat, out, jacket, heat - power - out - jacket

    return one


def main() -> int:
    x = log(HOURS)
    part = {name: one[:SLICE] for name, one in x.items()}
    rows = [tuple(row) for row in np.stack(list(x.values())).T[:SLICE].tolist()]
    by_hand = {name: plain(how) for name, how in ((FORMULAS, by_formula()), (TABLE, by_table()))}
    for name, close in ((FORMULAS, 1e-5), (TABLE, 1e-9)):
        for a, b in zip(ours(part), zip(*(by_hand[name](*row) for row in rows), strict=True), strict=True):
            assert np.allclose(a, b, rtol=close, atol=10 if close > 1e-6 else 1e-3), f"{name} computes something else"
    sides: dict[str, tuple[Callable[[], object], int]] = {
        OURS: (lambda: ours(x), HOURS),
        FORMULAS: (lambda: [by_hand[FORMULAS](*row) for row in rows], SLICE),
        TABLE: (lambda: [by_hand[TABLE](*row) for row in rows], SLICE),
    }
    keep_heap()  # as the sheet does before it works out a visit
    times = take_turns(TURNS, sides)
    found = {name: median(one) for name, one in times.items()}
    fast = found[OURS]
    print("\n| fuel meter and heat balance | µs per hour | times ours |\n|---|---:|---:|")
    for name, took in found.items():
        print(f"| {name} | {took:.2f} | {took / fast:.1f} |")
    ratio = median(b / a for a, b in zip(times[OURS], times[FORMULAS], strict=True))
    print(f"\nplain Python, formula by formula, over one call: {ratio:.0f} (target {TARGET:.0f})")
    return 0 if ratio >= TARGET else 1


if __name__ == "__main__":
    sys.exit(main())
