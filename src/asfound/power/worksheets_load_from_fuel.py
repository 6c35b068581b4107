"""Worksheets of the load by the fuel: the road of last resort, because it takes for granted what one wants to know.

The efficiency of a data sheet is given as a way to the efficiency at the shaft, after the one that is worked out. So
the sheet itself, which lets no number rest on itself, never finds an efficiency from a power that was made with one.
"""

from __future__ import annotations

import numpy as np

import asfound.power.shaft_power as shaft
from asfound.quantities.refusals import between
from asfound.quantities.typing import Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Take, worksheet

_EFFICIENCY = between(
    0.05, 0.6, "5 to 60 %", "Take the efficiency at the shaft, on the net heating value, at this load."
)


@worksheet(
    title="Efficiency at the shaft, taken over from the data sheet",
    takes=(Take(quantity="data_sheet_efficiency", place="engine"),),
    gives="brake_efficiency",
    method=Method("efficiency of the data sheet, assumed to hold here", "engineering_judgement"),
    refuses={"data_sheet_efficiency": _EFFICIENCY},
)
def efficiency_of_the_data_sheet(efficiency: Values) -> Values:
    """Return the efficiency that the engine's data sheet promises at this load, net. [1]"""
    return np.multiply(efficiency, 1.0)


@worksheet(
    title="Engine power, from the fuel",
    takes=(Take(quantity="fuel_heat_input_net", place="engine"), Take(quantity="brake_efficiency", place="engine")),
    gives="engine_power",
    method=Method("net heat of the fuel times an efficiency that was not measured here", "own_calculation"),
    refuses={"brake_efficiency": _EFFICIENCY},
)
def engine_power_from_fuel(heat: Values, efficiency: Values) -> Values:
    """Return what the engine would carry if it were as good as its data sheet. [W]

    It tells a gross error of the other roads, or a bad engine; it cannot tell which.
    """
    return shaft.from_fuel(heat, efficiency)
