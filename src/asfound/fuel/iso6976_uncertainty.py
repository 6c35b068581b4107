"""How sure the properties of a gas are: the standard uncertainties of ISO 6976:2016, annex B.

First-order propagation of the mole fractions (with their correlations), of the standard's own data (summation
factors, heats of combustion, atomic masses, heat of vaporisation) and of its constants. A property hangs on the
composition through few sums alone, so the covariance of these sums, four by four for each gas, carries everything: no
sum over pairs of components is taken twice.

`iso6976.properties` on the draws of a visit gives the share of the composition; the share of the standard's own data is
what `uncertainty` gives with ``u=0``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.fuel import iso6976
from asfound.fuel.components import ELEMENTS, U_ATOMIC_MASS, places, table
from asfound.fuel.iso6976 import DEFAULT_REFERENCE, Properties, Reference
from asfound.quantities.typing import Array

_NAMES = tuple(one.name for one in fields(Properties))


def uncertainty(
    x: npt.ArrayLike,
    u: npt.ArrayLike,
    components: Sequence[str] | None = None,
    reference: Reference = DEFAULT_REFERENCE,
    *,
    correlation: npt.ArrayLike | None = None,
    covariance: npt.ArrayLike | None = None,
    u_pressure: float = 0.0,
    ideal: bool = False,
) -> Properties:
    """Return the standard uncertainty of each property, in the property's own unit.

    Parameters
    ----------
    x : array, (..., m)
        Mole fractions. [mol/mol]
    u : array, (..., m), or float
        Their standard uncertainties. [mol/mol]
    components : sequence of str, optional
        Names along the last axis; the standard's whole table when left out.
    reference : Reference
        Temperatures of combustion and metering, and pressure.
    correlation : array, (m, m), optional
        Of the mole fractions, the same for all gases; none when left out (the standard's plain case). A composition
        that was scaled to 1 is correlated by that: see `composition.normalise`.
    covariance : array, (..., m, m), optional
        In place of ``u`` and ``correlation``.
    u_pressure : float
        Standard uncertainty of the pressure at which the volume counts; 0 where it is a convention. [Pa]
    ideal : bool
        As for `iso6976.properties`.

    Raises
    ------
    InputError
        A correlation matrix that is none.
    ValueError
        Shapes that do not fit.

    References
    ----------
    .. [1] ISO 6976:2016, clause 11 and annex B; formulas derived here by JCGM 100:2008, 5.1 and 5.2, and met to the
       printed digits on the examples of annex D.

    Examples
    --------
    Example 1 of annex D (D.2.6) prints 0.615609872 kJ/mol.

    >>> x = [0.933212, 0.025656, 0.015368, 0.010350, 0.015414]
    >>> u = [0.000346, 0.000243, 0.000148, 0.000195, 0.000111]
    >>> names = ["methane", "ethane", "propane", "nitrogen", "carbon dioxide"]
    >>> print(f"{uncertainty(x, u, names).molar_gross / 1e3:.9f}")
    0.615609872
    """
    x = np.asarray(x, dtype=float)
    at = places(components)
    if x.ndim == 0 or x.shape[-1] != len(at):
        raise ValueError(f"the last axis of x has {x.shape[-1] if x.ndim else 0} fractions, for {len(at)} names")
    columns = iso6976.basis(components, reference)[:, :4]
    values = iso6976.as_array(iso6976.properties(x, components, reference, ideal=ideal)).reshape(-1, len(_NAMES))
    rows = x.reshape(-1, len(at))
    analysis = _analysis(x, u, correlation, covariance)
    out = np.empty((len(_NAMES), len(rows)))
    with np.errstate(all="ignore"):
        for part in iso6976.blocks(len(rows), len(at) * (1 if analysis.plain else len(at))):
            block = rows[part]
            of_sums = analysis.of_sums(columns, part) + _from_data(block, at)
            known = dict(zip(_NAMES, values[part].T, strict=True))
            _propagate(out[:, part], known, block @ columns, of_sums, reference, u_pressure, ideal=ideal)
    if x.ndim == 1:
        return Properties(**dict(zip(_NAMES, out[:, 0].tolist(), strict=True)))
    return Properties(**{name: out[row].reshape(x.shape[:-1]) for row, name in enumerate(_NAMES)})


_PAIRS = tuple((a, b) for a in range(4) for b in range(a, 4))
"""Pairs of the four sums (molar mass, summation factor, heat, heat of the water), each once."""


@dataclass(frozen=True, slots=True)
class _Analysis:
    """What is known of the fractions: standard uncertainties (n, m), with a correlation (m, m), or covariances."""

    u: Array
    correlation: Array | None
    covariance: Array | None

    @property
    def plain(self) -> bool:
        """No correlation between the fractions."""
        return self.correlation is None and self.covariance is None

    def of_sums(self, columns: Array, part: slice) -> Array:
        """Return the covariances of the four sums for a block of gases, by `_PAIRS`. (10, k)"""
        if self.plain:
            square = self.u[part] ** 2
            return np.asarray(np.stack([columns[:, a] * columns[:, b] for a, b in _PAIRS]) @ square.T)
        if self.covariance is not None:
            turned = self.covariance[part] @ columns  # (k, m, 4)
            four = np.einsum("ia,kib->abk", columns, turned)
        else:
            assert self.correlation is not None
            scaled = self.u[part][:, :, np.newaxis] * columns
            four = np.einsum("kia,kib->abk", scaled, np.matmul(self.correlation, scaled))
        return np.stack([four[pair] for pair in _PAIRS])


def _analysis(
    x: Array, u: npt.ArrayLike, correlation: npt.ArrayLike | None, covariance: npt.ArrayLike | None
) -> _Analysis:
    """Return what was given of the fractions, gas by gas."""
    m = x.shape[-1]
    spread = np.broadcast_to(np.asarray(u, dtype=float), x.shape).reshape(-1, m)
    if covariance is not None:
        each = np.broadcast_to(np.asarray(covariance, dtype=float), (*x.shape, m)).reshape(-1, m, m)
        return _Analysis(spread, None, each)
    if correlation is None:
        return _Analysis(spread, None, None)
    r = np.asarray(correlation, dtype=float)
    _check_correlation(r, m)
    return _Analysis(spread, r, None)


def _check_correlation(r: Array, m: int) -> None:
    """Refuse what cannot be the correlation matrix of m fractions."""
    if r.shape != (m, m):
        raise ValueError(f"the correlation matrix is {r.shape}, for {m} components")
    if not np.allclose(r, r.T, atol=1e-9) or not np.allclose(np.diag(r), 1.0) or np.abs(r).max() > 1 + 1e-12:
        raise InputError(
            "correlation",
            f"a matrix of {m} by {m}",
            "is not symmetric with ones on its diagonal and nothing beyond 1",
            allowed="-1 to 1, 1 on the diagonal",
            try_next="Give the correlation of the mole fractions, not their covariance.",
        )


def _from_data(x: Array, at: npt.NDArray[np.intp]) -> Array:
    """Return the covariances of the four sums that come from the standard's own data, by `_PAIRS`. (10, k)"""
    data = table()
    out = np.zeros((len(_PAIRS), len(x)))
    u_atom = np.array([U_ATOMIC_MASS[element] for element in ELEMENTS])
    out[_PAIRS.index((0, 0))] = ((x @ data.atoms[at]) ** 2) @ u_atom**2  # one atomic mass serves all components
    square = x**2
    out[_PAIRS.index((1, 1))] = square @ data.u_summation[at] ** 2
    out[_PAIRS.index((2, 2))] = square @ data.u_gross[at] ** 2
    out[_PAIRS.index((3, 3))] = (x @ data.atoms[at, ELEMENTS.index("H")] / 2 * iso6976.U_WATER_HEAT) ** 2
    return out


def _propagate(
    out: Array,
    known: Mapping[str, Array],
    sums: Array,
    of_sums: Array,
    reference: Reference,
    u_pressure: float,
    *,
    ideal: bool,
) -> None:
    """Write the standard uncertainty of each property of a block, by its relative sensitivities to the four sums."""
    ratio = reference.pressure / iso6976.REFERENCE_PRESSURE
    z = known["compression_factor"]
    z_s = None if ideal else -2 * ratio * sums[:, 1] / z  # relative change of Z with s
    z_p = 0.0 if ideal else -(1 - z) / z  # relative change of Z with a relative change of pressure
    u_r = (iso6976.U_GAS_CONSTANT / iso6976.GAS_CONSTANT) ** 2
    u_p = (u_pressure / reference.pressure) ** 2
    u_air = (iso6976.U_MOLAR_MASS_AIR / iso6976.MOLAR_MASS_AIR) ** 2
    if not ideal:
        z_air = iso6976.Z_AIR[reference.columns[1]]
        u_air += (ratio * iso6976.U_Z_AIR / (1 - ratio * (1 - z_air))) ** 2
    by_mass = 1 / sums[:, 0]
    less_z = None if z_s is None else -z_s
    half_z = None if z_s is None else -z_s / 2
    by_volume, by_root = u_r + (1 - z_p) ** 2 * u_p, u_r + u_air / 4 + (1 - z_p / 2) ** 2 * u_p
    square = {
        "molar_mass": _square(of_sums, by_mass),
        "compression_factor": _square(of_sums, None, z_s) + z_p**2 * u_p,
        "density": _square(of_sums, by_mass, less_z) + by_volume,
        "relative_density": _square(of_sums, by_mass, less_z) + u_air + z_p**2 * u_p,
    }
    for name, found in square.items():
        np.multiply(known[name], np.sqrt(found), out=out[_NAMES.index(name)])
    per_volume = known["density"] * by_mass
    per_root = per_volume / np.sqrt(known["relative_density"])
    one = np.ones_like(by_mass)
    for name in ("gross", "net"):  # told over the molar heat, which may be 0 (a gas that does not burn)
        heat = known[f"molar_{name}"]
        water = None if name == "gross" else -one
        z_heat = None if less_z is None else less_z * heat
        z_half = None if half_z is None else half_z * heat
        of_heat = {
            "molar": (one, _square(of_sums, None, None, one, water)),
            "mass": (by_mass, _square(of_sums, -by_mass * heat, None, one, water)),
            "volume": (per_volume, _square(of_sums, None, z_heat, one, water) + heat**2 * by_volume),
            "wobbe": (per_root, _square(of_sums, -by_mass / 2 * heat, z_half, one, water) + heat**2 * by_root),
        }
        for kind, (factor, found) in of_heat.items():
            np.multiply(factor, np.sqrt(found), out=out[_NAMES.index(f"{kind}_{name}")])


def _square(of_sums: Array, *relative: Array | None) -> Array:
    """Return the square of a relative uncertainty: the sensitivities to the four sums, about their covariance."""
    total = np.zeros(of_sums.shape[1])
    given = [(at, one) for at, one in enumerate(relative) if one is not None]
    for place, (a, first) in enumerate(given):
        total += first * first * of_sums[_PAIRS.index((a, a))]
        for b, second in given[place + 1 :]:
            total += 2 * first * second * of_sums[_PAIRS.index((a, b))]
    return total
