"""Express an exhaust concentration at the oxygen level that a permit refers to."""

from __future__ import annotations

import numpy as np

from asfound.quantities.possible import above
from asfound.quantities.typing import Values

OXYGEN_IN_AIR = 0.209  # mol/mol, dry; 40 CFR 60.4213 Eq. 3 (20.9 %). Some rules use 0.21: pass it in.


def at_reference_oxygen(
    concentration: Values, oxygen: Values, reference_oxygen: Values, oxygen_in_air: Values = OXYGEN_IN_AIR
) -> Values:
    """Return a dry concentration as it would read at the reference oxygen level.

    It undoes dilution by air and nothing else: not for enriched intake air, nor where air enters between the
    engine and the
    probe. Where ``oxygen`` is not below ``oxygen_in_air``, as in a log while the engine stands, it answers nan.

    Parameters
    ----------
    concentration : float or array
        Dry concentration; the answer has the same unit. [mol/mol or kg/m³]
    oxygen : float or array
        Dry oxygen, same probe, same minute. [mol/mol]
    reference_oxygen, oxygen_in_air : float or array
        Level the permit refers to, and what its rule takes for air. [mol/mol]

    References
    ----------
    .. [1] C_r = C (O_a - O_r) / (O_a - O): 40 CFR 60.4213(d)(2), Equation 3; its 5.9 is 20.9 - 15.

    Examples
    --------
    >>> print(f"{1e6 * at_reference_oxygen(120e-6, 0.085, 0.15):.1f} ppm")
    57.1 ppm
    """
    with np.errstate(all="ignore"):
        air = above(np.subtract(oxygen_in_air, oxygen))
        return concentration * np.subtract(oxygen_in_air, reference_oxygen) / air
