"""The saturation pressure that reports by ISO 8178 and the marine rules are counted with: to read old reports again.

The air of a visit is counted with `site_air.saturation_pressure`, which is right within 0.12 %. The polynomial is 6 %
high at the freezing point and 0.4 % low at 45 °C.
"""

from __future__ import annotations

import numpy as np

from asfound.quantities.typing import Values

COEFFICIENTS = (4.856884, 0.2660089, 0.01688919, -7.477123e-5, 8.10525e-6, -3.115221e-8)
TORR = 101_320.0 / 760.0
"""Pa; the rule writes 101.32 kPa."""


def saturation_pressure_iso8178(temperature: Values) -> Values:
    """Return the saturation pressure of water by the polynomial of ISO 8178.

    Parameters
    ----------
    temperature : float or array
        [K]

    Returns
    -------
    float or array
        Made for 0 to 50 °C; nan outside. [Pa]

    References
    ----------
    .. [1] ISO 8178-1, and the NOx Technical Code; attribution from memory.
    """
    with np.errstate(all="ignore"):
        t = np.asarray(temperature, dtype=float) - 273.15
        inside = np.where((t >= 0) & (t <= 50), t, np.nan)
        return np.asarray(TORR * np.polynomial.polynomial.polyval(inside, COEFFICIENTS), dtype=np.float64)
