"""The gas as it is in the line: compressibility, density, heat capacities, speed of sound.

Two published equations of state, each with its own packaged tables: AGA 8 DETAIL (the custody-transfer equation) and
GERG-2008. Neither tests whether the gas would condense: see `hydrocarbon_dew`. Any number of gases, temperatures and
pressures at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from asfound.errors import UnknownNameError
from asfound.fuel import aga8_detail, gerg_2008
from asfound.fuel.arranged import Numbers, arranged
from asfound.fuel.helmholtz import Mixture, molar_density, residual
from asfound.fuel.ideal_gas import GAS_CONSTANT as IDEAL_CONSTANT
from asfound.fuel.ideal_gas import ZERO_PRESSURE, ideal_gas
from asfound.quantities.typing import Array, Values

COMPONENTS = (
    "methane", "nitrogen", "carbon_dioxide", "ethane", "propane", "isobutane", "n_butane", "isopentane", "n_pentane",
    "n_hexane", "n_heptane", "n_octane", "n_nonane", "n_decane", "hydrogen", "oxygen", "carbon_monoxide", "water",
    "hydrogen_sulfide", "helium", "argon",
)  # fmt: skip
"""The components that both equations know, in the order of the last axis of every composition here."""

Equation = Literal["detail", "gerg"]
_EQUATIONS = {"detail": aga8_detail.mixture, "gerg": gerg_2008.mixture}
_BLOCK = 1024  # gases at a time: their terms stay in the processor's cache
_WHOLE = 0.01  # an analysis may miss the whole by this much and is scaled; beyond it there is no answer


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GasState:
    """A gas at a temperature and a pressure; arrays of one shape, nan where there is no answer."""

    compressibility: Array
    """Z. [1]"""
    density: Array
    """[kg/m³]"""
    molar_density: Array
    """[mol/m³]"""
    molar_mass: Array
    """[kg/mol]"""
    isochoric_heat_capacity: Array
    """[J/(mol K)]"""
    isobaric_heat_capacity: Array
    """[J/(mol K)]"""
    speed_of_sound: Array
    """[m/s]"""
    isentropic_exponent: Array
    """Of the real gas, w² rho / p. [1]"""
    throttling_coefficient: Array
    """Joule-Thomson. [K/Pa]"""
    enthalpy: Array
    """From the ideal components at 298.15 K. [J/mol]"""
    entropy: Array
    """From the ideal components at 298.15 K, 101.325 kPa. [J/(mol K)]"""


def compressibility(fractions: Array, temperature: Values, pressure: Values, *, equation: Equation = "detail") -> Array:
    """Return Z = p / (rho R T) of the gas.

    Parameters
    ----------
    fractions : array [..., 21]
        Mole fractions in the order of `COMPONENTS`; scaled to one where they miss it by no more than 1 %, else nan.
        [mol/mol]
    temperature : float or array
        [K]
    pressure : float or array
        Absolute. [Pa]
    equation : 'detail' or 'gerg'
        AGA 8 DETAIL (made for 250 to 350 K, up to 30 MPa, natural gas) or GERG-2008 (90 to 450 K, up to 35 MPa).

    Returns
    -------
    array
        Shapes of the arguments broadcast against each other; nan where there is no gas phase to be found.

    References
    ----------
    .. [1] AGA Report No. 8 Parts 1 and 2 (2017).

    Examples
    --------
    NIST's table for AGA 8 prints 0.847589 for its Gulf Coast gas at 0 °C and 6 MPa.

    >>> gulf = dict(methane=0.965222, nitrogen=0.002595, carbon_dioxide=0.005956, ethane=0.018186, propane=0.004596,
    ...             isobutane=0.000977, n_butane=0.001007, isopentane=0.000473, n_pentane=0.000324, n_hexane=0.000664)
    >>> print(f"{compressibility(composition(gulf), 273.15, 6e6):.6f}")
    0.847589
    """
    return density_and_compressibility(fractions, temperature, pressure, equation=equation)[1]


def mass_density(fractions: Array, temperature: Values, pressure: Values, *, equation: Equation = "detail") -> Array:
    """Return the density of the gas; arguments as in `compressibility`. [kg/m³]"""
    return density_and_compressibility(fractions, temperature, pressure, equation=equation)[0]


def density_and_compressibility(
    fractions: Array, temperature: Values, pressure: Values, *, equation: Equation = "detail"
) -> tuple[Array, Array]:
    """Return density [kg/m³] and Z, worked out once; arguments as in `compressibility`."""
    shape, x, t, p = _flat(fractions, temperature, pressure)
    density, z = np.full(t.size, np.nan), np.full(t.size, np.nan)
    for part, names, gas in _blocks(x, t, p):
        mixture = _equation(equation)(names, gas)
        molar = molar_density(mixture, t[part], p[part])
        density[part] = molar * mixture.molar_mass
        z[part] = p[part] / (molar * mixture.gas_constant * t[part])
    return density.reshape(shape), z.reshape(shape)


def gas_state(fractions: Array, temperature: Values, pressure: Values, *, equation: Equation = "detail") -> GasState:
    """Return density, heat capacities, speed of sound and what follows; arguments as in `compressibility`."""
    shape, x, t, p = _flat(fractions, temperature, pressure)
    out = np.full((11, t.size), np.nan)
    for part, names, gas in _blocks(x, t, p):
        mixture = _equation(equation)(names, gas)
        density = molar_density(mixture, t[part], p[part])
        out[:, part] = _state(mixture, names, gas, t[part], density)
    return GasState(**{name: row.reshape(shape) for name, row in zip(GasState.__slots__, out, strict=True)})


def gas_state_at_density(
    fractions: Array, temperature: Values, density: Values, *, equation: Equation = "detail"
) -> GasState:
    """Return the same as `gas_state` from a molar density [mol/m³], which may also be a liquid's."""
    shape, x, t, rho = _flat(fractions, temperature, density)
    out = np.full((11, t.size), np.nan)
    for part, names, gas in _blocks(x, t, rho):
        out[:, part] = _state(_equation(equation)(names, gas), names, gas, t[part], rho[part])
    return GasState(**{name: row.reshape(shape) for name, row in zip(GasState.__slots__, out, strict=True)})


def pressure_at(fractions: Array, temperature: Values, density: Values, *, equation: Equation = "detail") -> Array:
    """Return the pressure at a molar density [mol/m³]; other arguments as in `compressibility`. [Pa]"""
    shape, x, t, rho = _flat(fractions, temperature, density)
    out = np.full(t.size, np.nan)
    for part, names, gas in _blocks(x, t, rho):
        mixture = _equation(equation)(names, gas)
        z = 1 + residual(mixture, t[part], rho[part]).d
        out[part] = z * rho[part] * mixture.gas_constant * t[part]
    return out.reshape(shape)


def composition(parts: Mapping[str, Values]) -> Array:
    """Return mole fractions in the order of `COMPONENTS` from fractions by name; what is not named is zero.

    Raises
    ------
    UnknownNameError
        A component that the equations do not know.
    """
    return arranged(parts, COMPONENTS, "the equations of state")


def _equation(name: str) -> Callable[[tuple[str, ...], Array], Mixture]:
    if name not in _EQUATIONS:
        raise UnknownNameError("equation of state", name, _EQUATIONS)
    return _EQUATIONS[name]


def _flat(fractions: Array, temperature: Values, other: Values) -> tuple[tuple[int, ...], Array, Array, Array]:
    """Return the common shape, the gases [component, 1 or state], and temperature and the other as lists [state]."""
    x = np.asarray(fractions, dtype=float)
    if x.shape[-1] != len(COMPONENTS):
        raise ValueError(f"the last axis of the fractions has {x.shape[-1]} components, not {len(COMPONENTS)}")
    t, p = np.asarray(temperature, dtype=float), np.asarray(other, dtype=float)
    shape = np.broadcast_shapes(x.shape[:-1], t.shape, p.shape)
    total = x.sum(axis=-1, keepdims=True)
    with np.errstate(all="ignore"):
        whole = (np.abs(total - 1) <= _WHOLE) & (x >= 0).all(axis=-1, keepdims=True)
        x = np.where(whole, x / total, np.nan)
    if x.ndim > 1:  # one gas at many states stays one gas
        x = np.broadcast_to(x, (*shape, len(COMPONENTS)))
    x = x.reshape(-1, len(COMPONENTS)).T
    return shape, x, np.broadcast_to(t, shape).ravel(), np.broadcast_to(p, shape).ravel()


def _blocks(x: Array, temperature: Array, other: Array) -> Iterator[tuple[Numbers, tuple[str, ...], Array]]:
    """Yield blocks of states that have an answer: their numbers, the components in them, the gases."""
    with np.errstate(invalid="ignore"):
        possible = (temperature > 0) & (other > 0) & np.isfinite(temperature) & np.isfinite(other)
        possible &= np.isfinite(x).all(axis=0)
        there = np.flatnonzero((x > 0).any(axis=1))
    names = tuple(COMPONENTS[at] for at in there)
    states = np.flatnonzero(possible)
    for start in range(0, states.size, _BLOCK):
        part = states[start : start + _BLOCK]
        yield part, names, np.ascontiguousarray(x[there] if x.shape[1] == 1 else x[np.ix_(there, part)])


def _state(mixture: Mixture, names: tuple[str, ...], gas: Array, temperature: Array, density: Array) -> Array:
    """Return the fields of `GasState`, in their order. [field, state]"""
    a = residual(mixture, temperature, density)
    r, rt = mixture.gas_constant, mixture.gas_constant * temperature
    ideal_capacity, ideal_enthalpy, ideal_entropy = ideal_gas(names, gas, temperature)
    z, stiffness, heating = 1 + a.d, 1 + 2 * a.d + a.dd, 1 + a.d - a.dt
    cv = ideal_capacity - IDEAL_CONSTANT - r * a.tt
    cp = cv + r * heating**2 / stiffness
    pressure = density * rt * z
    with np.errstate(invalid="ignore"):
        sound = np.sqrt(rt / mixture.molar_mass * stiffness * cp / cv)
    return np.stack(
        np.broadcast_arrays(
            z,
            density * mixture.molar_mass,
            density,
            mixture.molar_mass,
            cv,
            cp,
            sound,
            sound**2 * mixture.molar_mass / (rt * z),
            (heating / stiffness - 1) / (cp * density),
            ideal_enthalpy + rt * (a.t + a.d),
            ideal_entropy + r * (a.t - a.a - np.log(pressure / (z * ZERO_PRESSURE))),
        )
    )
