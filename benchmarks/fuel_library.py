"""ISO 6976 on 100,000 gases at once, against the nearest general library gas by gas, where that is installed.

The library is neqsim (a general library of thermodynamics and processes; it is no dependency, and wants Java): of those
on PyPI the one that has the standard. Both compute heating values, Wobbe indices and relative density at 15/15 of the
same compositions; they are compared to 0.01 % before the race (the library keeps older net values), and take turns. The
library reckons one gas in a call, from Python through to Java, and is warmed up first. Target: at least 50 times.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from statistics import median
from time import perf_counter
from typing import Any

import numpy as np

from asfound.fuel.iso6976 import properties
from benchmarks.fuel import GASES, NAMES, REFERENCE, gases

TURNS, SLICE, WARM, TARGET = 5, 300, 1500, 50.0
THEIR_NAMES = {
    "isobutane": "i-butane", "isopentane": "i-pentane", "carbon dioxide": "CO2",
}  # fmt: skip
VALUES = {
    "volume_gross": ("SuperiorCalorificValue", 1e3),
    "volume_net": ("InferiorCalorificValue", 1e3),
    "wobbe_gross": ("SuperiorWobbeIndex", 1e3),
    "wobbe_net": ("InferiorWobbeIndex", 1e3),
    "relative_density": ("RelativeDensity", 1.0),
}
"""Our name, theirs, and what theirs is multiplied with."""


def library() -> Callable[[list[float]], list[float]] | None:
    """Return the library's answer for one gas, or None where it is not installed."""
    try:
        from neqsim import jneqsim  # type: ignore[import-not-found]
    except ImportError:
        return None
    fluid: Any = jneqsim.thermo.system.SystemSrkEos(REFERENCE.metering, 1.01325)
    for name in NAMES:
        fluid.addComponent(THEIR_NAMES.get(name, name), 1.0)
    fluid.init(0)
    standard: Any = jneqsim.standards.gasquality.Standard_ISO6976_2016(fluid, 15.0, 15.0, "volume")
    standard.setReferenceState("real")

    def one(x: list[float]) -> list[float]:
        fluid.setMolarComposition(x)
        fluid.init(0)
        standard.calculate()
        return [float(standard.getValue(name)) * factor for name, factor in VALUES.values()]

    return one


def seconds(work: Callable[[], object]) -> float:
    """Return the wall time of one call: the library works in threads of its own."""
    start = perf_counter()
    work()
    return perf_counter() - start


def main() -> int:
    """Print the table; return 1 when the target is missed."""
    one = library()
    if one is None:
        print("neqsim is not installed here (pip install neqsim, with Java): nothing to race against; see `fuel`.")
        return 0
    x = gases(GASES)
    some = x[:SLICE].tolist()
    for gas in x[:WARM].tolist():
        one(gas)
    ours = properties(x[:SLICE], NAMES, REFERENCE)
    theirs = np.array([one(gas) for gas in some])
    away = max(
        float(np.max(np.abs(np.asarray(getattr(ours, name)) / theirs[:, at] - 1))) for at, name in enumerate(VALUES)
    )
    assert away < 1e-4, f"the two differ by {away:.1e}"
    slow, fast = [], []
    for _ in range(TURNS):
        slow.append(seconds(lambda: [one(gas) for gas in some]) / SLICE)
        fast.append(seconds(lambda: properties(x, NAMES, REFERENCE)) / GASES)
    ratio = median(a / b for a, b in zip(slow, fast, strict=True))
    print(f"ISO 6976, {len(NAMES)} components; wall time, median of {TURNS} turns; they differ by {away:.1e} at most\n")
    print("| what | microseconds a gas | gases a second |\n|---|---:|---:|")
    for name, each in ((f"**asfound, {GASES:,} gases in one call, twelve properties**", median(fast)),
                       ("neqsim, gas by gas, five properties", median(slow))):  # fmt: skip
        print(f"| {name} | {1e6 * each:.3f} | {1 / each:,.0f} |")
    print(f"\nlibrary over asfound, median of the turns: {ratio:,.0f} (target {TARGET:.0f})")
    return 0 if ratio >= TARGET else 1


if __name__ == "__main__":
    sys.exit(main())
