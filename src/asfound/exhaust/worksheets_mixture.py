"""Worksheets of the mixture: lambda by every published way, for the gas that is burned.

Their order is the order of preference. Each way holds only for what it was made for, and says so in ``valid``.
"""

from __future__ import annotations

import numpy as np

from asfound.exhaust import balance, mixture_balance
from asfound.exhaust import mixture_takes as take
from asfound.exhaust.balance_1065 import balance_1065
from asfound.exhaust.brettschneider import lambda_brettschneider
from asfound.exhaust.mixture import excess_air_ratio
from asfound.exhaust.nitrogen_tie import lambda_from_nitrogen
from asfound.exhaust.spindt import LITTLE_OXYGEN, MOST_OXYGEN, air_fuel_ratio_spindt
from asfound.exhaust.wet_dry import lambda_from_wet_oxygen
from asfound.exhaust.worksheets_permit import AT_THE_ANALYSER, not_below_air
from asfound.quantities.refusals import impossible
from asfound.quantities.typing import Values
from asfound.quantities.words import Method, Reading, Result
from asfound.quantities.worksheets import Take, worksheet

LEAN = (0.01, 0.16, "1 to 16 % oxygen: lean and burning; nearer to lambda 1 read CO too: without it lambda is too high")
LEAN_OR_RICH = (0.0, 0.16, "0 to 16 % oxygen")
LITTLE_CO = (0.0, 0.05, "0 to 5 % carbon monoxide")
ENOUGH_CO2 = (0.03, 0.25, "3 to 25 % carbon dioxide")


@worksheet(
    title="Mixture, from dry oxygen and what did not burn",
    takes=("exhaust_oxygen_dry", "exhaust_co_dry", take.UNBURNED, take.NOX, take.NO2, *take.GAS, take.AIR),
    gives="excess_air_ratio",
    method=Method("balance of all elements over dry oxygen, with CO, hydrocarbons and NOx", "own_calculation"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": LEAN_OR_RICH, "exhaust_co_dry": LITTLE_CO},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def mixture_from_oxygen_and_co(
    oxygen: Values, co: Values, hydrocarbons: Values, nox: Values, no2: Values,
    carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values,
) -> Values:  # fmt: skip
    """Return lambda from dry oxygen, lean or rich, with carbon monoxide and, where read, hydrocarbons and NOx. [1]"""
    read = take.pollutants(co, hydrocarbons, nox, no2)
    humidity = balance.humidity_of(water)
    return mixture_balance.from_oxygen(oxygen, carbon, hydrogen, fuel_oxygen, nitrogen, read, humidity).ratio


@worksheet(
    title="Mixture, from dry oxygen",
    takes=("exhaust_oxygen_dry", *take.GAS),
    gives="excess_air_ratio",
    method=Method("element balance over dry oxygen, lean, for the gas burned", "own_calculation"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": LEAN},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def mixture_from_oxygen(
    oxygen: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values
) -> Values:
    """Return lambda, air over stoichiometric air, from the oxygen left in dry exhaust. [1]"""
    return excess_air_ratio(oxygen, carbon, hydrogen, fuel_oxygen, nitrogen)


@worksheet(
    title="Mixture, from wet oxygen",
    takes=("exhaust_oxygen_wet", *take.GAS, take.AIR),
    gives="excess_air_ratio",
    method=Method(
        "element balance over wet oxygen, lean, for the gas burned and the air's humidity", "own_calculation"
    ),
    cautions=("hot", "local"),
    valid={"exhaust_oxygen_wet": (0.002, 0.15, "0.2 to 15 % wet oxygen: lean; a probe in rich exhaust shows none")},
    refuses={"exhaust_oxygen_wet": take.wet_below_air},
)
def mixture_from_wet_oxygen(
    oxygen: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values
) -> Values:
    """Return lambda from a probe in the hot exhaust (zirconia), which reads wet and burns up what is unburned. [1]"""
    return lambda_from_wet_oxygen(oxygen, carbon, hydrogen, fuel_oxygen, nitrogen, balance.humidity_of(water))


@worksheet(
    title="Mixture, from carbon dioxide",
    takes=("exhaust_co2_dry", *take.POLLUTANTS, *take.GAS, take.AIR),
    gives="excess_air_ratio",
    method=Method("carbon balance over dry CO2, with CO, hydrocarbons and NOx where read", "own_calculation"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_co2_dry": ENOUGH_CO2, "exhaust_co_dry": LITTLE_CO},
    refuses={"exhaust_co2_dry": take.some_carbon_dioxide},
)
def mixture_from_co2(
    co2: Values, co: Values, hydrocarbons: Values, nox: Values, no2: Values,
    carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values,
) -> Values:  # fmt: skip
    """Return lambda from dry carbon dioxide, lean or rich: as good as the analysis of the gas is. [1]"""
    read = take.pollutants(co, hydrocarbons, nox, no2)
    humidity = balance.humidity_of(water)
    return mixture_balance.from_carbon_dioxide(co2, carbon, hydrogen, fuel_oxygen, nitrogen, read, humidity).ratio


@worksheet(
    title="Mixture, by Brettschneider",
    takes=(
        "exhaust_co2_dry", "exhaust_oxygen_dry", *take.POLLUTANTS, take.CARBON, take.HYDROGEN, take.FUEL_OXYGEN,
    ),
    gives="excess_air_ratio",
    method=Method("oxygen found over oxygen needed, from CO2, O2, CO, hydrocarbons and NOx", "brettschneider_1979"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": LEAN_OR_RICH, "exhaust_co2_dry": ENOUGH_CO2, "exhaust_co_dry": LITTLE_CO},
    refuses={"exhaust_oxygen_dry": not_below_air, "exhaust_co2_dry": take.some_carbon_dioxide},
)  # fmt: skip
def mixture_brettschneider(
    co2: Values, oxygen: Values, co: Values, hydrocarbons: Values, nox: Values, no2: Values,
    carbon: Values, hydrogen: Values, fuel_oxygen: Values,
) -> Values:  # fmt: skip
    """Return lambda by Brettschneider's formula, lean or rich, from carbon dioxide and oxygen together. [1]"""
    read = take.pollutants(co, hydrocarbons, nox, no2)
    return lambda_brettschneider(co2, oxygen, carbon, hydrogen, fuel_oxygen, *read)


@worksheet(
    title="Mixture, by the laboratory balance",
    takes=("exhaust_co2_dry", *take.POLLUTANTS, *take.GAS, take.AIR),
    gives="excess_air_ratio",
    method=Method("chemical balance by iteration; air with 20.982 % oxygen, 0.15 % above", "cfr40_1065_655", "(c)"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_co2_dry": ENOUGH_CO2, "exhaust_co_dry": LITTLE_CO},
    refuses={"exhaust_co2_dry": take.some_carbon_dioxide},
)
def mixture_1065(
    co2: Values, co: Values, hydrocarbons: Values, nox: Values, no2: Values,
    carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values,
) -> Values:  # fmt: skip
    """Return lambda, all air over stoichiometric air, by the balance of US laboratories; it takes no oxygen. [1]"""
    read = take.pollutants(co, hydrocarbons, nox, no2)
    found = balance_1065(co2, carbon, hydrogen, fuel_oxygen, nitrogen, *read, balance.humidity_of(water))
    return found.ratio


def _little_oxygen(atoms: Reading | Result) -> None:
    """Refuse a gas that the method of Spindt cannot count."""
    if atoms.value > MOST_OXYGEN:
        raise impossible(
            atoms,
            "is too much oxygen in the gas for the method of Spindt, which is made for carbon and hydrogen",
            allowed=f"0 to {MOST_OXYGEN:g} mol/mol, as 5 % carbon dioxide brings",
            try_next="Take Brettschneider, the oxygen or the carbon dioxide: they count what the gas brings.",
        )


@worksheet(
    title="Mixture, by Spindt",
    takes=("exhaust_co2_dry", "exhaust_oxygen_dry", take.CO, take.UNBURNED, *take.GAS),
    gives="excess_air_ratio",
    method=Method("air-fuel ratio from exhaust over the stoichiometric one; gas of C and H only", "spindt_1965"),
    cautions=AT_THE_ANALYSER,
    valid={
        "exhaust_oxygen_dry": LEAN_OR_RICH,
        "exhaust_co2_dry": ENOUGH_CO2,
        "fuel_oxygen_atoms": (0.0, LITTLE_OXYGEN, "up to 2 % carbon dioxide in the gas: at 5 % it is 2.5 % wrong"),
    },
    refuses={
        "exhaust_oxygen_dry": not_below_air,
        "exhaust_co2_dry": take.some_carbon_dioxide,
        "fuel_oxygen_atoms": _little_oxygen,
    },
)
def mixture_spindt(
    co2: Values, oxygen: Values, co: Values, hydrocarbons: Values,
    carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values,
) -> Values:  # fmt: skip
    """Return lambda by the method of Spindt, for gases with hardly any carbon dioxide of their own. [1]"""
    gas = (carbon, hydrogen, fuel_oxygen, nitrogen)
    found = air_fuel_ratio_spindt(co2, oxygen, *gas, co, hydrocarbons)
    with np.errstate(all="ignore"):
        return found / balance.air_fuel_ratio(1.0, *gas)


@worksheet(
    title="Mixture, with no analysis of the gas",
    takes=(
        "exhaust_oxygen_dry", "exhaust_co2_dry", take.CO,
        Take(quantity="fuel_nitrogen_atoms", place="fuel", optional=True, default=0.0),
    ),
    gives="excess_air_ratio",
    method=Method("nitrogen as the tie between air and exhaust", "bhatt_thakore", "chapter 7"),
    cautions=AT_THE_ANALYSER,
    valid={
        "exhaust_oxygen_dry": LEAN_OR_RICH,
        "fuel_nitrogen_atoms": (0.0, 0.2, "up to 10 % nitrogen in the gas: it counts as air, lambda is 0.5 % low then"),
    },
    refuses={"exhaust_oxygen_dry": not_below_air, "exhaust_co2_dry": take.some_carbon_dioxide},
)  # fmt: skip
def mixture_from_nitrogen(oxygen: Values, co2: Values, co: Values, nitrogen: Values) -> Values:
    """Return lambda from oxygen, carbon dioxide and carbon monoxide alone, the rest taken for nitrogen of air. [1]"""
    return lambda_from_nitrogen(oxygen, co2, co) + 0.0 * nitrogen
