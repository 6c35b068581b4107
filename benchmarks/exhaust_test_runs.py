"""A year of hours, each treated as a run of an emission test, in one call, against loops over the same formulas.

Each run: calibration error, bias of zero and up-scale before and after, drift of both, the corrected concentration and
its uncertainty, then 15 % oxygen by oxygen and by carbon dioxide, mass per heat dry, wet and by carbon dioxide, methane
and the rest. Two loops: the room's own functions called run by run, as a script does; and the least that plain Python
can do, the formulas written for floats with the same guards. All are compared to 1e-9 before the race and take turns;
the loops take 200 and 500 runs a turn and time is counted per run. Targets: 100 times the first, 20 times the second.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from statistics import median

import numpy as np

from asfound.exhaust import calibration, hydrocarbons, method_19
from asfound.exhaust.concentration import DRY_STANDARD_TEMPERATURE, MOLAR_MASS
from asfound.exhaust.emission_rate import mass_per_heat
from asfound.exhaust.reference_oxygen import at_reference_oxygen
from asfound.quantities.constants import ATMOSPHERE, GAS_CONSTANT
from asfound.quantities.run_arrays import keep_heap
from benchmarks.races import seconds

RUNS, TURNS, SLICE, CALLED = 8_760, 21, 500, 200
TARGET, LEAST = 100.0, 20.0
GAS, SPAN, F_DRY, F_CARBON, F_O = 100.0, 200.0, 2.3377e-7, 2.7913e-8, 1.750375
LOOP, PLAIN, OURS = "a loop over the room's functions", "plain Python, formulas for floats", "**all runs at once**"


def runs(number: int, seed: int = 1) -> np.ndarray:
    """Return what was read in each run: (11, runs)."""
    random = np.random.default_rng(seed)
    middle = (82.0, 0.4, 0.7, 99.0, 98.4, 100.4, 0.1, 0.094, 0.0645, 1650e-6, 1495e-6)
    spread = (8.0, 0.2, 0.2, 0.6, 0.6, 0.3, 0.1, 0.004, 0.003, 90e-6, 40e-6)
    return np.array([random.normal(one, width, number) for one, width in zip(middle, spread, strict=True)])


def ours(read: np.ndarray | list[float]) -> tuple[object, ...]:
    """Return the 14 results of all runs, each an array, by the room's functions."""
    average, zero_b, zero_a, up_b, up_a, direct_up, direct_zero, oxygen, carbon_dioxide, thc, cutter = read
    zero, upscale = (zero_b + zero_a) / 2, (up_b + up_a) / 2
    nox = calibration.bias_corrected(average, zero, upscale, GAS)
    u, _ = calibration.corrected_uncertainty(
        average, zero, upscale, GAS, gas=0.75, zero_drift=zero_a - zero_b, upscale_drift=up_a - up_b, linearity=0.7
    )
    fraction = np.asarray(nox) * 1e-6
    methane, rest = hydrocarbons.methane_and_nonmethane(thc, cutter, 1.05, 0.019)
    m = MOLAR_MASS["nox"]
    return (
        calibration.calibration_error(direct_up, GAS, SPAN),
        calibration.system_bias(zero_a, direct_zero, SPAN),
        calibration.system_bias(up_a, direct_up, SPAN),
        calibration.drift(zero_b, zero_a, SPAN),
        calibration.drift(up_b, up_a, SPAN),
        nox,
        u,
        at_reference_oxygen(fraction, oxygen, 0.15),
        method_19.at_reference_by_carbon_dioxide(fraction, carbon_dioxide, 0.15, F_O),
        mass_per_heat(fraction, oxygen, F_DRY, m),
        method_19.mass_per_heat_wet(fraction * 0.9, oxygen * 0.9, 0.1, F_DRY, m),
        method_19.mass_per_heat_by_carbon_dioxide(fraction, carbon_dioxide, F_CARBON, m),
        methane,
        rest,
    )


def share(difference: float, whole: float) -> float:
    """Return a difference as a share, for one run."""
    return difference / whole if whole > 0 else math.nan


def error(read: float, true: float, span: float) -> float:
    """Return a calibration error or a bias."""
    return share(read - true, span)


def moved(before: float, after: float, span: float) -> float:
    """Return a drift."""
    return share(abs(after - before), span)


def corrected(average: float, zero: float, upscale: float, gas: float) -> float:
    """Return a concentration corrected by zero and up-scale readings."""
    slope = upscale - zero
    return (average - upscale) * (gas / slope if slope > 0 else math.nan) + gas


def doubt(
    average: float, zero: float, upscale: float, gas: float, u: float, zd: float, ud: float, line: float
) -> float:
    """Return the standard uncertainty of a corrected concentration."""
    slope = upscale - zero
    slope = slope if slope > 0 else math.nan
    gain, part, third = gas / slope, (average - zero) / slope, math.sqrt(3.0)
    squares = ((part * u) ** 2, ((1 - part) * gain * zd * 0.5 / third) ** 2, (part * gain * ud * 0.5 / third) ** 2)
    return math.sqrt(sum(squares) + (line / third) ** 2)


def by_oxygen(fraction: float, oxygen: float) -> float:
    """Return a fraction at 15 % oxygen."""
    left = 0.209 - oxygen
    return fraction * (0.209 - 0.15) / left if left > 0 else math.nan


def by_carbon_dioxide(fraction: float, carbon_dioxide: float, factor: float) -> float:
    """Return a fraction at 15 % oxygen by carbon dioxide."""
    return fraction * ((0.209 - 0.15) / factor) / carbon_dioxide if carbon_dioxide > 0 else math.nan


def mass(fraction: float, molar_mass: float) -> float:
    """Return the mass in a dry standard cubic metre."""
    kelvin = DRY_STANDARD_TEMPERATURE if DRY_STANDARD_TEMPERATURE > 0 else math.nan
    return fraction * molar_mass * (ATMOSPHERE / (GAS_CONSTANT * kelvin))


def per_heat(fraction: float, left: float, f_factor: float, molar_mass: float) -> float:
    """Return the mass for a joule of heat, where so much of the oxygen of air is left."""
    return mass(fraction, molar_mass) * f_factor * (0.209 / left if left > 0 else math.nan)


def per_heat_by_carbon(fraction: float, carbon_dioxide: float, f_carbon: float, molar_mass: float) -> float:
    """Return the mass for a joule of heat by carbon dioxide."""
    return mass(fraction, molar_mass) * f_carbon / (carbon_dioxide if carbon_dioxide > 0 else math.nan)


def apart(whole: float, cutter: float, response: float, passage: float) -> tuple[float, float]:
    """Return methane and the other hydrocarbons."""
    divisor = 1 - passage * response
    divisor = divisor if divisor > 0 else math.nan
    return (cutter - whole * passage) / divisor, (whole - response * cutter) / divisor


def one_by_one(read: list[list[float]]) -> list[tuple[float, ...]]:
    """Return the same results run by run, each formula a plain function of floats, with the same guards."""
    m = MOLAR_MASS["nox"]
    found = []
    for average, zero_b, zero_a, up_b, up_a, direct_up, direct_zero, oxygen, carbon_dioxide, thc, cutter in read:
        zero, upscale = (zero_b + zero_a) / 2, (up_b + up_a) / 2
        nox = corrected(average, zero, upscale, GAS)
        fraction = nox * 1e-6
        found.append(
            (
                error(direct_up, GAS, SPAN),
                error(zero_a, direct_zero, SPAN),
                error(up_a, direct_up, SPAN),
                moved(zero_b, zero_a, SPAN),
                moved(up_b, up_a, SPAN),
                nox,
                doubt(average, zero, upscale, GAS, 0.75, zero_a - zero_b, up_a - up_b, 0.7),
                by_oxygen(fraction, oxygen),
                by_carbon_dioxide(fraction, carbon_dioxide, F_O),
                per_heat(fraction, 0.209 - oxygen, F_DRY, m),
                per_heat(fraction * 0.9, 0.209 * 0.9 - oxygen * 0.9, F_DRY, m),
                per_heat_by_carbon(fraction, carbon_dioxide, F_CARBON, m),
                *apart(thc, cutter, 1.05, 0.019),
            )
        )
    return found


def main() -> int:
    """Print the table; return 1 when the target is missed."""
    read = runs(RUNS)
    some = read[:, :SLICE].T.tolist()
    np.testing.assert_allclose(np.array(ours(read[:, :SLICE])).T, np.array(one_by_one(some)), rtol=1e-9)
    keep_heap()  # as the sheet does before it works out a visit
    columns = [read[:, at].tolist() for at in range(CALLED)]
    sides: dict[str, tuple[Callable[[], object], int]] = {
        LOOP: (lambda: [ours(one) for one in columns], CALLED),
        PLAIN: (lambda: one_by_one(some), SLICE),
        OURS: (lambda: ours(read), RUNS),
    }
    times: dict[str, list[float]] = {name: [] for name in sides}
    for _ in range(TURNS):
        for name, (work, number) in sides.items():
            times[name].append(seconds(work) / number)
    base = median(times[OURS])
    print(f"{RUNS:,} runs, 14 results each; processor time, median of {TURNS} turns\n")
    print("| what | microseconds a run | over all at once |\n|---|---:|---:|")
    for name, taken in times.items():
        print(f"| {name} | {1e6 * median(taken):.3f} | {median(taken) / base:.0f} |")
    missed = 0
    for name, target in ((LOOP, TARGET), (PLAIN, LEAST)):
        ratio = median(slow / fast for slow, fast in zip(times[name], times[OURS], strict=True))
        print(f"\n{name}, over all at once, median of the turns: {ratio:.0f} (target {target:.0f})")
        missed += ratio < target
    return int(missed > 0)


if __name__ == "__main__":
    sys.exit(main())
