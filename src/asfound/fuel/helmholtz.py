"""A gas mixture by its residual Helmholtz energy: the form that both equations of state have in common.

    alpha_r = sum N(x) tau^t delta^d exp(-delta^c)            (c = 0: without the exponential)
            + sum N(x) tau^t delta^d exp(-eta (delta - epsilon)^2 - beta (delta - gamma))

An equation of state brings its table of exponents, once for each set of components, and the coefficients N of each gas.
Here the density is found and the derivatives are taken, for any number of gases at once; terms lie along the first
axis, gases along the last.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.fuel.arranged import Numbers
from asfound.quantities.typing import Array

CONVERGED = 1e-9  # step of ln(volume) after which Newton's method has its last digit
MOST_STEPS = 40


def weighted(table: Array, values: Array) -> Array:
    """Return ``table @ values`` for [n, component] and [component, gas].

    By einsum: on tables this thin, and blocks this short, the threads of a BLAS cost far more than they save.
    """
    answer: Array = np.einsum("nc,cg->ng", table, values)
    return answer


@dataclass(frozen=True, slots=True, eq=False)
class Exponents:
    """Exponents of the terms, sorted so that terms with one function of density lie together. Made by `exponents`."""

    order: Numbers
    """Position of each sorted term in the table it came from."""
    t: Array
    """Distinct exponents of tau."""
    t_of: Numbers
    """Which of them each sorted term has."""
    starts: Numbers
    """First sorted term of each function of density."""
    d: Numbers
    """Exponent of delta of each function."""
    damping: Array
    """Columns c, eta, epsilon, beta, gamma of the distinct damping factors."""
    damping_of: Numbers
    """Which of them each function has."""


def exponents(table: Array) -> Exponents:
    """Sort a table of exponents with columns t, d, c, eta, epsilon, beta, gamma, one row for each term."""
    order = np.lexsort(table.T[::-1][:-1])
    rows = table[order]
    functions, starts = np.unique(rows[:, 1:], axis=0, return_index=True)
    first = np.sort(starts)
    functions = rows[first, 1:]
    t, t_of = np.unique(rows[:, 0], return_inverse=True)
    damping, damping_of = np.unique(functions[:, 1:], axis=0, return_inverse=True)
    return Exponents(order, t, t_of.ravel(), first, functions[:, 0].astype(np.intp), damping, damping_of.ravel())


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """Gases of an equation of state, ready for any temperature and density."""

    terms: Exponents
    coefficients: Array
    """N(x) of the sorted terms. [term, gas]"""
    reducing_temperature: Array
    """[gas], K"""
    reducing_density: Array
    """[gas], mol/m³"""
    gas_constant: float
    """R of the equation. [J/(mol K)]"""
    molar_mass: Array
    """[gas], kg/mol"""


def at_temperature(mixture: Mixture, temperature: Array, orders: int = 1) -> list[Array]:
    """Return the factor of each function of density, and its first ``orders - 1`` derivatives by tau.

    The derivatives are tau d/dtau and tau² d²/dtau². [function, gas]
    """
    terms = mixture.terms
    log_tau = np.log(mixture.reducing_temperature / temperature)
    powers = np.exp(terms.t[:, None] * log_tau)
    parts = mixture.coefficients * powers[terms.t_of]
    answer = [np.add.reduceat(parts, terms.starts, axis=0)]
    t = terms.t[terms.t_of][:, None]
    for order in range(1, orders):
        parts = parts * (t - (order - 1))
        answer.append(np.add.reduceat(parts, terms.starts, axis=0))
    return answer


def functions_of_density(terms: Exponents, delta: Array) -> tuple[Array, Array, Array]:
    """Return each function f of density, delta f' / f, and delta² f'' / f. [function, gas]"""
    highest = int(terms.d.max())
    powers = np.empty((highest + 1, delta.size))
    powers[0] = 1.0
    for exponent in range(1, highest + 1):
        np.multiply(powers[exponent - 1], delta, out=powers[exponent])
    size = len(terms.damping)
    factor, slope, bend = np.ones((size, delta.size)), np.zeros((size, delta.size)), np.zeros((size, delta.size))
    for row, (c, eta, epsilon, beta, gamma) in enumerate(terms.damping):
        if c:
            power = delta ** int(c)
            factor[row], slope[row], bend[row] = np.exp(-power), c * power, c * c * power
        elif eta or beta:
            away = delta - epsilon
            factor[row] = np.exp(-eta * away * away - beta * (delta - gamma))
            slope[row] = delta * (2 * eta * away + beta)
            bend[row] = slope[row] + 2 * eta * delta * delta
    first = terms.d[:, None] - slope[terms.damping_of]
    second = first * (first - 1) - bend[terms.damping_of]
    return powers[terms.d] * factor[terms.damping_of], first, second


def molar_density(mixture: Mixture, temperature: Array, pressure: Array) -> Array:
    """Return the density of the gas phase, nan where none is found. [mol/m³]

    Newton's method in the logarithm of the volume, from the ideal gas on; where the isotherm bends back (inside a
    two-phase region) the volume grows until it does not. No test is made whether the gas would condense.
    """
    rt = mixture.gas_constant * temperature
    (factors,) = at_temperature(mixture, temperature)
    wanted = np.log(pressure)
    log_density = np.log(pressure / rt)
    found = np.zeros(log_density.shape, dtype=bool)
    with np.errstate(all="ignore"):
        for _ in range(MOST_STEPS):
            density = np.exp(log_density)
            f, first, second = functions_of_density(mixture.terms, density / mixture.reducing_density)
            f *= factors
            slope = np.einsum("fn,fn->n", f, first)
            rising = 1 + 2 * slope + np.einsum("fn,fn->n", f, second)
            now = density * rt * (1 + slope)
            good = (rising > 0) & (now > 0)
            step = np.where(good, (wanted - np.log(np.where(good, now, 1.0))) * (1 + slope) / rising, -0.1)
            step = np.clip(step, -1.0, 1.0)
            log_density = np.where(found, log_density, log_density + step)
            found |= good & (np.abs(step) < CONVERGED)
            if found.all():
                break
    return np.where(found, np.exp(log_density), np.nan)


@dataclass(frozen=True, slots=True, eq=False)
class Residual:
    """Residual Helmholtz energy over RT and its derivatives, each times the power of tau and delta in its name."""

    a: Array
    d: Array
    dd: Array
    t: Array
    tt: Array
    dt: Array


def residual(mixture: Mixture, temperature: Array, density: Array) -> Residual:
    """Return the residual Helmholtz energy with its derivatives at a temperature and molar density."""
    zero, one, two = at_temperature(mixture, temperature, orders=3)
    f, first, second = functions_of_density(mixture.terms, density / mixture.reducing_density)
    return Residual(
        a=(zero * f).sum(0),
        d=(zero * f * first).sum(0),
        dd=(zero * f * second).sum(0),
        t=(one * f).sum(0),
        tt=(two * f).sum(0),
        dt=(one * f * first).sum(0),
    )
