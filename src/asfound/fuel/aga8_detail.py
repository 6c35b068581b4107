"""AGA Report No. 8 Part 1, the DETAIL equation of state, as `helmholtz` wants it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.fuel.arranged import Numbers
from asfound.fuel.helmholtz import Exponents, Mixture, exponents, weighted
from asfound.quantities.typing import Array
from asfound.sources.tables import load_csv

GAS_CONSTANT = 8.31451  # J/(mol K), the value that the equation was fitted with
VIRIAL_TERMS = 18  # terms 1 to 18 stand in the second virial coefficient
FIRST_OTHER = 12  # terms 13 to 58 stand in the higher part
_MIXED = 21  # rows of the table of pairs: 18 virial terms, then size, energy, orientation


@dataclass(frozen=True, slots=True, eq=False)
class _Tables:
    """What depends on the set of components alone."""

    pairs: tuple[Numbers, Numbers]
    mixing: Array
    """Twice counted where a pair is of two, since each stands once. [21 mixed properties, pair]"""
    quadrupole: Array
    high_temperature: Array
    molar_mass: Array
    terms: Exponents


@cache
def _columns(file: str) -> dict[str, Array]:
    rows = load_csv("asfound.fuel", f"data/{file}")
    return {
        name: np.array([float(row[name]) for row in rows]) for name in rows[0] if name not in ("component", "source")
    }


@cache
def _tables(names: tuple[str, ...]) -> _Tables:
    order = {row["component"]: at for at, row in enumerate(load_csv("asfound.fuel", "data/aga8_detail_components.csv"))}
    pick = np.array([order[name] for name in names])
    one = {key: column[pick] for key, column in _columns("aga8_detail_components.csv").items()}
    term = _columns("aga8_detail_terms.csv")
    number = len(names)
    two = {key: np.ones((number, number)) for key in "eukg"}
    place = {name: at for at, name in enumerate(names)}
    for row in load_csv("asfound.fuel", "data/aga8_detail_pairs.csv"):
        if row["first"] in place and row["second"] in place:
            one_at, other_at = place[row["first"]], place[row["second"]]
            for key, table in two.items():
                table[one_at, other_at] = table[other_at, one_at] = float(row[key])
    i, j = np.triu_indices(number)
    at_pair = {key: table[i, j] for key, table in two.items()}
    energy = at_pair["e"] * np.sqrt(one["e"][i] * one["e"][j])
    mean_g = at_pair["g"] * (one["g"][i] + one["g"][j]) / 2
    mixing = np.empty((_MIXED, i.size))
    for n in range(VIRIAL_TERMS):
        value = term["a"][n] * energy ** term["u"][n] * (one["k"][i] * one["k"][j]) ** 1.5
        for flag, by in (("g", mean_g), *((key, one[key][i] * one[key][j]) for key in "qfsw")):
            if term[flag][n]:
                value = value * by
        mixing[n] = value
    mixing[18] = at_pair["k"] ** 5 * (one["k"][i] * one["k"][j]) ** 2.5
    mixing[19] = at_pair["u"] ** 5 * (one["e"][i] * one["e"][j]) ** 2.5
    mixing[20] = mean_g
    table = np.zeros((VIRIAL_TERMS + term["a"].size - FIRST_OTHER, 7))
    table[:VIRIAL_TERMS, 0], table[:VIRIAL_TERMS, 1] = term["u"][:VIRIAL_TERMS], 1.0
    for column, key in enumerate("ubk"):
        table[VIRIAL_TERMS:, column] = term[key][FIRST_OTHER:]
    return _Tables(
        (i, j), mixing * np.where(i == j, 1.0, 2.0), one["q"], one["f"], one["molar_mass"] / 1000, exponents(table)
    )


def mixture(names: tuple[str, ...], fractions: Array) -> Mixture:
    """Return the gases by the DETAIL equation.

    Parameters
    ----------
    names : tuple of str
        Components that any of the gases holds, named as in `real_gas.COMPONENTS`.
    fractions : array [component, gas]
        Mole fractions that add up to one. [mol/mol]

    References
    ----------
    .. [1] AGA Report No. 8 Part 1 (2017), DETAIL; parameters as in the public NIST implementation.
    """
    tables, term = _tables(names), _columns("aga8_detail_terms.csv")
    i, j = tables.pairs
    mixed = weighted(tables.mixing, fractions[i] * fractions[j])
    size = mixed[18] ** 0.6  # K³, L/mol
    energy = mixed[19] ** 0.2
    exponent, place = np.unique(term["u"][FIRST_OTHER:], return_inverse=True)
    higher = term["a"][FIRST_OTHER:, None] * np.exp(exponent[:, None] * np.log(energy))[place.ravel()]
    by = {
        "g": mixed[20],
        "q": weighted(tables.quadrupole[None], fractions)[0] ** 2,
        "f": weighted(tables.high_temperature[None], fractions**2)[0],
    }
    for flag, value in by.items():
        higher[term[flag][FIRST_OTHER:] == 1] *= value
    virial = mixed[:VIRIAL_TERMS] / size
    virial[FIRST_OTHER:] -= higher[: VIRIAL_TERMS - FIRST_OTHER]
    return Mixture(
        terms=tables.terms,
        coefficients=np.concatenate([virial, higher])[tables.terms.order],
        reducing_temperature=np.ones(fractions.shape[1]),  # 1 K: the equation is not reduced
        reducing_density=1000.0 / size,
        gas_constant=GAS_CONSTANT,
        molar_mass=weighted(tables.molar_mass[None], fractions)[0],
    )
