"""Flow through a sharp-edged orifice plate, by ISO 5167-2.

Arguments and answers are SI floats or arrays; nan where there is no answer (no difference of pressure, a stopped
engine, a bore that is not smaller than the pipe). The pressure is the absolute one at the upstream tap; where the
static pressure is taken after the plate, the difference is added first.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from asfound.quantities.typing import Array, Values

MEASURED_AT = 293.15
"""Temperature at which plate and pipe are measured. [K]"""
PLATE_EXPANSION = 16.7e-6
"""Of austenitic steel, 9.25e-6 per degree Fahrenheit: AGA Report No. 3 part 2, from memory. [1/K]"""
PIPE_EXPANSION = 11.2e-6
"""Of carbon steel, 6.2e-6 per degree Fahrenheit: AGA Report No. 3 part 2, from memory. [1/K]"""
FLANGE_TAP = 0.0254
SMALL_PIPE = 0.07112
"""Below it the coefficient has a term more. [m]"""
ROUNDS = 3
"""Of Newton's method over the Reynolds number: the answer is then good to 2e-11."""


class Taps(NamedTuple):
    """Where the taps are, over the bore of the pipe."""

    before: Array
    """L1: of the first, from the upstream face."""
    after: Array
    """L2': of the second, from the downstream face."""


def taps(first: Values, pipe: Values) -> Taps:
    """Return the places of the taps from the distance of the first, within what the standard lets them be off.

    Parameters
    ----------
    first : float or array
        Distance from the plate: 0 with corner taps, 25.4 mm with flange taps, one pipe bore with D and D/2 taps. [m]
    pipe : float or array
        Bore of the pipe. [m]

    Returns
    -------
    Taps
        nan where it is none of the three.

    References
    ----------
    .. [1] ISO 5167-2:2003, 5.2 (places and their tolerances, from memory) and 5.3.2.1.
    """
    distance, bore = np.broadcast_arrays(np.asarray(first, dtype=float), np.asarray(pipe, dtype=float))
    with np.errstate(all="ignore"):
        over = distance / bore
        kinds = (np.abs(distance) <= 1e-3, np.abs(distance - FLANGE_TAP) <= 1.001e-3, np.abs(over - 1) <= 0.1)
        flange = FLANGE_TAP / bore
        before = np.select(kinds, (np.zeros_like(bore), flange, np.ones_like(bore)), np.nan)
        after = np.select(kinds, (np.zeros_like(bore), flange, np.full_like(bore, 0.47)), np.nan)
    return Taps(before, after)


def discharge_coefficient(beta: Values, reynolds: Values, tap: Taps, pipe: Values) -> Values:
    """Return the discharge coefficient by the equation of Reader-Harris and Gallagher.

    Parameters
    ----------
    beta : float or array
        Bore of the plate over bore of the pipe. [1]
    reynolds : float or array
        Reynolds number with the bore of the pipe. [1]
    tap : Taps
    pipe : float or array
        Bore of the pipe. [m]

    References
    ----------
    .. [1] ISO 5167-2:2003, 5.3.2.1, Equation 4.

    Examples
    --------
    >>> C = discharge_coefficient(0.49, 490_536.0, taps(0.0254, 0.1023), 0.1023)
    >>> print(f"{C:.4f}")
    0.6034
    """
    return _Coefficient.of(beta, tap, pipe).at(_tenth_root(reynolds))


class _Coefficient(NamedTuple):
    """The coefficient of a plate as a polynomial in the tenth root of 1 / Re, so that iterating costs little."""

    c0: Array
    c3: Array
    c7: Array
    c8: Array
    c11: Array

    @classmethod
    def of(cls, beta: Values, tap: Taps, pipe: Values) -> _Coefficient:
        """Collect the powers of the Reynolds number in the equation."""
        with np.errstate(all="ignore"):
            ratio = np.asarray(beta, dtype=float)
            b = np.where((ratio > 0) & (ratio < 1), ratio, np.nan)
            b2, root = b * b, b**0.1  # products of these: numpy takes whole powers the slow way
            b4, root2 = b2 * b2, root * root
            root3, root5 = root2 * root, root2 * root2 * root
            stream = (0.043 + 0.080 * np.exp(-10 * tap.before) - 0.123 * np.exp(-7 * tap.before)) * b4 / (1 - b4)
            dam = 2 * tap.after / (1 - b)
            small = np.where(np.less(pipe, SMALL_PIPE), 0.011 * (0.75 - b) * (2.8 - np.divide(pipe, 0.0254)), 0.0)
            b07, b35 = root5 * root2, b2 * b * root5
            lee = 1 - 0.8 * dam**0.1
            a = 19_000**0.8 * root * b07
            low = b35 * 1e6**0.3
            return cls(
                c0=0.5961 + 0.0261 * b2 - 0.216 * b4 * b4 + stream - 0.031 * dam * lee * b * root3 + small,
                c3=0.0188 * low,
                c7=0.000521 * 1e6**0.7 * b07,
                c8=-0.11 * a * stream,
                c11=0.0063 * a * low,
            )

    def at(self, root: Array) -> Array:
        """Return the coefficient at a tenth root of 1 / Re."""
        r3 = root * root * root
        r7 = r3 * r3 * root
        return self.c0 + r3 * self.c3 + r7 * (self.c7 + root * (self.c8 + r3 * self.c11))

    def at_flow(self, ideal: Array) -> Array:
        """Return the coefficient at its own flow; ``ideal``: the Reynolds number of a flow with coefficient 1.

        Newton's method for r, the tenth root of 1 / Re, in r^10 C(r) = 1 / ideal: products only.
        """
        wanted, r = 1 / ideal, _tenth_root(0.6 * ideal)
        s0, s3, s7, s8, s11 = 10 * self.c0, 13 * self.c3, 17 * self.c7, 18 * self.c8, 21 * self.c11
        for _ in range(ROUNDS):
            r3 = r * r * r
            r4, r9 = r3 * r, r3 * r3 * r3
            found = self.c0 + r3 * (self.c3 + r4 * (self.c7 + r * (self.c8 + r3 * self.c11)))
            slope = s0 + r3 * (s3 + r4 * (s7 + r * (s8 + r3 * s11)))
            r = r - (r * found - wanted / r9) / slope
        return self.at(r)


def expansibility(beta: Values, pressure: Values, difference: Values, exponent: Values) -> Values:
    """Return the factor for the gas getting thinner on its way through the plate.

    Parameters
    ----------
    beta : float or array
        [1]
    pressure : float or array
        Absolute, at the upstream tap. [Pa]
    difference : float or array
        Across the plate. [Pa]
    exponent : float or array
        Isentropic exponent of the gas. [1]

    References
    ----------
    .. [1] ISO 5167-2:2003, 5.3.2.2, Equation 5; for a pressure ratio of 0.75 and above.

    Examples
    --------
    >>> print(f"{expansibility(0.0222 / 0.0739, 1e5, 1e3, 1.4):.5f}")
    0.99747
    """
    with np.errstate(all="ignore"):
        b4 = np.square(np.square(beta))
        ratio = 1 - np.divide(difference, pressure)
        kept = np.where(ratio > 0, ratio, np.nan) ** np.divide(1.0, exponent)
        factor: Values = 1 - (0.351 + 0.256 * b4 + 0.93 * b4 * b4) * (1 - kept)
        return factor


def method_uncertainty(
    beta: Values, reynolds: Values, pipe: Values, pressure: Values, difference: Values, exponent: Values
) -> Values:
    """Return the relative standard uncertainty of discharge coefficient and expansibility together.

    The standard's figures are for 95 %; they are halved here. They hold for a plate and a run built and kept as the
    standard says: a worn edge, dirt or a short straight run cost several per cent more, always to the low side.

    References
    ----------
    .. [1] ISO 5167-2:2003, 5.3.3.1 and 5.3.3.2 (from memory): 0.7 - beta, 0.5, 1.667 beta - 0.5 per cent; more for
       small pipes and for low Reynolds numbers; 3.5 dp / (kappa p1) per cent.
    """
    with np.errstate(all="ignore"):
        b = np.asarray(beta, dtype=float)
        percent = np.where(b < 0.2, 0.7 - b, np.where(b <= 0.6, 0.5, 1.667 * b - 0.5))
        small = np.where(np.less(pipe, SMALL_PIPE), 0.9 * (0.75 - b) * (2.8 - np.divide(pipe, 0.0254)), 0.0)
        slow = np.where((b > 0.5) & np.less(reynolds, 10_000), 0.5, 0.0)
        thinning = 3.5 * np.divide(difference, np.multiply(exponent, pressure))
        relative: Values = 0.005 * np.hypot(percent + small + slow, thinning)
        return relative


class OrificeFlow(NamedTuple):
    """What an orifice run measures; arrays of one shape, nan where there is no answer."""

    mass_flow: Array
    """[kg/s]"""
    reynolds: Array
    """With the bore of the pipe. [1]"""
    beta: Array
    """Both bores at the temperature of the gas. [1]"""
    coefficient: Array
    """[1]"""
    expansibility: Array
    """[1]"""


def orifice_flow(
    bore: Values,
    pipe: Values,
    first_tap: Values,
    difference: Values,
    pressure: Values,
    density: Values,
    exponent: Values,
    viscosity: Values,
    *,
    temperature: Values = MEASURED_AT,
    offset: Values = 0.0,
) -> OrificeFlow:
    """Return the mass flow through an orifice plate.

    Parameters
    ----------
    bore, pipe : float or array
        Of the plate and of the pipe before it, measured at 20 °C. [m]
    first_tap : float or array
        Distance of the upstream tap, see `taps`. [m]
    difference : float or array
        Across the taps. [Pa]
    pressure : float or array
        Absolute, at the upstream tap. [Pa]
    density, exponent, viscosity : float or array
        Of the gas there. [kg/m³], [1], [Pa s]
    temperature : float or array
        Of plate and pipe, that is of the gas. [K]
    offset : float or array
        How far the true coefficient lies off the standard's, in its standard uncertainties. [1]

    Returns
    -------
    OrificeFlow

    References
    ----------
    .. [1] ISO 5167-1:2003, 5.1, Equation 1; ISO 5167-2:2003.

    Examples
    --------
    >>> found = orifice_flow(0.05, 0.1023, 0.0254, 12e3, 8e5, 5.6, 1.3, 1.13e-5)
    >>> print(f"{found.mass_flow:.5f} kg/s")
    0.44536 kg/s
    """
    with np.errstate(all="ignore"):
        warmer = np.subtract(temperature, MEASURED_AT)
        d, wide = np.multiply(bore, 1 + PLATE_EXPANSION * warmer), np.multiply(pipe, 1 + PIPE_EXPANSION * warmer)
        beta = np.divide(d, wide)
        drop = np.where(np.greater(difference, 0), difference, np.nan)
        thinning = expansibility(beta, pressure, drop, exponent)
        narrowing = 1 - np.square(np.square(beta))
        ideal = np.pi / 4 * np.square(d) * np.sqrt(2 * drop * density / narrowing) * thinning
        to_reynolds = 4 / (np.pi * wide * np.asarray(viscosity, dtype=float))
        # of the bores as they were measured: the places of the taps do not hang on a fraction of a thousandth
        curve = _Coefficient.of(beta, taps(first_tap, pipe), wide)
        coefficient = curve.at_flow(to_reynolds * ideal)
        flow = ideal * coefficient
        if np.any(offset):
            off = method_uncertainty(beta, to_reynolds * flow, wide, pressure, drop, exponent)
            flow = flow * (1 + np.multiply(offset, off))
    return OrificeFlow(*np.broadcast_arrays(flow, to_reynolds * flow, beta, coefficient, thinning))


def least_reynolds(beta: Values, pipe: Values, tap: Taps) -> Values:
    """Return the Reynolds number below which the standard gives no coefficient.

    References
    ----------
    .. [1] ISO 5167-2:2003, 5.3.1 (from memory): 5000, and with flange taps 170 beta² D (D in mm), with the others
       16 000 beta² above beta 0.56.
    """
    with np.errstate(all="ignore"):
        b2 = np.square(beta)
        flange = np.maximum(5_000, 170 * b2 * np.multiply(pipe, 1e3))
        others = np.where(np.greater(beta, 0.56), 16_000 * b2, 5_000)
        return np.where((tap.before > 0) & (tap.before < 0.9), flange, others)


def _tenth_root(reynolds: Values) -> Array:
    return np.where(np.greater(reynolds, 0), reynolds, np.nan) ** -0.1
