"""A gas analysis as it was made: mole fractions with their uncertainty, from where and when.

An analysis that does not add up to 100 % stays so, and says so; it is scaled only when somebody asks for it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Literal, cast

import numpy as np

from asfound.errors import InputError
from asfound.fuel import iso6976, iso6976_uncertainty
from asfound.fuel.components import places, table
from asfound.fuel.iso6976 import DEFAULT_REFERENCE, Properties, Reference
from asfound.fuel.names import GROUPS
from asfound.fuel.splits import Split, split_of
from asfound.quantities.typing import Array
from asfound.sources.tables import load_csv

Basis = Literal["mole", "volume", "mass"]
SUM_NOTED = 1e-4
"""A sum that is further from 1 than this is told. [mol/mol]"""
REPRODUCIBILITY = 2.0 * 2**0.5
"""Reproducibility over standard uncertainty: 95 % limit of the difference of two results (ISO 5725-6, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Composition:
    """A gas as analysed; m components."""

    components: tuple[str, ...]
    """Names of the standard, each once."""
    fractions: Array
    """(m,) as analysed, whatever they add up to. [mol/mol]"""
    covariance: Array
    """(m, m) of the fractions; zero where nothing was said. [mol²/mol²]"""
    sampled: date | None = None
    source: str = ""
    """Laboratory, chromatograph or person, and the number of the report."""
    basis: Basis = "mole"
    """What the analysis was given in."""
    heavier: Mapping[str, str] = field(default_factory=dict)
    """How sums of heavier components were shared out, by group, in words."""
    as_typed: Mapping[str, str] = field(default_factory=dict)
    total_analysed: float = 1.0
    """What the analysis added up to before anybody scaled it. [mol/mol]"""
    scaled: bool = False
    """True once it was scaled to 1."""

    @property
    def total(self) -> float:
        """What the fractions add up to now. [mol/mol]"""
        return float(self.fractions.sum())

    @property
    def standard_uncertainties(self) -> Array:
        """(m,) [mol/mol]"""
        return cast(Array, np.sqrt(np.diag(self.covariance)))

    @property
    def by_name(self) -> dict[str, float]:
        """Mole fraction by component. [mol/mol]"""
        return dict(zip(self.components, self.fractions.tolist(), strict=True))

    @property
    def says(self) -> str:
        """What a reader has to know of the sum; empty when it is 100 %."""
        off = self.total_analysed - 1
        if abs(off) <= SUM_NOTED:
            return ""
        said = f"The analysis adds up to {100 * self.total_analysed:.2f} %"
        return f"{said}; scaled to 100 % on request." if self.scaled else f"{said}; it was not scaled."

    def age_days(self, on: date) -> int | None:
        """Return how old the sample is on a day; None when its date is not known.

        Raises
        ------
        InputError
            The sample would be from after that day.
        """
        if self.sampled is None:
            return None
        if self.sampled > on:
            raise InputError("sampled", self.sampled.isoformat(), f"is after {on.isoformat()}",
                             try_next="Look at the order of day and month on the report.")  # fmt: skip
        return (on - self.sampled).days

    def normalised(self) -> Composition:
        """Return the composition scaled to 1; its errors are then correlated, and are carried so."""
        x, covariance = normalise(self.fractions, self.covariance)
        return replace(self, fractions=x, covariance=covariance, scaled=True)

    def whole(self) -> Array:
        """Return the fractions over all components of the standard, in its order. (60,) [mol/mol]"""
        out = np.zeros(len(table().names))
        out[places(self.components)] = self.fractions
        return out

    def properties(self, reference: Reference = DEFAULT_REFERENCE, *, ideal: bool = False) -> Properties:
        """Return heating values, Wobbe index, densities by ISO 6976:2016.

        Raises
        ------
        InputError
            The fractions do not add up to 1.
        """
        self._want_whole()
        return iso6976.properties(self.fractions, self.components, reference, ideal=ideal)

    def uncertainty(self, reference: Reference = DEFAULT_REFERENCE, *, ideal: bool = False) -> Properties:
        """Return the standard uncertainty of each property, by the standard's annex; raises as `properties`."""
        self._want_whole()
        return iso6976_uncertainty.uncertainty(
            self.fractions, 0.0, self.components, reference, covariance=self.covariance, ideal=ideal
        )

    def draws(self, number: int, *, seed: int = 1) -> Array:
        """Return draws of the fractions, normal, none below 0. (number, m) [mol/mol]"""
        random = np.random.default_rng(seed)
        drawn = random.multivariate_normal(self.fractions, self.covariance, number, method="eigh")
        return np.maximum(drawn, 0.0)

    def _want_whole(self) -> None:
        if abs(self.total - 1) > iso6976.SUM_TOLERANCE:
            raise InputError(
                "composition", f"{100 * self.total:.3f} %", "is what the components add up to",
                allowed="99.99 to 100.01 %",
                try_next="Look for a missing or misread component; if there is none, ask for it to be scaled.",
            )  # fmt: skip


def normalise(x: Array, covariance: Array | None = None) -> tuple[Array, Array]:
    """Return fractions scaled to 1, and their covariance after that.

    Parameters
    ----------
    x : array, (..., m)
        As analysed. [mol/mol]
    covariance : array, (..., m, m), optional
        Zero when left out.

    Returns
    -------
    tuple of array
        nan where the sum is not above zero.

    References
    ----------
    .. [1] x' = x / S; dx'_i/dx_j = (delta_ij - x'_i) / S: JCGM 102:2011, 6.2.1.
    """
    x = np.asarray(x, dtype=float)
    with np.errstate(all="ignore"):
        total = x.sum(axis=-1, keepdims=True)
        scaled = x / np.where(total > 0, total, np.nan)
        m = x.shape[-1]
        if covariance is None:
            return scaled, np.zeros((*x.shape, m))
        j = (np.eye(m) - scaled[..., :, np.newaxis]) / total[..., np.newaxis]
        return scaled, j @ covariance @ np.swapaxes(j, -1, -2)


def composition(
    amounts: Mapping[str, float],
    *,
    uncertainties: Mapping[str, float] | Literal["astm_d1945"] | None = None,
    basis: Basis = "mole",
    heavier: str | Split | Mapping[str, str | Split] | None = None,
    reference: Reference = DEFAULT_REFERENCE,
    sampled: date | None = None,
    source: str = "",
    as_typed: Mapping[str, str] | None = None,
) -> Composition:
    """Return a composition from amounts by component.

    Parameters
    ----------
    amounts : mapping of str to float
        Fractions by component or group of heavier ones, named as in `names.component_named` answers. [1]
    uncertainties : mapping, 'astm_d1945' or None
        Standard uncertainties by name, in the basis of ``amounts`` [1]; or the reproducibility that ASTM D1945 prints
        for two laboratories (from memory); or nothing known, which counts as exact and is no praise of the analysis.
    basis : {'mole', 'volume', 'mass'}
        A volume fraction is that of the pure components at the temperature of ``reference``, each with its own Z.
        Many reports call mole fractions 'volume per cent': ask the laboratory.
    heavier : str, mapping or None
        Split of a sum of heavier components, as `splits.split_of` takes it; by group where there are several.
    reference : Reference
        State of the volumes, for ``basis='volume'``.
    sampled, source, as_typed
        Kept.

    Raises
    ------
    InputError
        A fraction that cannot be, a split that is not stated, fractions that look like per cent.
    UnknownNameError
        A component that the standard does not have.

    Examples
    --------
    >>> gas = composition({"methane": 0.95, "ethane": 0.04, "hexanes_plus": 0.01}, heavier="60/30/10")
    >>> round(gas.by_name["n-heptane"], 6), gas.says
    (0.003, '')
    """
    _refuse(amounts)
    names = tuple(amounts)
    splits = {name: split_of(name, _stated(name, heavier)) for name in names if name in GROUPS}
    out = tuple(dict.fromkeys(one for name in names for one in splits.get(name, {name: 1.0})))
    places(out)  # names that the standard does not have are refused here
    w = np.array([float(amounts[name]) for name in names])
    share = _share_out(names, out, splits)
    x, to_mole = _to_mole(w, weights(out, basis, reference), share, basis)
    u = _uncertainties(names, w, uncertainties)
    j = share @ to_mole
    return Composition(
        components=out,
        fractions=share @ x,
        covariance=(j * u**2) @ j.T,
        sampled=sampled,
        source=source,
        basis=basis,
        heavier={
            name: ", ".join(f"{100 * s:.4g} % {one}" for one, s in split.items()) for name, split in splits.items()
        },
        as_typed=dict(as_typed or {}),
        total_analysed=float(w.sum()),
    )


def _refuse(amounts: Mapping[str, float]) -> None:
    """Refuse fractions that no gas has."""
    if not amounts:
        raise InputError("composition", "", "has no component", try_next="Give at least one component with its share.")
    for name, value in amounts.items():
        if not 0 <= value < np.inf:
            raise InputError(name, f"{value:g}", "is no share of a gas", allowed="0 or more",
                             try_next="Look at the line of the report; 'not found' is typed as 0.")  # fmt: skip
    total = sum(amounts.values())
    if not 0.02 < total < 2:
        raise InputError(
            "composition", f"{total:g}", "is what the fractions add up to",
            allowed="about 1", try_next="Per cent are divided by 100 before; a whole analysis is needed.",
        )  # fmt: skip


def _stated(group: str, heavier: str | Split | Mapping[str, str | Split] | None) -> str | Split | None:
    """Return what was stated for one group."""
    if isinstance(heavier, Mapping) and any(name in GROUPS for name in heavier):
        return cast("Mapping[str, str | Split]", heavier).get(group)
    return cast("str | Split | None", heavier)


def _share_out(names: tuple[str, ...], out: tuple[str, ...], splits: Mapping[str, Split]) -> Array:
    """Return the matrix (m_out, m_in) that shares groups out over components; a component is its own group."""
    matrix = np.zeros((len(out), len(names)))
    for column, name in enumerate(names):
        for one, share in splits.get(name, {name: 1.0}).items():
            matrix[out.index(one), column] += share
    return matrix


def weights(out: Sequence[str], basis: Basis, reference: Reference) -> Array:
    """Return what a mole of each component weighs in the basis: its molar mass, or its Z."""
    at = places(out)
    if basis == "mass":
        return table().molar_mass[at]
    if basis == "volume":
        s = table().summation[at, reference.columns[1]]
        return cast(Array, 1 - reference.pressure / iso6976.REFERENCE_PRESSURE * s * np.abs(s))
    return np.ones(len(at))


def _to_mole(w: Array, weight: Array, share: Array, basis: Basis) -> tuple[Array, Array]:
    """Return mole fractions that add up to what ``w`` does, and their derivatives (m_in, m_in)."""
    if basis == "mole":
        return w, np.eye(len(w))
    a = 1 / (weight @ share)  # a group weighs what its split weighs
    total, moles = w.sum(), (a * w).sum()
    x = a * w * total / moles
    j = np.diag(a) * total / moles + np.outer(a * w, 1 / moles - total * a / moles**2)
    return x, j


def _uncertainties(
    names: tuple[str, ...], w: Array, given: Mapping[str, float] | Literal["astm_d1945"] | None
) -> Array:
    """Return the standard uncertainties in the basis of the analysis. (m_in,)"""
    if given is None:
        return np.zeros(len(w))
    if given == "astm_d1945":
        rows = load_csv("asfound.fuel", "data/astm_d1945.csv")
        edges = np.array([float(row["to_percent"]) for row in rows[:-1]])
        limit = np.array([float(row["reproducibility_percent"]) for row in rows])
        found = limit[np.searchsorted(edges, 100 * w, side="right")] / 100 / REPRODUCIBILITY
        return np.where(w > 0, found, 0.0)
    for name, u in given.items():
        if name not in names:
            raise InputError(name, f"{u:g}", "is the uncertainty of a component that the analysis does not have",
                             allowed=", ".join(names))  # fmt: skip
        if not 0 <= u < np.inf:
            raise InputError(name, f"{u:g}", "is no standard uncertainty", allowed="0 or more")
    return np.array([float(given.get(name, 0.0)) for name in names])
