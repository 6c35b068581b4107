"""Count the atoms in a mole of fuel gas."""

from __future__ import annotations

from asfound.quantities.typing import Values

# Atoms of carbon, hydrogen, oxygen, nitrogen in a molecule. C6+ counts as hexane: common practice, no source.
ATOMS: dict[str, tuple[float, float, float, float]] = {
    "fuel_methane": (1, 4, 0, 0),
    "fuel_ethane": (2, 6, 0, 0),
    "fuel_propane": (3, 8, 0, 0),
    "fuel_isobutane": (4, 10, 0, 0),
    "fuel_butane": (4, 10, 0, 0),
    "fuel_isopentane": (5, 12, 0, 0),
    "fuel_pentane": (5, 12, 0, 0),
    "fuel_hexanes_plus": (6, 14, 0, 0),
    "fuel_nitrogen": (0, 0, 0, 2),
    "fuel_carbon_dioxide": (1, 0, 2, 0),
    "fuel_oxygen": (0, 0, 2, 0),
    "fuel_hydrogen": (0, 2, 0, 0),
    "fuel_carbon_monoxide": (1, 0, 1, 0),
}


def atoms(*fractions: Values) -> tuple[Values, Values, Values, Values]:
    """Return the atoms of carbon, hydrogen, oxygen and nitrogen in a mole of the gas.

    Fractions need not add up to one: an analysis that does not is taken as it is, component by component, and
    divided by its own sum, so that the answer is for a mole of what was analysed.

    Parameters
    ----------
    *fractions : float or array
        Mole fractions in the order of :data:`ATOMS`. [mol/mol]

    Returns
    -------
    tuple of float or array
        Carbon, hydrogen, oxygen, nitrogen. [mol/mol]

    Raises
    ------
    ValueError
        When the number of fractions is not that of :data:`ATOMS`.

    Examples
    --------
    >>> [float(n) for n in atoms(0.9, 0.1, *[0.0] * 11)]
    [1.1, 4.2, 0.0, 0.0]
    """
    counts = list(ATOMS.values())
    total = sum(fractions)
    c, h, o, n = (
        sum(x * count[element] for x, count in zip(fractions, counts, strict=True)) / total for element in range(4)
    )
    return c, h, o, n
