"""GERG-2008, the wide-range equation of state for natural gases, as `helmholtz` wants it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.fuel.arranged import Numbers
from asfound.fuel.helmholtz import Exponents, Mixture, exponents, weighted
from asfound.quantities.typing import Array
from asfound.sources.tables import load_csv

GAS_CONSTANT = 8.314472  # J/(mol K), the value that the equation was fitted with


@dataclass(frozen=True, slots=True, eq=False)
class _Tables:
    """What depends on the set of components alone."""

    pairs: tuple[Numbers, Numbers]
    shape: Array
    """beta_v, gamma_v, beta_t, gamma_t of each pair. [4, pair]"""
    volume: Array
    """Critical volume of each pair, (v_i^(1/3) + v_j^(1/3))³ / 8. [L/mol]"""
    temperature: Array
    """Geometric mean of the critical temperatures. [K]"""
    critical: tuple[Array, Array]
    """Critical volume and temperature of each component."""
    departing: Numbers
    """Pairs with a departure function."""
    pure: Array
    """[term, component]"""
    departure: Array
    """[term, departing pair], the factor F included."""
    molar_mass: Array
    terms: Exponents


def _term_rows(file: str, key: str) -> dict[str, list[tuple[float, ...]]]:
    """Return the terms by fluid or departure function: n and then t, d, c, eta, epsilon, beta, gamma."""
    answer: dict[str, list[tuple[float, ...]]] = {}
    for row in load_csv("asfound.fuel", f"data/{file}"):
        values = (float(row.get(name, 0) or 0) for name in ("n", "t", "d", "c", "eta", "epsilon", "beta", "gamma"))
        answer.setdefault(row[key], []).append(tuple(values))
    return answer


def _coefficients(
    wanted: list[list[tuple[float, ...]]], factors: list[float], rows: dict[tuple[float, ...], int]
) -> Array:
    """Return the coefficients of several functions over the distinct terms, which are added to ``rows``."""
    entries = [
        (rows.setdefault(term[1:], len(rows)), column, factors[column] * term[0])
        for column, terms in enumerate(wanted)
        for term in terms
    ]
    answer = np.zeros((len(rows), len(wanted)))
    for at, column, value in entries:
        answer[at, column] += value
    return answer


@cache
def _tables(names: tuple[str, ...]) -> _Tables:
    pure = {row["component"]: row for row in load_csv("asfound.fuel", "data/gerg_components.csv")}
    volume = np.array([1 / float(pure[name]["critical_density"]) for name in names])
    temperature = np.array([float(pure[name]["critical_temperature"]) for name in names])
    place = {name: at for at, name in enumerate(names)}
    known = [
        row for row in load_csv("asfound.fuel", "data/gerg_pairs.csv") if {row["first"], row["second"]} <= set(names)
    ]
    i = np.array([place[row["first"]] for row in known], dtype=np.intp)
    j = np.array([place[row["second"]] for row in known], dtype=np.intp)
    shape = np.array([[float(row[key]) for row in known] for key in ("beta_v", "gamma_v", "beta_t", "gamma_t")])
    departing = np.array([at for at, row in enumerate(known) if row["departure"]], dtype=np.intp)
    rows: dict[tuple[float, ...], int] = {}
    fluid, apart = _term_rows("gerg_terms.csv", "component"), _term_rows("gerg_departures.csv", "departure")
    of_pure = _coefficients([fluid[name] for name in names], [1.0] * len(names), rows)
    of_pairs = _coefficients(
        [apart[known[at]["departure"]] for at in departing], [float(known[at]["f"]) for at in departing], rows
    )
    table = exponents(np.array(list(rows)))
    padded = np.zeros((len(rows), len(names)))
    padded[: len(of_pure)] = of_pure
    return _Tables(
        pairs=(i, j),
        shape=shape.reshape(4, -1),
        volume=(np.cbrt(volume[i]) + np.cbrt(volume[j])) ** 3 / 8,
        temperature=np.sqrt(temperature[i] * temperature[j]),
        critical=(volume, temperature),
        departing=departing,
        pure=padded[table.order],
        departure=of_pairs[table.order],
        molar_mass=np.array([float(pure[name]["molar_mass"]) for name in names]) / 1000,
        terms=table,
    )


def _reduced(
    own: Array, pair: Array, beta: Array, gamma: Array, fractions: Array, pairs: tuple[Numbers, Numbers]
) -> Array:
    """Return the reducing volume or temperature of each gas."""
    first, second = fractions[pairs[0]], fractions[pairs[1]]
    product = first * second
    below = (beta**2)[:, None] * first + second
    share = np.divide(product * (first + second), below, out=np.zeros_like(product), where=below > 0)
    answer: Array = weighted(own[None], fractions**2)[0] + weighted((2 * beta * gamma * pair)[None], share)[0]
    return answer


def mixture(names: tuple[str, ...], fractions: Array) -> Mixture:
    """Return the gases by GERG-2008.

    Parameters
    ----------
    names : tuple of str
        Components that any of the gases holds, named as in `real_gas.COMPONENTS`.
    fractions : array [component, gas]
        Mole fractions that add up to one. [mol/mol]

    References
    ----------
    .. [1] O. Kunz, W. Wagner, J. Chem. Eng. Data 57 (2012) 3032-3091, Equations 7 to 18; ISO 20765-2.
    """
    tables = _tables(names)
    i, j = tables.pairs
    beta_v, gamma_v, beta_t, gamma_t = tables.shape
    volume = _reduced(tables.critical[0], tables.volume, beta_v, gamma_v, fractions, tables.pairs)
    temperature = _reduced(tables.critical[1], tables.temperature, beta_t, gamma_t, fractions, tables.pairs)
    at = tables.departing
    product = fractions[i[at]] * fractions[j[at]]
    return Mixture(
        terms=tables.terms,
        coefficients=weighted(tables.pure, fractions) + weighted(tables.departure, product),
        reducing_temperature=temperature,
        reducing_density=1000.0 / volume,
        gas_constant=GAS_CONSTANT,
        molar_mass=weighted(tables.molar_mass[None], fractions)[0],
    )
