"""An engine that turns: cylinder pressures from a simple cycle, a rigid crank by its energy, teeth with errors.

Made for the tests, and not by the formulas that are tested: pressures burn by a cosine with two exponents, gas exchange
is there, the speed comes from the energy on a fine grid, tooth times from the integral of 1 / speed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array

FINE = 1440
"""Points of a cycle."""


@dataclass(frozen=True, kw_only=True)
class Engine:
    """An invented engine, in line or V with even firing; about an HM9 (nine in line, 233 x 283 mm, 900 r/min)."""

    firing: tuple[float, ...]
    bore: float = 0.233
    stroke: float = 0.283
    rod_ratio: float = 0.26
    mass: float = 38.0
    inertia: float = 420.0
    compression: float = 11.2
    speed: float = 900 * 2 * math.pi / 60


def pressure(theta: Array, engine: Engine, heat: float) -> Array:
    """Return the pressure over one cycle; theta from firing dead centre, -2 pi to 2 pi; heat 1 is full. [Pa]"""
    lam, ratio = engine.rod_ratio, engine.compression
    rod = 1 / lam
    x = 1 + rod - np.cos(theta) - np.sqrt(rod**2 - np.sin(theta) ** 2)
    v = 1 / (ratio - 1) + x / 2
    top = v.min() + 1.0
    boost = 2.6e5
    squeezed = boost * (top / v) ** 1.35
    start, length = math.radians(-9), math.radians(52)
    part = np.clip((theta - start) / length, 0, 1)
    burnt = 0.5 * (1 - np.cos(np.pi * part))
    raised = 1.9 * heat * burnt * boost * (top / (1 / (ratio - 1))) ** 1.35 * (1 / (ratio - 1) / v) ** 1.28
    p = squeezed + raised
    closed = np.abs(theta) < math.pi * 0.97
    return np.where(closed, p, np.where(theta > 0, 1.35e5, 2.55e5))


def turn(
    engine: Engine,
    cycles: int,
    heat: Sequence[float],
    *,
    scatter: float = 0.03,
    load_pulse: float = 0.0,
    seed: int = 1,
) -> tuple[Array, Array, float]:
    """Return crank angles, times and the mean indicated torque of so many cycles.

    ``heat``: of each cylinder, 1 is full; ``scatter``: of each firing; ``load_pulse``: of the load once a revolution.
    """
    random = np.random.default_rng(seed)
    step = 4 * math.pi / FINE
    theta: Array = step * (np.arange(FINE) + 0.5)
    area, r, lam = math.pi / 4 * engine.bore**2, engine.stroke / 2, engine.rod_ratio
    inertia = np.full(FINE, engine.inertia)
    full, cold = [], []
    for phi in engine.firing:
        local = (theta - phi + 2 * math.pi) % (4 * math.pi) - 2 * math.pi
        s = r * (np.sin(local) + lam * np.sin(2 * local) / 2 / np.sqrt(1 - lam**2 * np.sin(local) ** 2))
        inertia = inertia + engine.mass * s**2
        without = (pressure(local, engine, 0.0) - 1e5) * area * s
        cold.append(without)
        full.append((pressure(local, engine, 1.0) - 1e5) * area * s - without)
    firing = np.clip(np.asarray(heat) * (1 + scatter * random.standard_normal((cycles, len(heat)))), 0, None)
    gas = np.einsum("cz,zn->cn", firing, np.array(full)) + np.array(cold).sum(axis=0)
    mean = float(gas.mean())
    load = mean * (1 + load_pulse * np.sin(theta + 0.7))
    speed = np.empty((cycles, FINE))
    energy = 0.5 * (inertia[0]) * engine.speed**2
    for cycle in range(cycles):
        pull = gas[cycle] - load
        path = energy + np.concatenate([[0.0], np.cumsum(pull[:-1] + pull[1:]) / 2]) * step
        speed[cycle] = np.sqrt(2 * path / inertia)
        energy = path[-1] + (pull[-1] + pull[0]) / 2 * step
        energy += 0.2 * (0.5 * inertia[0] * engine.speed**2 - energy)  # the governor
    times = np.concatenate([[0.0], np.cumsum(step / speed.ravel())])
    angles: Array = step * np.arange(cycles * FINE + 1, dtype=np.float64)
    return angles, times, mean


def teeth(angles: Array, times: Array, count: int, *, pitch: float = 0.0, noise: float = 0.0, seed: int = 2) -> Array:
    """Return the times at which teeth pass. ``pitch``: standard error of the wheel [rad]; ``noise``: of a time [s]."""
    random = np.random.default_rng(seed)
    wrong = pitch * random.standard_normal(count)
    wrong[0] = 0.0
    total = round(angles[-1] / (2 * math.pi)) * count
    at = 2 * math.pi / count * np.arange(total + 1) + wrong[np.arange(total + 1) % count]
    found: Array = np.interp(at, angles, times) + noise * random.standard_normal(total + 1)
    return found
