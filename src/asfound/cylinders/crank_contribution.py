"""Which cylinder gives less torque than the others, from the orders of the crank's speed, by least squares.

One cylinder's combustion makes a torque with known shape; each order of it is turned by the cylinder's place in the
firing sequence. With d_i how far cylinder i is off the mean of all:

    T_k = (mean torque of a cylinder) c_k sum_i d_i exp(-i k phi_i / 2)        k / 2 = 1/2, 3/2, 5/2 ...

The d_i are found by weighted least squares beside a wide prior, each order weighed by its scatter from cycle to cycle
and by the doubt of the shape c_k. What the orders cannot tell keeps the width of the prior, and is said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from asfound.cylinders.crank_shape import Cycle, combustion_shape
from asfound.cylinders.crank_speed import Complex, Crank, Numbers, half_orders, phases, torque_orders
from asfound.errors import InputError
from asfound.quantities.typing import Array
from asfound.quantities.words import Reading, State

PRIOR = 0.5
"""How far a cylinder may be off before anything is known, of the mean torque: wide (own setting). [-]"""
SHAPE = 0.15
"""Doubt of the shape of one cylinder's torque, order by order, of its size (engineering judgement). [-]"""
WHEEL = 0.02
"""Doubt of whole orders by what is left of the wheel's errors, of a cylinder's mean torque (own setting). [-]"""
UNEVEN = 0.5
"""Doubt of what an engine that fires unevenly makes with all cylinders alike, of its size (own setting). [-]"""
FEWEST_CYCLES = 20
"""With fewer the scatter from cycle to cycle is not known."""
HIGHEST = 6.0
"""Highest order used where the crank's torsional frequency is not known (own setting)."""
BELOW_TORSION = 0.4
"""Orders are used up to this part of the first torsional natural frequency: below it a crank is stiff within 20 %."""
DEAD = -1.0
"""A cylinder that gives nothing. [-]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contributions:
    """What the crank's speed says of each cylinder."""

    names: tuple[str, ...]
    deviation: Array
    """Torque against the mean of all: -1 is a cylinder that gives nothing. Shape (z,). [-]"""
    u: Array
    """Standard uncertainty; near the prior's 0.5 where the orders cannot tell. Shape (z,). [-]"""
    covariance: Array
    weak: dict[str, float]
    """Probability that this one is weak, if exactly one or none is; ``none`` among them."""
    weak_by: dict[str, tuple[float, float]]
    """If this one alone is off: by how much, and its standard uncertainty. [-]"""
    pairs: tuple[tuple[str, str, float, float], ...]
    """Companion cylinders: first less second, and its standard uncertainty: the orders know this much better. [-]"""
    orders: tuple[float, ...]
    """Orders used."""
    content: Array
    """Size of the torque at them. [N m]"""
    content_u: Array
    """Its standard uncertainty from cycle to cycle. [N m]"""
    chi_squared: float
    degrees: int
    cannot_tell: tuple[str, ...]
    """What this trace cannot tell, in words."""

    def readings(self, state: State, time: str, said_by: str = "crank speed") -> tuple[Reading, ...]:
        """Return each deviation as a reading of its cylinder, to be a witness; the wide doubt of companions with it."""
        return tuple(
            Reading(
                quantity="cylinder_torque_deviation",
                place=f"cylinder_{name}",
                state=state,
                time=time,
                value=float(value),
                unit="1",
                as_typed=f"{100 * value:.0f} %",
                standard_uncertainty=float(u),
                origin="measured",
                said_by=said_by,
            )
            for name, value, u in zip(self.names, self.deviation, self.u, strict=True)
        )

    @property
    def suspect(self) -> str:
        """The most probable: a cylinder, or ``none``."""
        return max(self.weak, key=lambda name: self.weak[name])


def contributions(
    crank: Crank,
    speed: Array,
    mean_torque: float,
    *,
    first_angle: float = 0.0,
    averaged: bool = True,
    cycle: Cycle | None = None,
    torsional_frequency: float | None = None,
    whole_orders: bool = False,
) -> Contributions:
    """Return what the crank's speed says of each cylinder.

    Parameters
    ----------
    crank : Crank
    speed : array, shape (cycles, n)
        Mean speed over each tooth; n = 2 x teeth. At steady load. [rad/s]
    mean_torque : float
        Indicated torque of the engine: brake torque with friction, from the load. [N m]
    first_angle : float
        Crank angle at which the first tooth begins. [rad]
    averaged : bool
        False: values at points, not means over teeth.
    cycle : Cycle, optional
        For the shape of the torque.
    torsional_frequency : float, optional
        First natural frequency of crank and coupling. [Hz]
    whole_orders : bool
        Use whole orders as well: only where the wheel's errors were taken out and the load does not pulse. They tell
        companion cylinders apart.

    Raises
    ------
    InputError
        Too few cycles or teeth, or no torque.
    """
    if speed.ndim != 2 or speed.shape[0] < FEWEST_CYCLES:
        raise InputError("speed", f"{speed.shape}", "has too few cycles", allowed=f"{FEWEST_CYCLES} cycles or more")
    if not mean_torque > 0.0:
        raise InputError("mean_torque", f"{mean_torque:g}", "is no torque", allowed="above 0 N m")
    z = crank.cylinders
    kept = speed[np.isfinite(speed).all(axis=1)]
    if len(kept) < FEWEST_CYCLES:
        raise InputError("speed", f"{len(kept)} whole cycles", "are too few", allowed=f"{FEWEST_CYCLES} or more")
    k, highest = _orders(crank, kept, torsional_frequency, whole_orders)
    each = torque_orders(crank, kept, first_angle, averaged)[:, k]
    mean = each.mean(axis=0)
    scatter = np.sqrt((np.abs(each - mean) ** 2).sum(axis=0) / (2 * (len(kept) - 1)) / len(kept))
    shape = combustion_shape(crank, int(k.max()), cycle)[k]
    turned = phases(crank, k)
    design = (mean_torque / z) * shape[:, None] * turned
    alike = design.sum(axis=1)  # what cylinders that are all alike make: nothing where the engine fires evenly
    data = mean - alike
    wheel = np.where(k % 2 == 0, WHEEL * mean_torque / z, 1e-9 * mean_torque)
    doubt = np.sqrt(scatter**2 + (SHAPE * np.abs(data)) ** 2 + (UNEVEN * np.abs(alike)) ** 2 + wheel**2)
    found, covariance, left = _solved(design, data, doubt)
    covariance = covariance + crank.inertia_doubt**2 * np.outer(found, found)  # one scale for all
    chances, by = _one_weak(design, data, doubt, crank.names)
    by = {name: (size, math.hypot(u, crank.inertia_doubt * size)) for name, (size, u) in by.items()}
    pairs = tuple(
        (
            crank.names[i],
            crank.names[j],
            float(found[i] - found[j]),
            math.sqrt(covariance[i, i] + covariance[j, j] - 2 * covariance[i, j]),
        )
        for i, j in crank.companions
    )
    return Contributions(
        names=crank.names,
        deviation=found,
        u=np.sqrt(np.diag(covariance)),
        covariance=covariance,
        weak=chances,
        weak_by=by,
        pairs=pairs,
        orders=tuple((k / 2).tolist()),
        content=np.abs(mean),
        content_u=scatter,
        chi_squared=left,
        degrees=2 * len(k),
        cannot_tell=_cannot(crank, speed.shape[1], highest, torsional_frequency, whole_orders, len(k)),
    )


def _orders(crank: Crank, speed: Array, torsional_frequency: float | None, whole_orders: bool) -> tuple[Numbers, float]:
    """Return the numbers of the orders that are used, and the highest order allowed."""
    n = speed.shape[1]
    highest = HIGHEST
    if torsional_frequency is not None:
        highest = BELOW_TORSION * torsional_frequency / (float(speed.mean()) / (2 * math.pi))
    highest = min(highest, n / 2 / 2.5 / 2)
    k = half_orders(n // 2, highest)
    k = k[k % crank.cylinders != 0]  # with an odd number of cylinders the firing order is no whole number either
    if whole_orders:
        whole = np.arange(2, 2 * int(highest) + 1, 2)
        k = np.sort(np.concatenate([k, whole[whole % crank.cylinders != 0]]))
    if not len(k):
        raise InputError("speed", f"{n} values a cycle", "are too few for any order", allowed="12 or more")
    return k, highest


def _solved(design: Complex, data: Complex, doubt: Array) -> tuple[Array, Array, float]:
    """Return the deviations, their covariance, and chi squared: least squares beside the prior, their sum 0."""
    a = np.concatenate([design.real, design.imag]) / np.concatenate([doubt, doubt])[:, None]
    y = np.concatenate([data.real, data.imag]) / np.concatenate([doubt, doubt])
    z = a.shape[1]
    against = np.eye(z) - 1.0 / z
    prior = PRIOR**2 * against
    gain = prior @ a.T @ np.linalg.inv(a @ prior @ a.T + np.eye(len(y)))
    found = gain @ y
    covariance = prior - gain @ a @ prior
    left = y - a @ found
    return found, covariance, float(left @ left)


def _one_weak(
    design: Complex, data: Complex, doubt: Array, names: tuple[str, ...]
) -> tuple[dict[str, float], dict[str, tuple[float, float]]]:
    """Return the probability of each cylinder to be the only weak one, ``none`` among them, and by how much.

    Half the prior is on none, the rest even over the cylinders; how weak: even from 0 to nothing at all.
    """
    weights = 1.0 / doubt**2
    losses = np.linspace(DEAD, 0.0, 101)
    z = design.shape[1]
    own = design - design.mean(axis=1, keepdims=True)
    misfit = np.array(
        [(weights[:, None] * np.abs(data[:, None] - own[:, i, None] * losses) ** 2).sum(axis=0) for i in range(z)]
    )
    none = float((weights * np.abs(data) ** 2).sum())
    base = min(none, float(misfit.min()))
    one = np.exp(-0.5 * (misfit - base)).mean(axis=1) * 0.5 / z
    nothing = 0.5 * math.exp(-0.5 * (none - base))
    total = float(one.sum()) + nothing
    chances = {name: float(p) / total for name, p in zip(names, one, strict=True)} | {"none": nothing / total}
    power = (weights[:, None] * np.abs(own) ** 2).sum(axis=0)
    size = (weights[:, None] * (own.conj() * data[:, None]).real).sum(axis=0) / power
    by = {name: (float(s), 1.0 / math.sqrt(p)) for name, s, p in zip(names, size, power, strict=True)}
    return chances, by


def _cannot(
    crank: Crank, n: int, highest: float, torsional_frequency: float | None, whole_orders: bool, used: int
) -> tuple[str, ...]:
    """Return what the trace cannot tell, in words."""
    said = []
    if crank.companions and not whole_orders:
        pairs = ", ".join(f"{crank.names[i]} and {crank.names[j]}" for i, j in crank.companions)
        said.append(
            f"Companion cylinders fire a revolution apart ({pairs}): one that is weak looks like the other that is "
            "strong. That one is weak is taken as likelier; whole orders, with the wheel's errors learned, tell."
        )
    free = crank.cylinders - 1 if not crank.companions else len(crank.companions)
    if 2 * used < free:
        said.append(f"{n // 2} teeth a revolution give {used} orders: too few for {crank.cylinders} cylinders.")
    if torsional_frequency is None:
        said.append(
            f"The torsional frequency of the crank is not known: orders up to {highest:g} are taken as if it were "
            "stiff. Near a resonance size and place are both wrong."
        )
    if whole_orders:
        said.append("Whole orders hold what is left of the wheel's errors, and the pulsing of the load.")
    said.append("What all cylinders share is not in the ripple: the deviations are against their mean.")
    return tuple(said)
