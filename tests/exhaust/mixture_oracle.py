"""An oracle of its own for the mixture: the moles of an exhaust, put together by hand, atom by atom.

It shares no code with the program. Gas is given by its components; what burns, what passes unburned and how rich flames
split hydrogen and carbon monoxide is chosen freely, and readings follow by counting.
"""

from __future__ import annotations

from dataclasses import dataclass

AIR_OXYGEN = 0.2095
COMPONENTS = {  # C, H, O, N
    "methane": (1, 4, 0, 0),
    "ethane": (2, 6, 0, 0),
    "propane": (3, 8, 0, 0),
    "carbon_dioxide": (1, 0, 2, 0),
    "nitrogen": (0, 0, 0, 2),
    "hydrogen": (0, 2, 0, 0),
    "carbon_monoxide": (1, 0, 1, 0),
}


@dataclass(frozen=True)
class Burned:
    """Dry mole fractions, and the water of wet exhaust."""

    oxygen: float
    carbon_dioxide: float
    carbon_monoxide: float
    hydrogen: float
    hydrocarbons: float
    no: float
    no2: float
    water_wet: float
    dry_moles: float
    """For each mole of gas."""
    air_moles: float


def atoms(gas: dict[str, float]) -> tuple[float, float, float, float]:
    total = sum(gas.values())
    c, h, o, n = (sum(x * COMPONENTS[name][k] for name, x in gas.items()) / total for k in range(4))
    return c, h, o, n


def need(gas: dict[str, float]) -> float:
    c, h, o, _ = atoms(gas)
    return c + h / 4 - o / 2


def burn(
    gas: dict[str, float], ratio: float, humidity: float = 0.0, methane_unburned: float = 0.0, co: float = 0.0,
    no: float = 0.0, no2: float = 0.0,
) -> Burned:  # fmt: skip
    """Burn a mole of gas. Unburned methane in moles; co, no, no2 in moles for each mole of carbon in the gas.

    Hydrogen belongs to the carbon monoxide by CO H2O = 3.5 CO2 H2, found by halving. What oxygen is left follows.
    """
    c, h, o, n = atoms(gas)
    air = ratio * need(gas) / AIR_OXYGEN
    co, no, no2 = co * c, no * c, no2 * c
    co2 = c - co - methane_unburned
    moisture = air * humidity
    low, high = 0.0, h / 2 - 2 * methane_unburned
    for _ in range(200):
        h2 = (low + high) / 2
        water = h / 2 - 2 * methane_unburned - h2 + moisture
        low, high = (h2, high) if co * water > 3.5 * co2 * h2 else (low, h2)
    burned_water = water - moisture
    oxygen = (2 * AIR_OXYGEN * air + o - 2 * co2 - co - no - 2 * no2 - burned_water) / 2
    nitrogen = (n + 2 * (1 - AIR_OXYGEN) * air - no - no2) / 2
    dry = co2 + co + h2 + oxygen + nitrogen + methane_unburned + no + no2
    return Burned(
        oxygen / dry, co2 / dry, co / dry, h2 / dry, methane_unburned / dry, no / dry, no2 / dry,
        water / (dry + water), dry, air,
    )  # fmt: skip


def least_co(gas: dict[str, float], ratio: float) -> float:
    """Return the carbon monoxide, over the carbon of the gas, at which a rich flame has no oxygen left."""
    low, high = 0.0, 0.9
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if burn(gas, ratio, co=middle).oxygen < 0 else (low, middle)
    return high
