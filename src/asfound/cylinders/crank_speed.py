"""Crank speed, tooth by tooth: from tooth times to the torque that turns the crank, order by order.

The crank is taken as rigid. Its kinetic energy holds the reciprocating masses as well, so nothing of their inertia
torque is left in the gas torque:

    E(theta) = (J + m sum_i s_i(theta)^2) omega^2 / 2        s = dx / d theta
    dE / d theta = gas torque - load torque

In orders of the crank (k / 2 of a four-stroke cycle) the derivative is i k / 2. Orders that are no whole number repeat
only every second revolution: neither a wheel cut unevenly, nor a compressor or generator on the shaft, nor
unbalance makes them. Only cylinders that differ do. That is why they are used for misfire.

Sources: harmonics of engine torque, Porter 1943 (abstract seen); inertia torque by its series, Den Hartog (from
memory), recomputed here from the exact motion; orders below the firing order as a sign of misfire, US patent
application 2011/0265560 (seen) and Stotsky 2009 (seen in part).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.quantities.typing import Array

Complex = npt.NDArray[np.complex128]
Numbers = npt.NDArray[np.intp]
CYCLE = 4 * math.pi
"""Of a four-stroke engine. [rad]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Motion:
    """Crank radius, its ratio to the rod, bore and reciprocating mass of one cylinder. SI."""

    radius: float
    """Half the stroke. [m]"""
    rod_ratio: float
    """Crank radius over length of the rod. [-]"""
    bore: float
    """[m]"""
    reciprocating_mass: float
    """Piston, pin and the rod's upper part, of one cylinder. [kg]"""

    def __post_init__(self) -> None:
        """Refuse a crank that cannot turn."""
        if not 0.0 < self.rod_ratio < 1.0:
            raise InputError("rod_ratio", f"{self.rod_ratio:g}", "is no crank that turns", allowed="0.15 to 0.4")


@dataclass(frozen=True, kw_only=True)
class Crank:
    """An engine as its crank feels it.

    Parameters
    ----------
    motion : Motion
    firing_angles : sequence of float
        Crank angle of each cylinder's firing dead centre in the cycle, from the reference of the speed trace. [rad]
    names : sequence of str
        Of the cylinders, in the same order.
    inertia : float
        Of all that turns with the crank at the speeds of interest: flywheel, and what is coupled stiffly. [kg m2]
    inertia_doubt : float
        Its relative standard uncertainty: all deviations scale with it. Default 0.1 (engineering judgement). [-]
    """

    motion: Motion
    firing_angles: tuple[float, ...]
    names: tuple[str, ...]
    inertia: float
    inertia_doubt: float = 0.1

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if len(self.names) != len(self.firing_angles) or len(set(self.names)) != len(self.names):
            raise InputError("names", ", ".join(self.names), "do not fit the firing angles", allowed="one each")
        if not self.inertia > 0.0:
            raise InputError("inertia", f"{self.inertia:g}", "is no inertia", allowed="above 0 kg m2")

    @property
    def cylinders(self) -> int:
        """How many."""
        return len(self.names)

    @cached_property
    def companions(self) -> tuple[tuple[int, int], ...]:
        """Pairs of cylinders a revolution apart: the orders that are no whole number tell only their difference."""
        pairs = []
        for i, one in enumerate(self.firing_angles):
            for j in range(i + 1, self.cylinders):
                apart = (self.firing_angles[j] - one) % CYCLE
                if abs(apart - CYCLE / 2) < math.radians(1.0):
                    pairs.append((i, j))
        return tuple(pairs)


def piston_speed_function(theta: Array, rod_ratio: float) -> Array:
    """Return dx/d theta over the crank radius, exact: sin + lambda sin cos / sqrt(1 - lambda^2 sin^2). [-]"""
    sine, cosine = np.sin(theta), np.cos(theta)
    answer: Array = sine + rod_ratio * sine * cosine / np.sqrt(1.0 - (rod_ratio * sine) ** 2)
    return answer


def inertia_torque(theta: Array, motion: Motion, speed: float) -> Array:
    """Return the torque that one cylinder's reciprocating mass puts on the crank at constant speed, by its series.

        T = m r^2 omega^2 (lambda/4 sin - 1/2 sin 2 - 3 lambda/4 sin 3 - lambda^2/4 sin 4)

    theta from top dead centre [rad]; speed [rad/s]; N m. Den Hartog, Mechanical Vibrations (from memory); the exact
    one is -m omega^2 s ds/d theta, which the series meets within 2.5 % of its amplitude for rod ratios up to 0.3.
    """
    ratio, size = motion.rod_ratio, motion.reciprocating_mass * motion.radius**2 * speed**2
    answer: Array = size * (
        ratio / 4 * np.sin(theta)
        - 0.5 * np.sin(2 * theta)
        - 0.75 * ratio * np.sin(3 * theta)
        - ratio**2 / 4 * np.sin(4 * theta)
    )
    return answer


def speed_from_teeth(times: Array, teeth: int, errors: Array | None = None) -> Array:
    """Return the mean speed over each tooth, cycle by cycle, from the times at which teeth pass.

    Parameters
    ----------
    times : array, shape (..., cycles * 2 * teeth + 1)
        When each tooth passed, beginning at the reference of the cycle. [s]
    teeth : int
        Of one revolution, evenly spaced. A wheel with missing teeth is to be filled first (`fill_missing`).
    errors : array, shape (teeth,), optional
        Relative error of each tooth's pitch, learned before (`tooth_errors`), to be taken out.

    Returns
    -------
    array, shape (..., cycles, 2 * teeth)
        [rad/s]; what is left over after whole cycles is dropped; nan where times do not rise.
    """
    taken = np.diff(np.asarray(times, dtype=float), axis=-1)
    cycles = taken.shape[-1] // (2 * teeth)
    if cycles < 1:
        raise InputError(
            "times", f"{taken.shape[-1]} teeth", "are less than one cycle", allowed=f"{2 * teeth + 1} times or more"
        )
    taken = np.where(taken > 0.0, taken, np.nan)[..., : cycles * 2 * teeth]
    speed = (2 * math.pi / teeth / taken).reshape(*taken.shape[:-1], cycles, 2 * teeth)
    return speed if errors is None else speed * np.tile(1.0 + errors, 2)


def fill_missing(times: Array, teeth: int, missing: int) -> Array:
    """Return the times of all teeth of a wheel with a gap, those of the gap set evenly into it.

    The record begins with the first tooth after the gap. What happened within the gap is lost: it makes small whole
    orders, as an uneven tooth does.

    Parameters
    ----------
    times : array, shape (n,)
        Of the teeth that are there. [s]
    teeth, missing : int
        Of a full revolution with those left out, and those left out.
    """
    there = teeth - missing
    whole = (times.size - 1) // there
    found = []
    for one in range(whole):
        part = times[one * there : (one + 1) * there + 1]
        gap = np.linspace(part[-2], part[-1], missing + 2)
        found.append(np.concatenate([part[:-1], gap[1:-1]]))
    return np.concatenate([*found, times[whole * there : whole * there + 1]])


def tooth_errors(times: Array, teeth: int) -> Array:
    """Return the error of each tooth's pitch, relative, learned from a coasting engine (gas off, no load).

    Mean over revolutions of each tooth's time against the mean of the revolution about it. What the piston masses and
    compression do at coasting is in it as well: learn at low speed, and use it only for orders that are whole numbers.

    Parameters
    ----------
    times : array, shape (n,)
        [s]

    Returns
    -------
    array, shape (teeth,)
        Sum 0.
    """
    taken = np.diff(times)
    around = np.convolve(taken, np.ones(teeth) / teeth, mode="same")
    ratio = (taken / around)[teeth // 2 : taken.size - teeth // 2]
    at = np.arange(teeth // 2, taken.size - teeth // 2) % teeth
    learned = np.bincount(at, weights=ratio, minlength=teeth) / np.bincount(at, minlength=teeth)
    answer: Array = learned - learned.mean()
    return answer


def order_content(values: Array, first_angle: float = 0.0, averaged: bool = False) -> Complex:
    """Return the complex amplitudes of a quantity by half orders: value = Re sum of c_k exp(i k theta / 2).

    Parameters
    ----------
    values : array, shape (..., n)
        Evenly over one cycle of 4 pi.
    first_angle : float
        Crank angle of the first value. [rad]
    averaged : bool
        Each value is the mean over its step (a tooth), not that of a point: what averaging took off is given back.

    Returns
    -------
    complex array, shape (..., n // 2 + 1)
        Element k belongs to order k / 2; element 0 is the mean. Unit of the values.
    """
    n = values.shape[-1]
    found = np.fft.rfft(values, axis=-1) / n
    found[..., 1 : (n + 1) // 2] *= 2.0
    k = np.arange(found.shape[-1])
    shift = np.exp(-0.5j * k * first_angle)
    if averaged:
        shift = shift / np.sinc(k / n)
    answer: Complex = found * shift
    return answer


def crank_inertia(crank: Crank, theta: Array) -> Array:
    """Return inertia of crank and reciprocating masses at crank angles. Same shape as theta; kg m2."""
    motion = crank.motion
    total = np.full(np.shape(theta), crank.inertia)
    for angle in crank.firing_angles:
        s = motion.radius * piston_speed_function(np.asarray(theta) - angle, motion.rod_ratio)
        total = total + motion.reciprocating_mass * s**2
    return total


def torque_orders(crank: Crank, speed: Array, first_angle: float = 0.0, averaged: bool = True) -> Complex:
    """Return gas torque less load torque by half orders, from the crank's speed.

    Parameters
    ----------
    crank : Crank
    speed : array, shape (..., n)
        Evenly over the cycle; the mean over each tooth where ``averaged``. [rad/s]
    first_angle : float
        Crank angle at which the first tooth begins. [rad]

    Returns
    -------
    complex array, shape (..., n // 2 + 1)
        N m; element 0 is 0: the mean is not in the ripple.
    """
    n = speed.shape[-1]
    step = CYCLE / n
    middle = first_angle + (0.5 * step if averaged else 0.0)
    theta = middle + step * np.arange(n)
    energy = order_content(0.5 * crank_inertia(crank, theta) * speed**2, middle, averaged)
    answer: Complex = energy * (0.5j * np.arange(energy.shape[-1]))
    return answer


def half_orders(count: int, highest: float) -> Numbers:
    """Return the numbers k of orders that are no whole number (1/2, 3/2 ...), up to the highest order, of so many."""
    k = np.arange(1, count, 2)
    return k[k / 2 <= highest]


def phases(crank: Crank, k: Sequence[int] | Numbers) -> Complex:
    """Return exp(-i k phi / 2) of each order and cylinder. Shape (orders, cylinders)."""
    answer: Complex = np.exp(-0.5j * np.outer(np.asarray(k), np.asarray(crank.firing_angles)))
    return answer
