"""Two sources of gas mixed, and what a new well does to the gas that an engine gets."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.fuel import iso6976
from asfound.fuel.components import table
from asfound.fuel.composition import Composition
from asfound.fuel.iso6976 import DEFAULT_REFERENCE, Reference
from asfound.fuel.stoichiometry import stoichiometry
from asfound.quantities.typing import Array, Values

PROPERTIES = ("volume_gross", "volume_net", "wobbe_gross", "relative_density", "density", "molar_mass")
"""What `mixtures` follows, besides the air demand."""
STEPS = 1001
"""Shares that `share_within` looks at; between two of them a property is taken as straight."""


def blend(first: Composition, second: Composition, share: float) -> Composition:
    """Return two gases mixed.

    Parameters
    ----------
    first, second : Composition
        Analyses that are independent of each other.
    share : float
        Of the second, in moles; in volume at one state the same within the difference of their Z. [mol/mol]

    Returns
    -------
    Composition
        Its covariance is that of the two analyses; the older sampling date holds for both.

    Raises
    ------
    InputError
        A share outside 0 to 1.

    Examples
    --------
    >>> from asfound.fuel.composition import composition
    >>> lean, rich = composition({"methane": 1.0}), composition({"methane": 0.8, "ethane": 0.2})
    >>> round(blend(lean, rich, 0.25).by_name["ethane"], 6)
    0.05
    """
    if not 0 <= share <= 1:
        raise InputError("share", f"{share:g}", "is no share of a mixture", allowed="0 to 1 (0 to 100 %)")
    names = tuple(dict.fromkeys((*first.components, *second.components)))
    a, b = _onto(first, names), _onto(second, names)
    dates = [one.sampled for one in (first, second) if one.sampled]
    total = (1 - share) * first.total_analysed + share * second.total_analysed
    return Composition(
        components=names,
        fractions=(1 - share) * a @ first.fractions + share * b @ second.fractions,
        covariance=(1 - share) ** 2 * a @ first.covariance @ a.T + share**2 * b @ second.covariance @ b.T,
        sampled=min(dates) if len(dates) == 2 else None,
        source=f"{100 * (1 - share):.4g} % {first.source or 'first'}, {100 * share:.4g} % {second.source or 'second'}",
        heavier={**first.heavier, **second.heavier},
        total_analysed=total,
        scaled=first.scaled or second.scaled,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mixtures:
    """Properties along the share of the second gas; k shares."""

    shares: Array
    """(k,) of the second gas. [mol/mol]"""
    values: Mapping[str, Array]
    """(k,) each, SI: those of `PROPERTIES`, ``air_demand`` [mol/mol], and whatever was asked for besides."""
    reference: Reference

    def change(self, name: str) -> Array:
        """Return how a property changes against the first gas alone, as a share of it. (k,) [1]"""
        return np.asarray(self.values[name] / self.values[name][0] - 1)


def mixtures(
    first: Composition,
    second: Composition,
    shares: Values | None = None,
    *,
    reference: Reference = DEFAULT_REFERENCE,
    also: Mapping[str, Callable[[Array, tuple[str, ...]], Array]] | None = None,
) -> Mixtures:
    """Return what mixing does to heating value, Wobbe index, density and air demand.

    Parameters
    ----------
    first, second : Composition
        The gas now, and the gas that is to come. Each must add up to 1.
    shares : array, (k,), optional
        Of the second gas; 0 to 1 in steps of 0.1 when left out. The first alone is always put before them. [mol/mol]
    reference : Reference
        Of the volumes.
    also : mapping of str to function, optional
        Other properties, each from mole fractions (k, 60) over the standard's components, and their names:
        a methane number for instance.

    Raises
    ------
    InputError
        A share outside 0 to 1, or a gas that does not add up to 1.
    """
    wanted = np.linspace(0.0, 1.0, 11) if shares is None else np.atleast_1d(np.asarray(shares, dtype=float))
    if not ((wanted >= 0) & (wanted <= 1)).all():
        raise InputError(
            "share", f"{wanted.min():g} to {wanted.max():g}", "are no shares of a mixture", allowed="0 to 1"
        )
    at = wanted if wanted[0] == 0 else np.concatenate(([0.0], wanted))
    for one in (first, second):
        one.properties(reference)  # refuses a gas that does not add up
    x = np.outer(1 - at, first.whole()) + np.outer(at, second.whole())
    found = iso6976.properties(x, None, reference)
    values = {name: np.asarray(getattr(found, name)) for name in PROPERTIES}
    values["air_demand"] = np.asarray(stoichiometry(x).dry_air)
    for name, function in (also or {}).items():
        values[name] = np.asarray(function(x, table().names))
    return Mixtures(shares=at, values=values, reference=reference)


def share_within(
    first: Composition,
    second: Composition,
    name: str,
    low: float,
    high: float,
    *,
    reference: Reference = DEFAULT_REFERENCE,
    also: Mapping[str, Callable[[Array, tuple[str, ...]], Array]] | None = None,
) -> float | None:
    """Return how much of the second gas may come before a property leaves its band.

    Parameters
    ----------
    name : str
        One of `PROPERTIES`, ``air_demand``, or of ``also``.
    low, high : float
        The band, in SI; infinite for no limit on that side.

    Returns
    -------
    float or None
        Share of the second gas, 1 where all of it may come; None where the first gas alone is outside. [mol/mol]
    """
    along = mixtures(first, second, np.linspace(0.0, 1.0, STEPS), reference=reference, also=also)
    value = along.values[name]
    outside = ~((value >= low) & (value <= high))
    if outside[0]:
        return None
    if not outside.any():
        return 1.0
    at = int(outside.argmax())
    before, after = float(value[at - 1]), float(value[at])
    limit = high if after > high else low
    step = (limit - before) / (after - before) if after != before else 0.0
    return float(along.shares[at - 1] + step * (along.shares[at] - along.shares[at - 1]))


def _onto(one: Composition, names: tuple[str, ...]) -> Array:
    """Return the matrix that puts the components of one gas where they stand among ``names``."""
    matrix = np.zeros((len(names), len(one.components)))
    for column, name in enumerate(one.components):
        matrix[names.index(name), column] = 1.0
    return matrix
