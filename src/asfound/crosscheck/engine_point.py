"""What several balances have in common at a point: humidity, exhaust, charge, heats. Worked out once for all."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property, lru_cache

import numpy as np

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.gas_properties import (
    SPECIES,
    RealGas,
    heat_coefficients,
    heat_of,
    heat_of_coolant,
    horner,
    saturation,
)
from asfound.crosscheck.plant import FuelGas, Plant
from asfound.fuel import real_gas
from asfound.fuel.stoichiometry import OXYGEN_IN_DRY_AIR
from asfound.power.exhaust_heat import ARGON_IN_AIR, CARBON_DIOXIDE_IN_AIR, NITROGEN_IN_AIR
from asfound.quantities.constants import GAS_CONSTANT
from asfound.quantities.typing import Array

HEAT_OF_CARBON_MONOXIDE, HEAT_OF_HYDROGEN, HEAT_OF_NITRIC_OXIDE = 282_980.0, 241_820.0, 90_250.0
"""Combustion (net), and formation, at 25 °C: usual tables, from memory. [J/mol]"""
NORMAL = 101_325.0 / (GAS_CONSTANT * 273.15)
"""Ideal gas in a normal cubic metre. [mol/m³(n)]"""
DRY_AIR = np.array([NITROGEN_IN_AIR, OXYGEN_IN_DRY_AIR, CARBON_DIOXIDE_IN_AIR, 0.0, ARGON_IN_AIR, 0.0])
"""Of `SPECIES`. [mol/mol]"""
HOT_GAS = (
    "turbine_inlet_temperature",
    "turbine_outlet_temperature",
    "catalyst_inlet_temperature",
    "catalyst_outlet_temperature",
)
CHARGE = ("intake_air_temperature", "compressor_outlet_temperature", "manifold_temperature", "ambient_temperature")


class EnginePoint:
    """Values by name at some points, shape (points,) each, and what follows from them; each worked out when asked."""

    species: tuple[str, ...] = SPECIES
    """Gases of which heats are wanted, beside the fuel."""

    def __init__(self, values: Mapping[str, Any_], plant: Plant, line_gas: RealGas | None, stage_gas: RealGas | None):
        self.of = values
        self.plant = plant
        self.line_gas = line_gas
        self.stage_gas = stage_gas

    def __getitem__(self, name: str) -> Any_:
        return self.of[name]

    def has(self, *names: str) -> bool:
        """Tell whether all of these stand among the values."""
        return all(name in self.of for name in names)

    def pressure(self, name: str) -> Any_:
        """Return an absolute pressure, the barometer added where it was read as gauge. [Pa]"""
        read = self.of[name]
        return read + self.of["barometric_pressure"] if name in self.plant.gauge else read

    @property
    def fuel(self) -> FuelGas:
        """The gas as analysed."""
        assert self.plant.fuel is not None
        return self.plant.fuel

    @cached_property
    def richness(self) -> Any_:
        """Atoms of the gas burned over those of the gas analysed. [1]"""
        return self.of["gas_richness"]

    @cached_property
    def burned(self) -> Any_:
        """Share of the fuel that burns. [1]"""
        return 1 - self.of["unburned_share"]

    @cached_property
    def heat(self) -> Any_:
        """Net heat of a mole of fuel. [J/mol]"""
        return self.fuel.heat * self.of["heating_value_factor"] * self.richness

    @cached_property
    def fuel_power(self) -> Any_:
        """[W]"""
        return self.of["fuel"] * self.heat

    @cached_property
    def humidity(self) -> Any_:
        """Water for each mole of dry air. [mol/mol]"""
        vapour = self.of["relative_humidity"] * saturation(self.of["ambient_temperature"])
        return vapour / (self.of["barometric_pressure"] - vapour)

    @cached_property
    def air(self) -> Any_:
        """Dry air for each mole of fuel. [mol/mol]"""
        return self.of["excess_air_ratio"] * self.richness * (self.fuel.oxygen_needed / OXYGEN_IN_DRY_AIR)

    @cached_property
    def dry(self) -> Any_:
        """Dry exhaust for each mole of fuel, the unburned fuel with it. [mol/mol]

        Carbon monoxide holds half a mole of oxygen back, nitric oxide none in sum.
        """
        gas, burned = self.fuel, self.burned
        need = gas.oxygen_needed * self.richness
        complete = burned * (gas.carbon * self.richness + gas.nitrogen / 2 - need) + self.air + (1 - burned)
        return complete / (1 - self.of["exhaust_co_dry"] / 2)

    @cached_property
    def monoxide(self) -> Any_:
        """For each mole of fuel, before the catalyst. [mol/mol]"""
        return self.of["exhaust_co_dry"] * self.dry

    @property
    def hydrogen(self) -> Any_:
        """For each mole of fuel: none is counted in lean exhaust. [mol/mol]"""
        return 0.0

    @cached_property
    def nitric_oxide(self) -> Any_:
        """For each mole of fuel. [mol/mol]"""
        return self.of["exhaust_nox_dry"] * self.dry

    @cached_property
    def oxygen(self) -> Any_:
        """For each mole of fuel. [mol/mol]"""
        need = self.fuel.oxygen_needed * self.richness
        return OXYGEN_IN_DRY_AIR * self.air - self.burned * need + (self.monoxide - self.nitric_oxide) / 2

    @cached_property
    def dioxide(self) -> Any_:
        """For each mole of fuel. [mol/mol]"""
        return self.burned * self.fuel.carbon * self.richness - self.monoxide + CARBON_DIOXIDE_IN_AIR * self.air

    @cached_property
    def water(self) -> Any_:
        """Of combustion and air, for each mole of fuel. [mol/mol]"""
        return self.burned * self.fuel.hydrogen * self.richness / 2 + self.humidity * self.air

    @cached_property
    def wet(self) -> Any_:
        """Wet exhaust for each mole of fuel. [mol/mol]"""
        return self.dry + self.water

    @cached_property
    def dry_share(self) -> Any_:
        """Dry over wet exhaust. [1]"""
        return self.dry / self.wet

    @cached_property
    def charge(self) -> Any_:
        """Air, its water and the fuel, for each mole of fuel. [mol/mol]"""
        gas = 0.0 if self.plant.port_admission else 1.0
        return gas + self.air * (1 + self.humidity)

    @cached_property
    def _species(self) -> Any_:
        """Exhaust for each mole of fuel by `SPECIES`, shape (6, points). Nitric oxide counts as half of each."""
        half = self.nitric_oxide / 2
        nitrogen = self.burned * self.fuel.nitrogen / 2 + NITROGEN_IN_AIR * self.air
        return np.stack(
            [nitrogen + 0 * half, self.oxygen + half, self.dioxide, self.water, ARGON_IN_AIR * self.air, self.monoxide]
        )

    @cached_property
    def _heats(self) -> tuple[dict[str, int], Any_]:
        """Heat above 25 °C in a mole of each of `SPECIES` and of the fuel at all temperatures, shape (7, t, points)."""
        names = [name for name in (*HOT_GAS, *CHARGE, "fuel_temperature") if name in self.of]
        t = np.stack([self.of[name] for name in names])
        return {name: at for at, name in enumerate(names)}, heat_of(_all_heats(self.species, self.fuel.fractions), t)

    @cached_property
    def _hot(self) -> dict[str, Any_]:
        """Heat above 25 °C in the exhaust of a mole of fuel, at each temperature that was read. [J/mol]"""
        at, heats = self._heats
        names = [name for name in HOT_GAS if name in at]
        parts = heats[:, : len(names)]
        total = (self._species[:, None] * parts[:-1]).sum(axis=0) + (1 - self.burned) * parts[-1]
        return dict(zip(names, total, strict=True))

    def exhaust_heat(self, name: str) -> Any_:
        """Return the heat above 25 °C in the exhaust of a mole of fuel at a temperature. [J/mol]"""
        return self._hot[name]

    @cached_property
    def _moist_air(self) -> Any_:
        """Heat above 25 °C in the air of a mole of dry air, its water included, at all temperatures. [J/mol]"""
        heats = self._heats[1]
        dry: Any_ = (DRY_AIR[:, None, None] * heats[: len(SPECIES)]).sum(axis=0)
        return dry + self.humidity * heats[SPECIES.index("water")]

    def charge_heat(self, name: str) -> Any_:
        """Return the heat above 25 °C in the charge of a mole of fuel at a temperature. [J/mol]"""
        found = self.air_heat(name)
        return found if self.plant.port_admission else found + self.fuel_sensible_heat(name)

    def air_heat(self, name: str) -> Any_:
        """Return the heat above 25 °C in the moist air of a mole of fuel at a temperature. [J/mol]"""
        return self.air * self._moist_air[self._heats[0][name]]

    def fuel_sensible_heat(self, name: str) -> Any_:
        """Return the heat above 25 °C in a mole of fuel at a temperature. [J/mol]"""
        at, heats = self._heats
        return heats[-1, at[name]]

    def coolant_heat(self, stream: str) -> Any_:
        """Return the heat that a stream (`jacket_water`, `auxiliary_water`) takes up, at its middle temperature. [W]"""
        cold, hot = self.of[f"{stream}_inlet_temperature"], self.of[f"{stream}_outlet_temperature"]
        glycol = self.plant.glycol if stream == "jacket_water" else 0.0
        carried = horner(heat_of_coolant(glycol), (cold + hot) / 200)
        return self.of[f"{stream}_flow"] * carried * (hot - cold)

    @cached_property
    def stages(self) -> tuple[str, ...]:
        """Places of the stages whose four gauges were all read."""
        return tuple(one for one in self.plant.stages if f"{one}/suction_pressure" in self.of)

    @cached_property
    def _compression(self) -> dict[str, dict[str, Any_]]:
        """Isentropic work [J/mol], compressibilities, enthalpy rise as read [J/mol] of each stage."""
        assert self.stage_gas is not None
        gas, at = self.stage_gas, self.stages

        p_s = np.stack([self.pressure(f"{one}/suction_pressure") for one in at])
        p_d = np.stack([self.pressure(f"{one}/discharge_pressure") for one in at])
        t_s = np.stack([self.of[f"{one}/suction_temperature"] for one in at])
        hot = [row for row, one in enumerate(at) if f"{one}/discharge_temperature" in self.of]
        t_d = [self.of[f"{at[row]}/discharge_temperature"] for row in hot]
        both = gas.at(np.stack([*t_s, *t_d]), np.stack([*p_s, *p_d[hot]]))
        suction = tuple(one[: len(at)] for one in both)
        ratio = p_d / p_s
        found = {"work": gas.isentropic(t_s, suction, ratio, p_d), "z_s": suction[0], "p_s": p_s, "ratio": ratio}
        of_each = {one: {name: value[row] for name, value in found.items()} for row, one in enumerate(at)}
        for place, row in enumerate(hot):
            end = len(at) + place
            of_each[at[row]] |= {
                "z_d": both[0][end],
                "rise": both[1][end] - both[1][row],
                "k": gas.exponent((t_s[row] + t_d[place]) / 2),
            }
        return of_each

    def compression(self, stage: str, what: str) -> Any_:
        """Return ``work``, ``rise`` [J/mol], ``ratio``, ``z_s``, ``z_d``, ``k`` [1] or ``p_s`` [Pa] of a stage."""
        return self._compression[stage][what]


@lru_cache(maxsize=16)
def _all_heats(species: tuple[str, ...], fractions: tuple[float, ...]) -> Array:
    """Return coefficients of the heat of gases and of the fuel, shape (gases + 1, degree + 1)."""
    there = [at for at, share in enumerate(fractions) if share > 0]
    names = tuple(real_gas.COMPONENTS[at] for at in there)
    fuel = heat_coefficients(names, tuple(fractions[at] for at in there))
    return np.vstack([heat_coefficients(species), fuel])
