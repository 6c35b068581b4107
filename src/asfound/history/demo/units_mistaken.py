"""Numbers under a wrong head: what a log gives when it is read by its head and was written otherwise. SI arrays."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from asfound.quantities.typing import Array

# Type K wire on a type N input whose terminals are at 35 °C: junction, and what the input shows, °C. Computed from the
# reference functions of IEC 60584-1 (NIST Monograph 175) with `asfound.cylinders.thermocouple`; this room may not use
# that one, so the figures stand here, and tests/history holds them to it.
_JUNCTION = np.array([0, 50, 100, 150, 200, 250, 300, 350, 400, 450, 500, 550, 600, 650, 700, 750, 800.0])
_SHOWN = np.array([
    -18.47, 57.34, 127.96, 192.28, 251.83, 309.39, 366.27, 422.55, 478.27, 533.55, 588.50, 643.14, 697.45, 751.41,
    804.98, 858.14, 910.90,
])  # fmt: skip


def celsius_read_as_fahrenheit(kelvin: Array) -> Array:
    """Return the temperature that is read where °C stand under a head that says °F. [K]"""
    return (kelvin - 273.15 - 32) * 5 / 9 + 273.15


def absolute_read_as_gauge(pressure: Array, barometer: Array | float) -> Array:
    """Return the absolute pressure that is read where absolute pressure stands under a head that says gauge. [Pa]"""
    return pressure + barometer


def type_k_on_n(kelvin: Array) -> Array:
    """Return what a type N input shows of a type K thermocouple. [K]"""
    celsius: NDArray[np.float64] = np.interp(kelvin - 273.15, _JUNCTION, _SHOWN)
    return celsius + 273.15
