"""How sure the properties of a gas are: the standard uncertainties of ISO 6976:2016, annex B.

First-order propagation of the mole fractions (with their correlations), of the standard's own data (summation
factors, heats of combustion, atomic masses, heat of vaporisation) and of its constants. A property hangs on the
composition through few sums alone, so the covariance of these sums, four by four for each gas, carries everything: no
sum over pairs of components is taken twice.

`iso6976.properties` on the draws of a visit gives the share of the composition; the share of the standard's own data is
what `uncertainty` gives with ``u=0``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

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
    values = iso6976.properties(x, components, reference, ideal=ideal)
    of_sums = _from_fractions(columns, x, u, correlation, covariance) + _from_data(x, at)
    found = _propagate(values, x @ columns, of_sums, reference, u_pressure, ideal=ideal)
    if x.ndim == 1:
        return Properties(**{name: float(one) for name, one in found.items()})
    return Properties(**found)


def _from_fractions(
    columns: Array, x: Array, u: npt.ArrayLike, correlation: npt.ArrayLike | None, covariance: npt.ArrayLike | None
) -> Array:
    """Return the covariance of the four sums (..., 4, 4) that comes from the mole fractions."""
    m = len(columns)
    if covariance is not None:
        return np.asarray(np.einsum("ia,...ij,jb->...ab", columns, np.asarray(covariance, dtype=float), columns))
    u = np.broadcast_to(np.asarray(u, dtype=float), x.shape)
    if correlation is None:
        pairs = np.einsum("ia,ib->iab", columns, columns).reshape(m, 16)
        return np.asarray(u**2 @ pairs).reshape(*x.shape[:-1], 4, 4)
    r = np.asarray(correlation, dtype=float)
    _check_correlation(r, m)
    scaled = u[..., np.newaxis] * columns
    return np.asarray(np.einsum("...ia,ij,...jb->...ab", scaled, r, scaled, optimize=True))


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
    """Return the covariance of the four sums that comes from the standard's own data."""
    data = table()
    out = np.zeros((*x.shape[:-1], 4, 4))
    u_atom = np.array([U_ATOMIC_MASS[element] for element in ELEMENTS])
    out[..., 0, 0] = ((x @ data.atoms[at]) ** 2) @ u_atom**2  # one atomic mass serves all components
    out[..., 1, 1] = x**2 @ data.u_summation[at] ** 2
    out[..., 2, 2] = x**2 @ data.u_gross[at] ** 2
    hydrogen = x @ data.atoms[at, ELEMENTS.index("H")]
    out[..., 3, 3] = (hydrogen / 2 * iso6976.U_WATER_HEAT) ** 2
    return out


def _propagate(
    values: Properties, sums: Array, of_sums: Array, reference: Reference, u_pressure: float, *, ideal: bool
) -> dict[str, Array]:
    """Return the standard uncertainty of each property, by its relative sensitivities to the four sums."""
    ratio = reference.pressure / iso6976.REFERENCE_PRESSURE
    mass, s = sums[..., 0], sums[..., 1]
    z = np.asarray(values.compression_factor)
    z_s = np.zeros_like(s) if ideal else -2 * ratio * s / z  # relative change of Z with s
    z_p = np.zeros_like(s) if ideal else -(1 - z) / z  # relative change of Z with a relative change of pressure
    u_r = (iso6976.U_GAS_CONSTANT / iso6976.GAS_CONSTANT) ** 2
    u_p = (u_pressure / reference.pressure) ** 2
    z_air = iso6976.Z_AIR[reference.columns[1]]
    u_air = 0.0 if ideal else (ratio * iso6976.U_Z_AIR / (1 - ratio * (1 - z_air))) ** 2
    u_mass_air = (iso6976.U_MOLAR_MASS_AIR / iso6976.MOLAR_MASS_AIR) ** 2
    nothing, one = np.zeros_like(s), np.ones_like(s)
    with np.errstate(all="ignore"):
        heat = {
            "gross": (np.asarray(values.molar_gross), nothing),
            "net": (np.asarray(values.molar_net), -one),
        }
        by_mass = one / mass
        square: dict[str, Array] = {
            "molar_mass": _square(of_sums, by_mass, nothing, nothing, nothing),
            "compression_factor": _square(of_sums, nothing, z_s, nothing, nothing) + z_p**2 * u_p,
            "density": _square(of_sums, by_mass, -z_s, nothing, nothing) + u_r + (1 - z_p) ** 2 * u_p,
            "relative_density": _square(of_sums, by_mass, -z_s, nothing, nothing) + u_mass_air + u_air + z_p**2 * u_p,
        }
        for name, (h, water) in heat.items():
            by_heat, by_water = one / h, water / h
            square[f"molar_{name}"] = _square(of_sums, nothing, nothing, by_heat, by_water)
            square[f"mass_{name}"] = _square(of_sums, -by_mass, nothing, by_heat, by_water)
            square[f"volume_{name}"] = _square(of_sums, nothing, -z_s, by_heat, by_water) + u_r + (1 - z_p) ** 2 * u_p
            square[f"wobbe_{name}"] = (
                _square(of_sums, -by_mass / 2, -z_s / 2, by_heat, by_water)
                + u_r
                + (u_mass_air + u_air) / 4
                + (1 - z_p / 2) ** 2 * u_p
            )
        return {name: np.abs(np.asarray(getattr(values, name))) * np.sqrt(square[name]) for name in _NAMES}


def _square(of_sums: Array, *relative: Array) -> Array:
    """Return the square of a relative uncertainty: the sensitivities to the four sums, about their covariance."""
    g = np.stack(relative, axis=-1)
    return np.asarray(np.einsum("...a,...ab,...b->...", g, of_sums, g))
