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
WANTED = [7, 2, 3, 6, 9]
"""Rows of `gases.BURNT` that nitric oxide is made with: O, N2, O2, OH, NO."""


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
        """Return rows of all cases as rows of all layers of all cases."""
        return np.repeat(one[:, None, :], layers, axis=1).reshape(len(one), -1)

    p, fresh = flat(pressure), flat(charge.fresh.enthalpy(tu))
    rise, cooled = np.diff(p, axis=0), flat(np.diff(lost, axis=0) / np.maximum(burned[1:], 1e-3))
    there = burned[:, None, :] >= wanted
    hot = there.reshape(count, -1)
    newton = 1 if lean else 3
    state, t = flame(elements, p[0], fresh[0], turns=FLAME_TURNS, steps=newton)
    enthalpy, heat = fresh[0], np.full(layers * cases, 1700.0)
    out_t, out_v = np.empty((count, layers * cases)), np.empty((count, layers * cases))
    parts = np.empty((5, count, layers * cases))
    volume = state.gas_constant * t / p[0]
    for at in range(count):
        if at:
            burning = hot[at - 1]
            after = np.where(burning, enthalpy + volume * rise[at - 1] - cooled[at - 1] * burning, fresh[at])
            last_t, last_h = t, state.enthalpy
            t = np.minimum(np.maximum(t + (after - state.enthalpy) / heat, COLDEST), HOTTEST)
            state = follow(elements, t, p[at], state, steps=newton)
            moved = t - last_t
            fast = np.abs(moved) > LEAST_MOVE
            seen = (state.enthalpy - last_h) / np.where(fast, moved, 1.0)
            heat = np.where(fast, np.minimum(np.maximum(seen, HEATS[0]), HEATS[1]), heat)
            enthalpy = after
            volume = state.gas_constant * t / p[at]
        out_t[at], out_v[at], parts[:, at] = t, volume, state.parts[WANTED]
    deep = (count, *shape)
    share = np.broadcast_to(burned[-1] / layers, shape)
    return Layers(first, out_t.reshape(deep), out_v.reshape(deep), parts.reshape(5, *deep), there, share)
