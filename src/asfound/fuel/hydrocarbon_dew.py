"""Hydrocarbon dew point: at which temperature the gas in the line begins to drop liquid, as a range.

Which equation of state is taken matters 1 to 3 K. What the laboratory lumps as C6+ matters most: 0.066 % of it taken
as heptane, octane or decane instead of hexane moves the dew point of one gas by 20, 40 or 76 K at 27 bar. So a gas
whose heavier part was not split by analysis has a range, never one number; the range here ends with all of it as
n-hexane and all of it as a heavier fluid that the caller names. A trace of something heavier still lies above even
that.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.errors import UnknownNameError
from asfound.fuel.arranged import arranged
from asfound.quantities.typing import Array, Values
from asfound.sources.tables import load_csv

GAS_CONSTANT = 8.314462618
EQUATION = 3.0  # K: how far equations of state differ for one composition; own comparison of three
LOWEST_PRESSURE, HIGHEST_PRESSURE = 1e4, 15e6  # Pa
PURE = 0.9999  # a gas purer than this boils with one composition in both phases
_STEPS = 400
_TINY = 1e-7  # mole fractions below are nothing: they would be the whole liquid, and no laboratory reports them


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DewRange:
    """Hydrocarbon dew point of gases at a pressure, K; nan where there is none (above the cricondenbar)."""

    low: Array
    """All of C6+ as n-hexane, less what equations of state differ."""
    as_analysed: Array
    """The gas as its analysis names it, C6+ as n-hexane; one number only where nothing was lumped."""
    high: Array
    """All of C6+ as the heavier fluid, plus what equations of state differ."""
    lumped: bool
    """Whether some of the gas was known as C6+ only: then ``low`` to ``high`` is the answer, and no number in it."""


@cache
def components() -> tuple[str, ...]:
    """Return the components in the order of the last axis of every composition here; water is left out."""
    return tuple(row["component"] for row in load_csv("asfound.fuel", "data/critical_points.csv"))


def composition(parts: Mapping[str, Values]) -> Array:
    """Return mole fractions in the order of `components` from fractions by name; what is not named is zero."""
    return arranged(parts, components(), "the hydrocarbon dew point")


def dew_point_range(
    fractions: Array, pressure: Values, *, heavier: Values = 0.0, heaviest: str = "n_octane"
) -> DewRange:
    """Return between which temperatures the hydrocarbon dew point lies.

    Parameters
    ----------
    fractions : array [..., 20]
        Mole fractions in the order of `components`, without what is known as C6+ only. [mol/mol]
    pressure : float or array
        Absolute, 10 kPa to 15 MPa. [Pa]
    heavier : float or array
        What is known as C6+ only. [mol/mol]
    heaviest : str
        The fluid that all of C6+ is taken as at the upper end.
    """
    if heaviest not in components():
        raise UnknownNameError("component of the hydrocarbon dew point", heaviest, components())
    x, more = np.asarray(fractions, dtype=float), np.asarray(heavier, dtype=float)
    light = dew_point(_with(x, more, "n_hexane"), pressure)
    heavy = dew_point(_with(x, more, heaviest), pressure) if np.any(more > 0) else light
    return DewRange(low=light - EQUATION, as_analysed=light, high=heavy + EQUATION, lumped=bool(np.any(more > 0)))


def dew_point(fractions: Array, pressure: Values) -> Array:
    """Return the upper dew point of a gas whose components are all known, within about 3 K.

    Parameters as in `dew_point_range`. The Peng-Robinson equation without interaction between components; the branch
    that a cooling gas meets first, followed from low pressure upwards. Nan where there is none: nothing that condenses,
    or a pressure above the cricondenbar.

    References
    ----------
    .. [1] D.-Y. Peng, D. B. Robinson, Ind. Eng. Chem. Fundam. 15 (1976) 59-64; constants of the pure fluids as in an
       open library.
    """
    x, p = np.asarray(fractions, dtype=float), np.asarray(pressure, dtype=float)
    shape = np.broadcast_shapes(x.shape[:-1], p.shape)
    flat = np.broadcast_to(x, (*shape, x.shape[-1])).reshape(-1, x.shape[-1])
    goal = np.broadcast_to(p, shape).ravel()
    answer = np.full(goal.size, np.nan)
    with np.errstate(all="ignore"):
        flat = np.where(flat > _TINY, flat, 0.0)
        good = np.isfinite(flat).all(axis=1) & (flat.sum(axis=1) > 0)
        good &= (goal >= LOWEST_PRESSURE) & (goal <= HIGHEST_PRESSURE)
        rows = np.flatnonzero(good)
        if rows.size:
            there = np.flatnonzero((flat[rows] > 0).any(axis=0))
            gas = flat[rows][:, there]
            answer[rows] = _follow(gas / gas.sum(axis=1, keepdims=True), goal[rows], _constants()[:, there])
    return answer.reshape(shape)


def _with(x: Array, more: Array, name: str) -> Array:
    answer: Array = np.array(np.broadcast_to(x, (*np.broadcast_shapes(x.shape[:-1], more.shape), x.shape[-1])))
    answer[..., components().index(name)] += more
    return answer


@cache
def _constants() -> Array:
    """Return critical temperature, pressure and acentric factor. [3, component]"""
    rows = load_csv("asfound.fuel", "data/critical_points.csv")
    return np.array([[float(row[key]) for row in rows] for key in ("temperature", "pressure", "acentric")])


def _follow(gas: Array, goal: Array, constants: Array) -> Array:
    """Return dew temperatures at the goal, followed from low pressure in steps of the logarithm."""
    start = np.minimum(1e5, goal)
    temperature = _wilson(gas, start, constants)
    liquid = gas / _wilson_ratio(temperature, start, constants)
    liquid /= liquid.sum(axis=1, keepdims=True)
    steps = max(1, int(np.ceil(np.log(goal / start).max() / 0.25)))
    for step in range(steps + 1):
        pressure = start * (goal / start) ** (step / steps)
        temperature, liquid = _condense(gas, liquid, temperature, pressure, constants)
    return temperature


def _wilson_ratio(temperature: Array, pressure: Array, constants: Array) -> Array:
    critical, critical_pressure, acentric = constants
    ratio: Array = (
        critical_pressure / pressure[:, None] * np.exp(5.373 * (1 + acentric) * (1 - critical / temperature[:, None]))
    )
    return ratio


def _wilson(gas: Array, pressure: Array, constants: Array) -> Array:
    """Return a first dew temperature, by halving, from Wilson's ratios."""
    low: Array = np.full(len(gas), 20.0)
    high: Array = np.full(len(gas), 700.0)
    for _ in range(40):
        middle = (low + high) / 2
        wet = (gas / _wilson_ratio(middle, pressure, constants)).sum(axis=1) > 1
        low, high = np.where(wet, middle, low), np.where(wet, high, middle)
    return (low + high) / 2


def _condense(gas: Array, liquid: Array, temperature: Array, pressure: Array, constants: Array) -> tuple[Array, Array]:
    """Return the dew temperature and the first liquid, by successive substitution; nan where none is found."""
    temperature, liquid = temperature.copy(), liquid.copy()
    going = np.flatnonzero(np.isfinite(temperature))
    lost = np.ones(len(gas), dtype=bool)
    for _ in range(_STEPS):
        if not going.size:
            break
        y, x, t, p = gas[going], liquid[going], temperature[going], pressure[going]
        log_k = _log_ratio(y, x, t, p, constants)
        slope = (_log_ratio(y, x, t + 0.05, p, constants) - log_k) / 0.05
        amount = y * np.exp(-log_k)
        whole = amount.sum(axis=1)
        new = amount / whole[:, None]
        step = np.clip(np.log(whole) / (new * slope).sum(axis=1), -5.0, 5.0)
        temperature[going], liquid[going] = t + step, new
        done = (np.abs(step) < 1e-7) & (np.abs(new - x).max(axis=1) < 1e-7)
        one_phase = (np.abs(log_k).max(axis=1) < 1e-2) & (y.max(axis=1) < PURE)
        lost[going[done & ~one_phase]] = False
        going = going[~(done | one_phase | ~np.isfinite(step))]
    temperature[lost] = np.nan
    return temperature, liquid


def _log_ratio(gas: Array, liquid: Array, temperature: Array, pressure: Array, constants: Array) -> Array:
    """Return ln of the share in the gas over the share in the liquid at equilibrium. [gas, component]"""
    return _log_fugacity(liquid, temperature, pressure, constants, root=0) - _log_fugacity(
        gas, temperature, pressure, constants, root=-1
    )


def _log_fugacity(x: Array, temperature: Array, pressure: Array, constants: Array, *, root: int) -> Array:
    """Return ln of the fugacity coefficients by Peng-Robinson, from the smallest (0) or largest (-1) root."""
    critical, critical_pressure, acentric = constants
    t, p = temperature[:, None], pressure[:, None]
    curve = 0.37464 + acentric * (1.54226 - 0.26992 * acentric)
    alpha = (1 + curve * (1 - np.sqrt(t / critical))) ** 2
    a = 0.45724 * critical**2 / critical_pressure * alpha * p / t**2
    b = 0.07780 * critical / critical_pressure * p / t
    root_a = np.sqrt(a)
    mixed = (x * root_a).sum(axis=1, keepdims=True)
    mixed_a, mixed_b = mixed**2, (x * b).sum(axis=1, keepdims=True)
    z = _root(mixed_a[:, 0], mixed_b[:, 0], root)[:, None]
    part = np.log((z + (1 + np.sqrt(2)) * mixed_b) / (z + (1 - np.sqrt(2)) * mixed_b))
    answer: Array = (
        b / mixed_b * (z - 1)
        - np.log(z - mixed_b)
        - mixed_a / (2 * np.sqrt(2) * mixed_b) * (2 * root_a / mixed - b / mixed_b) * part
    )
    return answer


def _root(a: Array, b: Array, which: int) -> Array:
    """Return the smallest or largest real root above b of the cubic in the compressibility."""
    c2, c1, c0 = b - 1, a - b * (2 + 3 * b), b * (b * (1 + b) - a)
    p, q = c1 - c2**2 / 3, 2 * c2**3 / 27 - c2 * c1 / 3 + c0
    d = (q / 2) ** 2 + (p / 3) ** 3
    one = np.cbrt(-q / 2 + np.sqrt(np.maximum(d, 0))) + np.cbrt(-q / 2 - np.sqrt(np.maximum(d, 0)))
    radius = 2 * np.sqrt(np.maximum(-p / 3, 0))
    angle = np.arccos(np.clip(3 * q / (p * radius), -1, 1)) / 3
    three = radius * np.cos(angle - 2 * np.pi / 3 * np.arange(3)[:, None])
    roots = np.where(d > 0, one, three) - c2 / 3
    roots = np.where(roots > b, roots, np.nan)
    answer: Array = np.fmin.reduce(roots) if which == 0 else np.fmax.reduce(roots)
    return answer
