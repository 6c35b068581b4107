"""Worksheets of the exhaust: the mean of the runs of an emission test.

The result of a test is the arithmetic mean of what each run came to (40 CFR 60 subpart JJJJ, Table 2; 63 subpart ZZZZ,
Table 4), so the mean is taken of the rates, after each run was corrected to the permit's oxygen or divided by its own
work. Rules that judge each run by itself (44. BImSchV) look at the runs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from asfound.quantities.typing import Array, Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Take, worksheet

MEAN = Method("arithmetic mean of the runs", "cfr40_60_jjjj", "60.4244, Table 2")
RUNS = "run_*"


@dataclass(frozen=True, slots=True)
class Averaged:
    """A quantity of which the runs have a mean."""

    quantity: str
    title: str


AVERAGED = (
    Averaged("nox_at_reference_oxygen", "NOx at the permit's oxygen"),
    Averaged("co_at_reference_oxygen", "CO at the permit's oxygen"),
    Averaged("voc_at_reference_oxygen", "VOC at the permit's oxygen"),
    Averaged("formaldehyde_at_reference_oxygen", "Formaldehyde at the permit's oxygen"),
    Averaged("nox_mass_per_energy", "NOx per energy at the shaft"),
    Averaged("co_mass_per_energy", "CO per energy at the shaft"),
    Averaged("voc_mass_per_energy", "VOC per energy at the shaft"),
    Averaged("formaldehyde_mass_per_energy", "Formaldehyde per energy at the shaft"),
    Averaged("nox_mass_concentration", "NOx by mass in a normal cubic metre"),
    Averaged("co_mass_concentration", "CO by mass in a normal cubic metre"),
    Averaged("formaldehyde_mass_concentration", "Formaldehyde by mass in a normal cubic metre"),
    Averaged("total_carbon_mass_concentration", "Total carbon by mass in a normal cubic metre"),
    Averaged("nox_mass_flow", "NOx per hour"),
    Averaged("co_mass_flow", "CO per hour"),
    Averaged("voc_mass_flow", "VOC per hour"),
    Averaged("formaldehyde_mass_flow", "Formaldehyde per hour"),
    Averaged("nox_mass_per_heat", "NOx per heat of the fuel"),
    Averaged("co_mass_per_heat", "CO per heat of the fuel"),
    Averaged("voc_mass_per_heat", "VOC per heat of the fuel"),
    Averaged("formaldehyde_mass_per_heat", "Formaldehyde per heat of the fuel"),
    Averaged("hydrocarbons_at_reference_oxygen", "Hydrocarbons at the permit's oxygen"),
    Averaged("so2_at_reference_oxygen", "SO2 at the permit's oxygen"),
    Averaged("so2_mass_concentration", "SO2 by mass in a normal cubic metre"),
    Averaged("so2_mass_flow", "SO2 per hour"),
    Averaged("voc_mass_concentration", "VOC by mass in a normal cubic metre"),
    Averaged("methane_mass_flow", "Methane per hour"),
    Averaged("methane_mass_per_energy", "Methane per energy at the shaft"),
    Averaged("excess_air_ratio", "Mixture"),
)


def mean_of_runs(runs: Values) -> Values:
    """Return the arithmetic mean of the runs of a test.

    Parameters
    ----------
    runs : array
        (runs, draws), or (runs, 1) where every run is exact.

    Returns
    -------
    array
        (draws,) or (1,); nan where a run has no answer.
    """
    found: Array = np.asarray(runs, dtype=float).mean(axis=0)
    return found


def _mean(one: Averaged) -> None:
    """Register the mean of one quantity."""

    def formula(runs: Values) -> Values:
        return mean_of_runs(runs)

    formula.__name__ = formula.__qualname__ = f"mean_of_runs_{one.quantity}"
    formula.__doc__ = f"Return the mean of the runs of a test: {one.title}. Each run counts the same."
    register: Callable[[Callable[..., Values]], Callable[..., Values]] = worksheet(
        title=f"{one.title}, mean of the runs",
        takes=(Take(quantity=one.quantity, place=RUNS, each=True),),
        gives=one.quantity,
        at="engine",
        method=MEAN,
        cautions=("local",),
    )
    register(formula)


for _one in AVERAGED:
    _mean(_one)
