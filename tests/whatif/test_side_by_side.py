"""Cases beside one another, and layers that burn one after the other: the same digits as each for itself."""

from __future__ import annotations

import numpy as np
import pytest

from asfound.quantities.typing import Array
from asfound.whatif.cycle import HEATS, LEAST_MOVE
from asfound.whatif.engine import QUICK, Build, Outcome, Setting, Unknowns, run
from asfound.whatif.equilibrium import COLDEST, HOTTEST, flame, follow
from asfound.whatif.layers import FIRST_HEAT, FLAME_TURNS, WANTED, in_layers

COUNT = 37
BUILD = Build(bore=0.17, stroke=0.19, rod=0.35, compression_ratio=12.0, cylinders=12)


def asked(some: slice, lean: float = 1.8) -> Outcome:
    rng = np.random.default_rng(3)
    at = {"manifold_pressure": 2.1e5, "charge_temperature": 320.0, "excess_air_ratio": lean, "exhaust_pressure": 2.0e5}
    values = {name: value * rng.uniform(0.97, 1.03, COUNT) for name, value in at.items()}
    timing = np.radians(rng.uniform(-22.0, -14.0, COUNT))
    fuel = {"methane": rng.uniform(0.85, 0.95, COUNT), "ethane": np.full(COUNT, 0.05), "nitrogen": np.full(COUNT, 0.03)}
    setting = Setting(speed=125.0, timing=timing[some], **{name: one[some] for name, one in values.items()})
    return run(BUILD, setting, Unknowns(), {name: one[some] for name, one in fuel.items()}, steps=QUICK)


def test_the_digits_of_a_case_do_not_hang_on_the_cases_beside_it():
    whole = asked(slice(None))
    for some in (slice(0, 2), slice(5, 12), slice(20, 37)):  # NumPy sums over species in another order for one alone
        part = asked(some)
        for name in ("power", "efficiency", "exhaust_temperature", "nox_dry", "knock", "fuel_flow"):
            assert np.array_equal(getattr(part, name), getattr(whole, name)[some]), name


@pytest.mark.parametrize("lean", [1.8, 1.02])
def test_layers_are_as_if_each_were_followed_from_the_start(lean: float):
    one = asked(slice(None), lean)
    found = in_layers(one.cycle, one.charge, layers=5)
    for layer in range(5):
        temperature, volume, parts = alone(one, (layer + 0.5) / 5)
        assert np.array_equal(found.temperature[:, layer], temperature)
        assert np.array_equal(found.volume[:, layer], volume)
        assert np.array_equal(found.parts[:, :, layer], parts)


def alone(one: Outcome, share: float) -> tuple[Array, Array, Array]:
    """Follow one layer along the whole of the crank: fresh charge until it burns, then compressed and cooled."""
    cycle, trace, first = one.cycle, one.cycle.trace, one.cycle.first
    p, burned, lost = trace.pressure[first:], trace.burned[first:], trace.heat[first:]
    fresh, elements = one.charge.fresh.enthalpy(trace.fresh_temperature[first:]), one.charge.elements
    newton = 1 if cycle.lean else 3
    state, t = flame(elements, p[0], fresh[0], turns=FLAME_TURNS, steps=newton)
    enthalpy, heat, volume = fresh[0], np.full_like(t, FIRST_HEAT), state.gas_constant * t / p[0]
    rows = [(t, volume, state.parts[WANTED])]
    for at in range(1, len(p)):
        burning = burned[at - 1] >= share * burned[-1]
        cooled = (lost[at] - lost[at - 1]) / np.maximum(burned[at], 1e-3)
        after = np.where(burning, enthalpy + volume * (p[at] - p[at - 1]) - cooled * burning, fresh[at])
        last_t, last_h = t, state.enthalpy
        t = np.minimum(np.maximum(t + (after - last_h) / heat, COLDEST), HOTTEST)
        state = follow(elements, t, p[at], state, steps=newton)
        moved = t - last_t
        fast = np.abs(moved) > LEAST_MOVE
        seen = (state.enthalpy - last_h) / np.where(fast, moved, 1.0)
        heat = np.where(fast, np.minimum(np.maximum(seen, HEATS[0]), HEATS[1]), heat)
        enthalpy, volume = after, state.gas_constant * t / p[at]
        rows.append((t, volume, state.parts[WANTED]))
    temperature, volumes, parts = zip(*rows, strict=True)
    return np.stack(temperature), np.stack(volumes), np.stack(parts, axis=1)
