"""Air taken out of an analysis: what a sample that was not tight would have shown without it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from asfound.fuel.composition import Composition
from asfound.fuel.contaminants import NITROGEN_IN_AIR, OXYGEN_IN_AIR, air_in_the_sample


def without_air(gas: Composition) -> tuple[Composition, float]:
    """Return the gas less the air that its oxygen and nitrogen can be, scaled back to what it added up to.

    Parameters
    ----------
    gas : Composition
        A gas that holds no oxygen of its own; a landfill gas may, and is then made too rich.

    Returns
    -------
    Composition, float
        The gas without air, and the share of air that was taken out. [mol/mol]

    Examples
    --------
    >>> from asfound.fuel.composition import composition
    >>> gas, air = without_air(composition({"methane": 0.90, "nitrogen": 0.0822, "oxygen": 0.0178}))
    >>> print(f"{air:.3f} {gas.by_name['methane']:.4f} {gas.by_name['oxygen']:.4f}")
    0.085 0.9827 0.0000
    """
    by_name = gas.by_name
    air = float(air_in_the_sample(by_name.get("oxygen", 0.0), by_name.get("nitrogen", 0.0)))
    if not 0 < air < 1:
        return gas, 0.0
    off = np.array(
        [air * {"oxygen": OXYGEN_IN_AIR, "nitrogen": NITROGEN_IN_AIR}.get(name, 0.0) for name in gas.components]
    )
    left = np.maximum(gas.fractions - off, 0.0)  # rounding alone can leave less than nothing
    scale = gas.total / left.sum() if left.sum() > 0 else 1.0
    source = f"{gas.source}, {100 * air:.2g} % air taken out".strip(", ")
    return replace(gas, fractions=left * scale, covariance=gas.covariance * scale**2, source=source, scaled=True), air
