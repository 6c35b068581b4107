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
from asfound.whatif.equilibrium import COLDEST, HOTTEST, Burnt, flame, follow

LAYERS = 5
FLAME_TURNS = 10
FIRST_HEAT = 1700.0
"""First guess of the heat capacity of burned gas in equilibrium. [J/(kg K)]"""
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
    trace, first = cycle.trace, cycle.first
    pressure, burned, lost = trace.pressure[first:], trace.burned[first:], trace.heat[first:]
    count, cases = pressure.shape
    there = burned[:, None, :] >= (np.arange(layers)[:, None] + 0.5) / layers * burned[-1]
    # the last to burn stands first: until a layer burns, it is as the last one is
    hot = np.roll(there, 1, axis=1).reshape(count, -1)
    begun = there.any(axis=2).sum(axis=1)
    newton = 1 if cycle.lean else 3

    def flat(one: Array) -> Array:
        """Return rows of all cases as rows of all layers of all cases."""
        return np.repeat(one[..., None, :], layers, axis=-2).reshape(*one.shape[:-1], -1)

    elements, p, fresh = (
        flat(charge.elements),
        flat(pressure),
        flat(charge.fresh.enthalpy(trace.fresh_temperature[first:])),
    )
    rise, cooled = np.diff(p, axis=0), flat(np.diff(lost, axis=0) / np.maximum(burned[1:], 1e-3))
    out_t, out_v = np.empty((count, layers, cases)), np.empty((count, layers, cases))
    parts = np.empty((count, len(WANTED), layers, cases))
    now = _first(charge.elements, pressure[0], fresh[0, :cases], newton)
    for at in range(count):
        if at:
            now = now.widened(min(max(int(begun[at - 1]), 0), layers - 1) + 1, cases)
            some = slice(0, now.temperature.size)
            now = now.step(
                elements[:, some], p[at, some], fresh[at, some], rise[at - 1, some], cooled[at - 1, some],
                hot[at - 1, some], newton,
            )  # fmt: skip
        _put(out_t[at], now.temperature)
        _put(out_v[at], now.volume)
        _put(parts[at], now.state.parts.take(WANTED, axis=0))
    share = np.broadcast_to(burned[-1] / layers, (layers, cases))
    return Layers(first, out_t, out_v, parts.swapaxes(0, 1), there, share)


@dataclass(frozen=True, slots=True)
class _Gas:
    """Burned gas in those layers that are told apart by now: the last to burn, then the others in their order."""

    state: Burnt
    temperature: Array
    enthalpy: Array
    heat: Array
    """Capacity in equilibrium. [J/(kg K)]"""
    volume: Array

    def widened(self, blocks: int, cases: int) -> _Gas:
        """Return it with so many layers told apart: those that come to it are as the last one is."""
        have = self.temperature.size // cases
        if have >= blocks:
            return self

        def wide(one: Array) -> Array:
            return np.concatenate([one, *[one[..., :cases]] * (blocks - have)], axis=-1)

        s = self.state
        state = Burnt(wide(s.parts), wide(s.total), wide(s.enthalpy), wide(s.root_oxygen), wide(s.ratio))
        return _Gas(state, wide(self.temperature), wide(self.enthalpy), wide(self.heat), wide(self.volume))

    def step(
        self, elements: Array, p: Array, fresh: Array, rise: Array, cooled: Array, burning: Array, newton: int
    ) -> _Gas:
        """Return it one step of the crank on; what does not burn yet follows the fresh charge."""
        after = np.where(burning, self.enthalpy + self.volume * rise - cooled * burning, fresh)
        t = self.temperature + (after - self.state.enthalpy) / self.heat
        t = np.minimum(np.maximum(t, COLDEST), HOTTEST)
        state = follow(elements, t, p, self.state, steps=newton)
        moved = t - self.temperature
        fast = np.abs(moved) > LEAST_MOVE
        seen = (state.enthalpy - self.state.enthalpy) / np.where(fast, moved, 1.0)
        heat = np.where(fast, np.minimum(np.maximum(seen, HEATS[0]), HEATS[1]), self.heat)
        return _Gas(state, t, after, heat, state.gas_constant * t / p)


def _first(elements: Array, p: Array, fresh: Array, newton: int) -> _Gas:
    """Return the gas as it would burn where burning starts."""
    state, t = flame(elements, p, fresh, turns=FLAME_TURNS, steps=newton)
    return _Gas(state, t, fresh, np.full_like(t, FIRST_HEAT), state.gas_constant * t / p)


def _put(out: Array, now: Array) -> None:
    """Put layers that are told apart (last, first, second ...) into their places (..., layers, cases)."""
    cases = out.shape[-1]
    blocks = now.shape[-1] // cases
    by_layer = now.reshape(*now.shape[:-1], blocks, cases)
    out[..., : blocks - 1, :] = by_layer[..., 1:, :]
    out[..., blocks - 1 :, :] = by_layer[..., :1, :]
