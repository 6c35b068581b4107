"""Gases in the line and methane numbers, many at once, against one at a time.

Compressibility at line conditions by both equations of state for 10-component gases, each with its own temperature and
pressure, in one call and one gas at a time; where the package pyaga8 (MIT, compiled; not a dependency) can be imported,
beside it too, compared to 1e-9 before the race. Methane numbers of an hour's log of a gas chromatograph, in one call
and one at a time. Sides take turns; processor time per gas, median. Target: in one call at least 100 times one at a
time for the equations, 50 times for the methane number, which solves a small optimisation for each gas.
"""

from __future__ import annotations

import sys
from collections.abc import Callable

import numpy as np

from asfound.fuel import methane_number, real_gas
from benchmarks.races import race

GASES, ALONE, TURNS = 20_000, 50, 5
EQUATION_TARGET, METHANE_TARGET = 100.0, 50.0
MIDDLE = {"methane": 0.93, "nitrogen": 0.01, "carbon_dioxide": 0.01, "ethane": 0.03, "propane": 0.01,
          "isobutane": 0.002, "n_butane": 0.003, "isopentane": 0.001, "n_pentane": 0.001,
          "n_hexane": 0.001}  # fmt: skip


def log(number: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return gases about a pipeline gas, temperatures, pressures."""
    draw = np.random.default_rng(1)
    x = real_gas.composition(MIDDLE) * draw.gamma(400.0, 1 / 400.0, (number, len(real_gas.COMPONENTS)))
    return x / x.sum(axis=1, keepdims=True), draw.uniform(263.0, 338.0, number), draw.uniform(1e5, 1e7, number)


def compiled(equation: str, x: np.ndarray, t: np.ndarray, p: np.ndarray) -> Callable[[], np.ndarray] | None:
    """Return the same by the compiled package, its gases made ready beforehand; None where it is not installed."""
    try:
        import pyaga8
    except ImportError:
        return None
    names = [
        name.removeprefix("n_") if name != "n_butane" and name != "n_pentane" else name for name in real_gas.COMPONENTS
    ]
    gases = []
    for row in x:
        gas = pyaga8.Composition()
        for name, value in zip(names, row, strict=True):
            if value:
                setattr(gas, name, value)
        gases.append(gas)
    state = pyaga8.Detail() if equation == "detail" else pyaga8.Gerg2008()
    constant = 8.31451 if equation == "detail" else 8.314472

    def run() -> np.ndarray:
        answer = np.empty(len(t))
        for at, gas in enumerate(gases):
            state.set_composition(gas)
            state.temperature, state.pressure = t[at], p[at] / 1000
            state.calc_density() if equation == "detail" else state.calc_density(0)
            answer[at] = p[at] / (1000 * state.d * constant * t[at])
        return answer

    return run


def table(title: str, found: dict[str, float], ours: str) -> None:
    print(f"\n| {title} | µs per gas | times ours |\n|---|---:|---:|")
    for name, took in found.items():
        print(f"| {name} | {took:.2f} | {took / found[ours]:.2f} |")


def main() -> int:
    missed = 0
    x, t, p = log(GASES)
    for equation in ("detail", "gerg"):
        ours = "**all in one call**"
        sides: dict[str, tuple[Callable[[], object], int]] = {
            ours: (lambda e=equation: real_gas.compressibility(x, t, p, equation=e), GASES),
            "one gas at a time": (
                lambda e=equation: [real_gas.compressibility(x[k], t[k], p[k], equation=e) for k in range(ALONE)],
                ALONE,
            ),
            "one gas, many states, one call": (
                lambda e=equation: real_gas.compressibility(x[0], t, p, equation=e),
                GASES,
            ),
        }
        other = compiled(equation, x, t, p)
        if other is not None:
            difference = np.abs(real_gas.compressibility(x, t, p, equation=equation) / other() - 1).max()
            print(f"{equation}: largest relative difference to the compiled package {difference:.1e}")
            missed += difference > 1e-9
            sides["compiled package, gas by gas, gases ready"] = (other, GASES)
        found = race(TURNS, sides)
        table(f"compressibility by {equation}", found, ours)
        missed += found["one gas at a time"] / found[ours] < EQUATION_TARGET
    parts = {("hexanes_plus" if name == "n_hexane" else name): x[:, real_gas.COMPONENTS.index(name)] for name in MIDDLE}
    gases = methane_number.composition(parts)[:5000]
    ours = "**all in one call**"
    found = race(
        TURNS,
        {
            ours: (lambda: methane_number.methane_number(gases), len(gases)),
            "one gas at a time": (lambda: [methane_number.methane_number(one) for one in gases[:ALONE]], ALONE),
        },
    )
    table("methane number by EN 16726 annex A", found, ours)
    missed += found["one gas at a time"] / found[ours] < METHANE_TARGET
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
