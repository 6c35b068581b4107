"""Burned gas in layers by when it burned: the first to burn is compressed on and is the hottest.

One burned zone that is always mixed understates NO, for most NO forms where it is hottest. Here the pressure of the
mixed model is kept, and each layer goes along it for itself: it begins with the enthalpy of the fresh charge of its
moment and then changes by v dp and its share of the heat to the walls. Layers do not mix.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array
from asfound.whatif.charge import Charge
from asfound.whatif.cycle import HEATS, LEAST_MOVE, Cycle
from asfound.whatif.equilibrium import COLDEST, HOTTEST, flame, follow

LAYERS = 5
FLAME_TURNS = 10


@dataclass(frozen=True, slots=True)
class Layers:
    """Layers of burned gas along the crank, from the start of burning on; shape (steps + 1, layers, cases)."""

    first: int
    """Step of the cycle at which they begin."""
    temperature: Array
    """[K]"""
    volume: Array
    """Of a kilogram of the layer. [m³/kg]"""
    parts: Array
    """O, N2, O2, OH, NO over 1 bar, shape (5, steps + 1, layers, cases)."""
    there: Array
    """Whether it has burned, shape (steps + 1, layers, cases)."""
    share: Array
    """Of the charge that is in each layer at the end, shape (layers, cases)."""


def in_layers(cycle: Cycle, charge: Charge, *, layers: int = LAYERS) -> Layers:
    """Return the layers of a cycle.

    Parameters
    ----------
    cycle : Cycle
        As `cycle.closed_cycle` gives it.
    charge : Charge
        What it was worked out with.
    layers : int
        Of equal mass.
    """
    trace, first, lean = cycle.trace, cycle.first, cycle.lean
    pressure, tu = trace.pressure[first:], trace.fresh_temperature[first:]
    burned, lost = trace.burned[first:], trace.heat[first:]
    count, cases = pressure.shape
    shape = (layers, cases)
    wanted = (np.arange(layers)[:, None] + 0.5) / layers * burned[-1]
    elements = np.repeat(charge.elements[:, None, :], layers, axis=1).reshape(6, -1)

    def flat(one: Array) -> Array:
        return np.broadcast_to(one, shape).reshape(-1)

    fresh = [charge.fresh.enthalpy(one) for one in tu]
    state, t = flame(elements, flat(pressure[0]), flat(fresh[0]), turns=FLAME_TURNS, steps=1 if lean else 3)
    enthalpy, heat = flat(fresh[0]).copy(), np.full(layers * cases, 1700.0)
    out_t, out_v = np.empty((count, layers, cases)), np.empty((count, layers, cases))
    parts, there = np.empty((5, count, layers, cases)), np.empty((count, layers, cases), dtype=bool)
    hot = flat(burned[0] >= wanted)
    volume = state.gas_constant * t / flat(pressure[0])
    for at in range(count):
        if at:
            p = flat(pressure[at])
            x = np.maximum(burned[at], 1e-3)
            cooled = flat((lost[at] - lost[at - 1]) / x) * hot
            after = np.where(hot, enthalpy + volume * (p - flat(pressure[at - 1])) - cooled, flat(fresh[at]))
            last_t, last_h = t, state.enthalpy
            t = np.minimum(np.maximum(t + (after - state.enthalpy) / heat, COLDEST), HOTTEST)
            state = follow(elements, t, p, state, steps=1 if lean else 3)
            moved = t - last_t
            fast = np.abs(moved) > LEAST_MOVE
            seen = (state.enthalpy - last_h) / np.where(fast, moved, 1.0)
            heat = np.where(fast, np.minimum(np.maximum(seen, HEATS[0]), HEATS[1]), heat)
            enthalpy = after
            volume = state.gas_constant * t / p
            hot = flat(burned[at] >= wanted)
        out_t[at], out_v[at] = t.reshape(shape), volume.reshape(shape)
        parts[:, at] = state.parts[[7, 2, 3, 6, 9]].reshape(5, *shape)
        there[at] = hot.reshape(shape)
    return Layers(first, out_t, out_v, parts, there, np.broadcast_to(burned[-1] / layers, shape))
