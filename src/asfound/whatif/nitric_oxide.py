"""Nitric oxide by the extended Zeldovich mechanism, along a cycle that is already worked out.

    O + N2 = NO + N   (1)      N + O2 = NO + O   (2)      N + OH = NO + H   (3)

O, N2, O2 and OH are taken in equilibrium, N in a steady state. The first, slow reaction is counted from its reverse,
which hardly depends on temperature, and the equilibrium constant: by the forward rate of the older set it would be 4 %
faster. Two published sets differ by a factor of two in it: which one was used belongs to every number.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from asfound.quantities.typing import Array
from asfound.whatif.gases import STANDARD_PRESSURE, R, look_up, tables
from asfound.whatif.layers import Layers

Rates = Literal["bowman_1975", "hanson_salimian_1984"]
MOLAR_MASS = 30.006e-3
"""Of NO. [kg/mol]"""
COLDEST = 1200.0
"""Below it nothing forms. [K]"""
AT_ONCE = 16_384
"""Numbers of an array that are worked out at once."""


@dataclass(frozen=True, slots=True)
class Rate:
    """k = a T^b exp(-e/T). [m³/(mol s)]"""

    a: float
    b: float
    e: float

    def at(self, temperature: Array) -> Array:
        """Return the rate constant. [m³/(mol s)]"""
        if not self.e and not self.b:
            return np.full_like(temperature, self.a)
        power = temperature**self.b if self.b else 1.0
        k: Array = self.a * power * np.exp(-self.e / temperature)
        return k


@dataclass(frozen=True, slots=True)
class RateSet:
    """Reverse rate of the first reaction, forward rates of the others, with where they are from."""

    one_back: Rate
    two: Rate
    three: Rate
    source: str


SETS: dict[Rates, RateSet] = {
    "bowman_1975": RateSet(Rate(1.6e7, 0, 0), Rate(6.4e3, 1, 3150), Rate(4.1e7, 0, 0), "heywood_1988"),
    "hanson_salimian_1984": RateSet(
        Rate(3.8e7, 0, 425), Rate(1.8e4, 1, 4680), Rate(7.1e7, 0, 450), "hanson_salimian_1984"
    ),
}


def of_layers(time: Array, layers: Layers, *, rates: Rates = "bowman_1975") -> Array:
    """Return the NO of burned gas in layers along the crank, per kilogram of charge. [mol/kg], shape (steps + 1, cases)

    Parameters
    ----------
    time : array of shape (steps, cases)
        From the step on at which the layers begin. [s]
    layers : Layers
    rates : str
        Set of rate constants.
    """
    count, number, cases = layers.temperature.shape
    temperature = np.where(layers.there, layers.temperature, np.nan).reshape(count, -1)
    volume = np.where(layers.there, layers.volume, 0.0).reshape(count, -1)
    each = np.repeat(time[:, None, :], number, axis=1).reshape(count - 1, -1)
    made, _ = along(each, temperature, volume, layers.parts.reshape(5, count, -1), rates=rates)
    total: Array = (made.reshape(count, number, cases) * layers.share).sum(axis=1)
    return total


def _at_steps(chosen: RateSet, temperature: Array, volume: Array, parts: Array) -> tuple[Array, Array, Array]:
    """Return, per kilogram, what forms where there is none yet [mol/(kg s)], R1/(R2 + R3), and what equilibrium holds.

    For a few steps of the crank: what is worked out of them fits the cache of the processor.
    """
    hot = np.nan_to_num(temperature, nan=COLDEST)
    hot = np.maximum(hot, COLDEST)
    density = STANDARD_PRESSURE / (R * hot)
    oxygen_atom, nitrogen, oxygen, hydroxyl, no = parts * density  # mol/m³
    no = np.maximum(no, 1e-12)
    atom = np.exp(look_up(tables().to_nitrogen, hot.ravel())[0]).reshape(hot.shape) * oxygen_atom * nitrogen / no
    r1 = chosen.one_back.at(hot) * atom * no
    others = (chosen.two.at(hot) * oxygen + chosen.three.at(hot) * hydroxyl) * atom
    return np.where(temperature > COLDEST, 2.0 * r1 * volume, 0.0), r1 / np.maximum(others, 1e-30), no * volume


def along(
    time: Array, temperature: Array, volume: Array, parts: Array, *, rates: Rates = "bowman_1975"
) -> tuple[Array, Array]:
    """Return the NO in the burned gas along the crank, and what equilibrium would hold.

    Parameters
    ----------
    time : array of shape (steps, cases)
        Length of each step. [s]
    temperature, volume : array of shape (steps + 1, cases)
        Of the burned gas, nan and 0 before anything burned. [K], [m³/kg]
    parts : array of shape (5, steps + 1, cases)
        O, N2, O2, OH, NO in equilibrium, partial pressures over 1 bar.
    rates : str
        Set of rate constants.

    Returns
    -------
    tuple of array
        Formed, and in equilibrium, per kilogram of the whole charge, shape (steps + 1, cases). [mol/kg]
    """
    forming, ratio, full = (np.empty_like(temperature) for _ in range(3))
    rows = max(1, AT_ONCE // temperature.shape[1])
    for first in range(0, len(temperature), rows):
        some = slice(first, first + rows)
        forming[some], ratio[some], full[some] = _at_steps(SETS[rates], temperature[some], volume[some], parts[:, some])
    made = np.zeros_like(full)
    now = made[0]
    for at, step in enumerate(time):
        source = 0.5 * (forming[at] + forming[at + 1])
        k = ratio[at + 1]
        held = np.maximum(0.5 * (full[at] + full[at + 1]), 1e-30)
        alpha = now / held
        down = 1.0 + alpha * k
        rate = source * (1.0 - alpha * alpha) / down
        bend = source * (2.0 * alpha * down + k * (1.0 - alpha * alpha)) / (down * down * held)  # -d rate / d now
        stiff = step * bend
        # half implicit where it is slow (second order), wholly so where equilibrium is held within the step
        now = np.maximum(now + step * rate / (1.0 + stiff * (0.5 + 0.5 * stiff / (1.0 + stiff))), 0.0)
        made[at + 1] = now
    return made, full
