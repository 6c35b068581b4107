"""What the worksheets of mixture, water and exhaust flow all take: the gas, the air, what did not burn."""

from __future__ import annotations

import numpy as np

from asfound.exhaust.mixture_balance import Pollutants
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Reading, Result
from asfound.quantities.worksheets import Assumption, Take

MOST_CARBON_DIOXIDE = 0.30
"""Biogas with 60 % carbon dioxide burned without excess air leaves 24 %; nothing that an engine burns leaves more."""


def _natural_gas(quantity: str, value: float, half_width: float) -> Take:
    """Return a take of the gas's atoms that falls back on pipeline gas, as wide as such gases differ."""
    return Take(
        quantity=quantity,
        place="fuel",
        assume=Assumption(
            value=value,
            standard_uncertainty=half_width / 3**0.5,
            says="natural gas of pipeline quality, no analysis at hand",
            source="engineering_judgement",
            distribution="rectangular",
        ),
    )


CARBON = _natural_gas("fuel_carbon_atoms", 1.06, 0.06)
HYDROGEN = _natural_gas("fuel_hydrogen_atoms", 4.08, 0.10)
FUEL_OXYGEN = _natural_gas("fuel_oxygen_atoms", 0.02, 0.02)
NITROGEN = _natural_gas("fuel_nitrogen_atoms", 0.02, 0.02)
GAS = (CARBON, HYDROGEN, FUEL_OXYGEN, NITROGEN)

AIR = Take(
    quantity="air_water_fraction",
    place="site",
    assume=Assumption(
        value=0.012,
        standard_uncertainty=0.012 / 3**0.5,
        says="1.2 % water in the air, from none to that of a hot and sticky day; humidity was not taken",
        source="engineering_judgement",
        distribution="rectangular",
    ),
)


def _if_read(quantity: str) -> Take:
    return Take(quantity=quantity, optional=True, default=0.0)


CO, NOX, NO2, UNBURNED = (
    _if_read(one) for one in ("exhaust_co_dry", "exhaust_nox_dry", "exhaust_no2_dry", "exhaust_hydrocarbons_dry")
)
POLLUTANTS = (CO, UNBURNED, NOX, NO2)
"""All optional and zero where nobody read them; NOx that was not told apart counts as NO."""


def pollutants(co: Values, hydrocarbons: Values, nox: Values, no2: Values) -> Pollutants:
    """Return the pollutants of a balance from what the worksheets take; all dry. [mol/mol]"""
    return Pollutants(co, hydrocarbons, np.maximum(np.subtract(nox, no2), 0.0), no2)


def some_carbon_dioxide(reading: Reading | Result) -> None:
    """Refuse carbon dioxide that no running engine leaves."""
    if not 0 < reading.value <= MOST_CARBON_DIOXIDE:
        raise impossible(
            reading,
            "is not what a running engine leaves",
            allowed=f"above 0 to {100 * MOST_CARBON_DIOXIDE:.0f} %",
            try_next="Was it read in per cent, with the engine running? Zero and span the analyser.",
        )


def wet_below_air(reading: Reading | Result) -> None:
    """Refuse wet oxygen that no exhaust can have."""
    if not 0 <= reading.value < 0.205:
        raise impossible(
            reading,
            "is not below the oxygen of air",
            allowed="0 to 20.5 %",
            try_next="Is the engine running and the probe in the exhaust? A probe in air reads 20.5 to 20.9 %.",
        )
