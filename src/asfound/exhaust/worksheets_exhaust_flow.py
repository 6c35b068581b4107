"""Worksheets of what follows from the mixture: what belongs to an oxygen, what to set, air to gas, exhaust flow."""

from __future__ import annotations

import numpy as np

from asfound.exhaust import balance, mixture_balance
from asfound.exhaust import exhaust_flow as flow
from asfound.exhaust import mixture_takes as take
from asfound.exhaust.mixture import stoichiometric_oxygen
from asfound.exhaust.worksheets_permit import AT_THE_ANALYSER, NEAR_AIR, not_below_air
from asfound.quantities.typing import Values
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Take, worksheet

BALANCE = Method("balance of the elements, for the gas burned", "own_calculation")
FUEL_FLOW = Take(quantity="fuel_flow", place="engine")


@worksheet(
    title="Carbon dioxide that belongs to the oxygen read",
    takes=("exhaust_oxygen_dry", *take.POLLUTANTS, *take.GAS, take.AIR),
    gives="co2_beside_oxygen",
    method=BALANCE,
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": NEAR_AIR},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def co2_beside_oxygen(
    oxygen: Values, co: Values, hydrocarbons: Values, nox: Values, no2: Values,
    carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values,
) -> Values:  # fmt: skip
    """Return the dry carbon dioxide that this gas leaves beside the oxygen read: what an analyser of CO2 should show.

    A leak in the sample line moves both along this line and does not show here. [mol/mol]
    """
    read = take.pollutants(co, hydrocarbons, nox, no2)
    humidity = balance.humidity_of(water)
    return mixture_balance.from_oxygen(oxygen, carbon, hydrogen, fuel_oxygen, nitrogen, read, humidity).carbon_dioxide


@worksheet(
    title="Unburned share of the fuel",
    takes=("exhaust_hydrocarbons_dry", "exhaust_oxygen_dry", take.CO, *take.GAS),
    gives=("unburned_fuel_share", "combustion_efficiency"),
    method=Method("carbon that left unburned over all carbon, by dry oxygen and the gas", "own_calculation"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": NEAR_AIR},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def unburned_fuel(
    hydrocarbons: Values, oxygen: Values, co: Values,
    carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values,
) -> tuple[Values, Values]:  # fmt: skip
    """Return the share of the gas's carbon that leaves as hydrocarbons, and that which leaves fully burned. [1]"""
    read = mixture_balance.Pollutants(co, hydrocarbons)
    found = mixture_balance.from_oxygen(oxygen, carbon, hydrogen, fuel_oxygen, nitrogen, read)
    with np.errstate(all="ignore"):
        all_carbon = found.gas * carbon
        return np.asarray(hydrocarbons / all_carbon), np.asarray(found.carbon_dioxide / all_carbon)


@worksheet(
    title="What to set at the analyser",
    takes=("target_excess_air_ratio", *take.GAS, take.AIR),
    gives=("oxygen_to_set", "oxygen_to_set_wet", "co2_to_set"),
    method=Method("balance of the elements at the excess air ratio to be set, for the gas of today", "own_calculation"),
    cautions=("local",),
    valid={"target_excess_air_ratio": (0.9, 3.0, "0.9 to 3")},
)
def exhaust_to_set(
    ratio: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values
) -> tuple[Values, Values, Values]:
    """Return dry oxygen, wet oxygen and dry carbon dioxide at the excess air ratio that is to be set. [mol/mol]"""
    gas = (carbon, hydrogen, fuel_oxygen, nitrogen)
    found = balance.exhaust(ratio, *gas, humidity=balance.humidity_of(water))
    return found.oxygen / found.dry, found.oxygen / found.wet, found.carbon_dioxide / found.dry


@worksheet(
    title="Air-fuel ratio by mass",
    takes=("excess_air_ratio", *take.GAS),
    gives="air_fuel_ratio",
    method=Method("lambda times the air that the gas needs, dry air, by mass", "own_calculation"),
    cautions=("local",),
)
def air_fuel_ratio(ratio: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values) -> Values:
    """Return the mass of dry air for a mass of gas. [kg/kg]"""
    return balance.air_fuel_ratio(ratio, carbon, hydrogen, fuel_oxygen, nitrogen)


@worksheet(
    title="Dry exhaust flow, from the carbon of the gas",
    takes=(FUEL_FLOW, "exhaust_co2_dry", take.CO, take.UNBURNED, take.CARBON),
    gives="exhaust_flow_dry",
    method=Method("gas flow and carbon balance", "cfr40_1065_655", "exhaust flow from fuel flow"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_co2_dry": (0.03, 0.25, "3 to 25 % carbon dioxide")},
    refuses={"exhaust_co2_dry": take.some_carbon_dioxide},
)
def exhaust_flow_from_carbon(gas: Values, co2: Values, co: Values, hydrocarbons: Values, carbon: Values) -> Values:
    """Return the dry exhaust at 20 °C and 101.325 kPa that carries the carbon of the gas burned. [m³/s]"""
    moles = np.divide(gas, flow.NORMAL_VOLUME)
    return flow.DRY_STANDARD_VOLUME * flow.dry_exhaust_from_carbon(moles, carbon, co2, co, hydrocarbons)


@worksheet(
    title="Dry exhaust flow, from gas flow and oxygen",
    takes=(FUEL_FLOW, "exhaust_oxygen_dry", *take.POLLUTANTS, *take.GAS, take.AIR),
    gives="exhaust_flow_dry",
    method=Method("gas flow, dry oxygen and the balance of the elements; no heating value needed", "own_calculation"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": NEAR_AIR},
    refuses={"exhaust_oxygen_dry": not_below_air},
)
def exhaust_flow_from_oxygen(
    gas: Values, oxygen: Values, co: Values, hydrocarbons: Values, nox: Values, no2: Values,
    carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values,
) -> Values:  # fmt: skip
    """Return the dry exhaust at 20 °C and 101.325 kPa of the gas burned, with no F factor. [m³/s]"""
    read = take.pollutants(co, hydrocarbons, nox, no2)
    humidity = balance.humidity_of(water)
    found = mixture_balance.from_oxygen(oxygen, carbon, hydrogen, fuel_oxygen, nitrogen, read, humidity)
    with np.errstate(all="ignore"):
        return np.divide(gas, flow.NORMAL_VOLUME) / found.gas * flow.DRY_STANDARD_VOLUME


@worksheet(
    title="Dry exhaust flow, from the air drawn in",
    takes=(
        Take(quantity="intake_air_mass_flow", place="engine"), "exhaust_oxygen_dry", *take.POLLUTANTS, *take.GAS,
        take.AIR,
    ),
    gives="exhaust_flow_dry",
    method=Method("intake air, dry oxygen and the balance of the elements", "own_calculation"),
    cautions=AT_THE_ANALYSER,
    valid={"exhaust_oxygen_dry": NEAR_AIR},
    refuses={"exhaust_oxygen_dry": not_below_air},
)  # fmt: skip
def exhaust_flow_from_intake(
    air: Values, oxygen: Values, co: Values, hydrocarbons: Values, nox: Values, no2: Values,
    carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values,
) -> Values:  # fmt: skip
    """Return the dry exhaust at 20 °C and 101.325 kPa that the air drawn in becomes; no fuel meter needed. [m³/s]"""
    read = take.pollutants(co, hydrocarbons, nox, no2)
    humidity = balance.humidity_of(water)
    found = mixture_balance.from_oxygen(oxygen, carbon, hydrogen, fuel_oxygen, nitrogen, read, humidity)
    air_for_dry = found.air(stoichiometric_oxygen(carbon, hydrogen, fuel_oxygen))
    return flow.DRY_STANDARD_VOLUME * flow.dry_exhaust_from_air(air, air_for_dry, humidity)


@worksheet(
    title="Exhaust mass flow",
    takes=(FUEL_FLOW, "excess_air_ratio", *take.GAS, take.AIR),
    gives="exhaust_mass_flow",
    method=Method("mass of the gas and of its moist air together", "own_calculation"),
    cautions=("local",),
)
def exhaust_mass_flow(
    gas: Values, ratio: Values, carbon: Values, hydrogen: Values, fuel_oxygen: Values, nitrogen: Values, water: Values
) -> Values:
    """Return the mass of wet exhaust: what goes in comes out. [kg/s]"""
    moles = np.divide(gas, flow.NORMAL_VOLUME)
    atoms = (carbon, hydrogen, fuel_oxygen, nitrogen)
    return flow.exhaust_mass_flow(moles, ratio, *atoms, balance.humidity_of(water))
