"""The formulas of the benchmark's worksheets, written a second time for one number at a time.

``m`` is the module whose ``log10`` is used: `math` for plain Python, `uncertainties.umath` for numbers that carry their
linear uncertainty. The benchmark compares each with the worksheet's own formula before it measures.
"""

# ruff: noqa: ARG001, ARG005  (every formula takes the module, needed or not)
from __future__ import annotations

from collections.abc import Callable
from typing import Any

from asfound.exhaust.concentration import DRY_STANDARD_TEMPERATURE, MOLAR_MASS
from asfound.exhaust.emission_rate import RULE_CONSTANT
from asfound.exhaust.mixture import OXYGEN_IN_DRY_AIR
from asfound.exhaust.reference_oxygen import OXYGEN_IN_AIR
from asfound.fuel.elements import ATOMS
from asfound.power.site_air import (
    GAS_CONSTANT_CIPM,
    MOLAR_MASS_DRY_AIR,
    MOLAR_MASS_DRY_AIR_CIPM,
    MOLAR_MASS_WATER,
    TRIPLE_POINT,
)
from asfound.quantities.constants import ATMOSPHERE, GAS_CONSTANT

NAN = float("nan")


def best(x: Any) -> float:
    """Return the best value of a number, to compare it: a number with its uncertainty does not compare."""
    return getattr(x, "nominal_value", x)


COUNTS = tuple(ATOMS.values())
AT_NORMAL = ATMOSPHERE / (GAS_CONSTANT * 273.15)
AT_DRY_STANDARD = ATMOSPHERE / (GAS_CONSTANT * DRY_STANDARD_TEMPERATURE)


def atoms_of_the_gas(m: Any, *x: Any) -> Any:
    total = sum(x)
    return tuple(sum(a * count[element] for a, count in zip(x, COUNTS, strict=True)) / total for element in range(4))


def mixture_from_oxygen(m: Any, oxygen: Any, carbon: Any, hydrogen: Any, fuel_oxygen: Any, nitrogen: Any) -> Any:
    need = carbon + hydrogen / 4 - fuel_oxygen / 2
    left = OXYGEN_IN_DRY_AIR - oxygen
    if not (best(need) > 0 and best(left) > 0):
        return NAN
    air = need / OXYGEN_IN_DRY_AIR
    return 1 + (carbon + nitrogen / 2 + (1 - OXYGEN_IN_DRY_AIR) * air) / air * oxygen / left


def at_reference_oxygen(m: Any, concentration: Any, oxygen: Any, reference: Any, air: Any) -> Any:
    left = air - oxygen
    return concentration * (air - reference) / left if best(left) > 0 else NAN


def exhaust_flow_dry(m: Any, heat: Any, oxygen: Any, f_factor: Any) -> Any:
    left = OXYGEN_IN_AIR - oxygen
    return f_factor * heat * OXYGEN_IN_AIR / left if best(left) > 0 else NAN


def mass_per_energy(m: Any, emitted: Any, power: Any) -> Any:
    return emitted / power if best(power) > 0 else NAN


def saturation_pressure(m: Any, t: Any) -> Any:
    if not best(t) > 0:
        return NAN
    r = TRIPLE_POINT / t
    if best(t) >= TRIPLE_POINT:
        power = (
            10.79574 * (1 - r)
            + 5.02800 * m.log10(r)
            + 1.50475e-4 * (1 - 10 ** (-8.2969 * (1 / r - 1)))
            + 0.42873e-3 * (10 ** (4.76955 * (1 - r)) - 1)
            - 0.2138602
        )
    else:
        power = -9.096853 * (r - 1) - 3.566506 * m.log10(r) + 0.876812 * (1 - 1 / r) - 0.2138602
    return 1000.0 * 10**power


def humidity(m: Any, saturation: Any, relative_humidity: Any, pressure: Any) -> Any:
    x = relative_humidity * saturation / pressure
    return (x, MOLAR_MASS_WATER / MOLAR_MASS_DRY_AIR * x / (1 - x)) if 0 <= best(x) < 1 else (NAN, NAN)


def air_density(m: Any, temperature: Any, pressure: Any, x: Any) -> Any:
    if not best(temperature) > 0:
        return NAN
    t, p_t = temperature - 273.15, pressure / temperature
    first = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2
    wet = (5.707e-6 - 2.051e-8 * t) * x + (1.9898e-4 - 2.376e-6 * t) * x**2
    z = 1 - p_t * (first + wet) + p_t**2 * (1.83e-11 - 0.765e-8 * x**2)
    lightening = 1 - x * (1 - MOLAR_MASS_WATER / MOLAR_MASS_DRY_AIR_CIPM)
    return p_t * MOLAR_MASS_DRY_AIR_CIPM / (GAS_CONSTANT_CIPM * z) * lightening


def _mass_concentration(gas: str) -> Callable[..., Any]:
    return lambda m, x: x * MOLAR_MASS[gas] * AT_NORMAL


def _mass_flow(gas: str) -> Callable[..., Any]:
    return lambda m, x, flow: x * 1e6 * (RULE_CONSTANT[gas] * 1e-3) * flow


def _mass_per_heat(gas: str) -> Callable[..., Any]:
    return lambda m, x, oxygen, f: x * MOLAR_MASS[gas] * AT_DRY_STANDARD * exhaust_flow_dry(m, 1.0, oxygen, f)


ONE_BY_ONE: dict[str, Callable[..., Any]] = {
    "atoms_of_the_gas": atoms_of_the_gas,
    "fuel_heat_input": lambda m, flow, heating_value: flow * heating_value,
    "mixture_from_oxygen": mixture_from_oxygen,
    "nox_at_reference_oxygen": at_reference_oxygen,
    "co_at_reference_oxygen": at_reference_oxygen,
    "nox_mass_concentration": _mass_concentration("nox"),
    "co_mass_concentration": _mass_concentration("co"),
    "exhaust_flow_dry": exhaust_flow_dry,
    "nox_mass_flow": _mass_flow("nox"),
    "co_mass_flow": _mass_flow("co"),
    "nox_mass_per_energy": mass_per_energy,
    "co_mass_per_energy": mass_per_energy,
    "nox_mass_per_heat": _mass_per_heat("nox"),
    "co_mass_per_heat": _mass_per_heat("co"),
    "saturation_pressure": saturation_pressure,
    "humidity": humidity,
    "air_density": air_density,
}
"""By name of the worksheet."""
