"""Reconciliation in the form of VDI 2048: 95 % half-widths in and out, and its two quality controls."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from asfound.crosscheck.balances import Balances
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.reconcile import Reconciled, reconcile
from asfound.crosscheck.tests_of_readings import GlobalTest, global_test
from asfound.quantities.typing import Array

K = 1.96
"""Half-width of a 95 % interval over the standard uncertainty, as the guideline rounds it. [1]"""
LEVEL = 0.05
LEAST_SHARE = 0.1
"""The local control takes a variance of the improvement of at least this share of the measured value's. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Validated:
    """Measured values improved by the balances."""

    names: tuple[str, ...]
    values: Array
    half_widths: Array
    improvement: Array
    """Improved less measured, shape (n,)."""
    unmeasured: Mapping[str, tuple[float, float]]
    """Value and half-width by name; nan where it does not follow from the balances."""
    control: GlobalTest
    """Quality control of all values together."""
    local: Array
    """|improvement| over its half-width, at most 1 where a value passes, shape (n,); 0 where nothing checks it.

    The half-width is that of the improvement, or sqrt(0.1) of the measured value's where that is more: so values with
    little redundancy are not accused for next to nothing. `adjustment_tests` has it without that floor.
    """
    reconciled: Reconciled

    @property
    def suspects(self) -> tuple[str, ...]:
        """Values that do not pass the local control, the farthest first. Correlated values point at each other."""
        return tuple(self.names[at] for at in np.argsort(-self.local) if self.local[at] > 1.0)


def validate(
    balances: Balances,
    values: Mapping[str, float],
    half_widths: Mapping[str, float],
    correlations: Mapping[tuple[str, str], float] | None = None,
    start: Mapping[str, float] | None = None,
) -> Validated:
    """Return the improved values with half-widths, and the quality controls at 95 %.

    Parameters
    ----------
    balances : Balances
        Constraints of the guideline; what is unmeasured in them is eliminated.
    values, half_widths : mappings of str to float
        Measured values and half-widths of their 95 % intervals, by name, in the order of the answer.
    correlations : mapping of (str, str) to float, optional
        Correlation of two measured values.

    References
    ----------
    .. [1] VDI 2048 part 1, Uncertainties of measurement during acceptance tests on energy-conversion and power plants.
       The floor of the local control: as a public Modelica compiler does it (source `modelica_reconciliation_tests`).
    """
    names = tuple(values)
    u = np.array([half_widths[name] for name in names]) / K
    covariance = np.diag(u**2)
    for (one, other), r in (correlations or {}).items():
        row, column = names.index(one), names.index(other)
        covariance[row, column] = covariance[column, row] = r * u[row] * u[column]
    found = reconcile(balances, Readings(names, np.array([values[name] for name in names]), covariance), start=start)
    order = [found.readings.at(name) for name in names]
    widest = np.maximum(found.detectability, np.sqrt(LEAST_SHARE)) * found.readings.u * K
    local = np.abs(found.adjustment) / np.where(widest > 0, widest, np.inf)
    pairs = zip(balances.unmeasured, found.unmeasured, K * found.u_unmeasured, strict=True)
    return Validated(
        names=names,
        values=found.x[order],
        half_widths=K * found.u[order],
        improvement=found.adjustment[order],
        unmeasured={name: (float(value), float(half)) for name, value, half in pairs},
        control=global_test(found.parity, LEVEL),
        local=local[order],
        reconciled=found,
    )
