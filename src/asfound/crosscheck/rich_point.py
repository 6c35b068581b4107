"""Exhaust of an engine that burns at or just rich of stoichiometric mixture: before its catalyst and behind it.

Carbon monoxide comes with hydrogen, which no analyser at the site reads. Before the catalyst hydrogen follows from the
water-gas ratio CO H2O / (CO2 H2) at which exhaust freezes; behind it from a usual share of the carbon monoxide, since a
three-way catalyst shifts it further. Mixture is the same on both sides: a catalyst burns, it brings no air. So one
lambda stands in the balances of both, across lambda 1 without a seam, and without carbon monoxide they are those of
lean exhaust to the last digit.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from asfound.crosscheck.arrays import Any_
from asfound.crosscheck.engine_point import EnginePoint
from asfound.crosscheck.gas_properties import SPECIES
from asfound.fuel.stoichiometry import OXYGEN_IN_DRY_AIR
from asfound.power.exhaust_heat import ARGON_IN_AIR, CARBON_DIOXIDE_IN_AIR, NITROGEN_IN_AIR

BEHIND = ("catalyst_outlet_temperature", "exhaust_temperature")
"""Temperatures of what has gone through the catalyst."""


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """Exhaust of a mole of fuel, shape (points,) each. [mol/mol]"""

    dry: Any_
    """All but the water, unburned fuel with it."""
    monoxide: Any_
    hydrogen: Any_
    dioxide: Any_
    oxygen: Any_
    """Below zero where the mixture and what did not burn cannot both be true."""
    nitric_oxide: Any_
    water: Any_
    unburned: Any_

    @property
    def wet(self) -> Any_:
        """With the water."""
        return self.dry + self.water


def hydrogen_by_water_gas(co: Any_, dry_without: Any_, carbon: Any_, water: Any_, ratio: Any_) -> Any_:
    """Return the hydrogen of a mole of fuel from carbon monoxide and the water-gas ratio. [mol/mol]

    Parameters
    ----------
    co : array
        In dry exhaust. [mol/mol]
    dry_without : array
        Dry exhaust of a mole of fuel if there were neither carbon monoxide nor hydrogen.
    carbon, water : array
        Carbon of the gas that burned and of the air; water if there were no hydrogen. [mol/mol]
    ratio : array
        CO H2O / (CO2 H2). [1]

    Notes
    -----
    Each mole of carbon monoxide leaves half a mole of dry exhaust more, of hydrogen one and a half, so all parts lie on
    straight lines over the hydrogen and the ratio is a quadratic equation in it.
    """
    dry0, by_hydrogen = dry_without / (1 - co / 2), 1.5 / (1 - co / 2)
    linear = ratio * (carbon - co * dry0) - co * (by_hydrogen * water - dry0)
    product = co * dry0 * water
    bend = (ratio - 1) * co * by_hydrogen
    return 2 * product / (linear + np.sqrt(linear * linear - 4 * bend * product))


class RichPoint(EnginePoint):
    """Values at some points of an engine with exhaust near or rich of stoichiometric mixture."""

    species = (*SPECIES, "hydrogen")

    def _parts(self, co: Any_, nox: Any_, burned: Any_, *, ratio: Any_ = None, share: Any_ = None) -> Parts:
        """Return the exhaust, its hydrogen by the water-gas ratio or as a share of the carbon monoxide."""
        gas, rich = self.fuel, self.richness
        need, carbon = burned * gas.oxygen_needed * rich, burned * gas.carbon * rich + CARBON_DIOXIDE_IN_AIR * self.air
        water = burned * gas.hydrogen * rich / 2 + self.humidity * self.air
        without = burned * (gas.carbon * rich + gas.nitrogen / 2) - need + self.air + (1 - burned)
        if share is None:
            hydrogen = hydrogen_by_water_gas(co, without, carbon, water, ratio)
        else:
            hydrogen = share * co * without / (1 - co / 2 - 1.5 * share * co)
        dry = (without + 1.5 * hydrogen) / (1 - co / 2)
        monoxide, nitric = co * dry, nox * dry
        return Parts(
            dry=dry,
            monoxide=monoxide,
            hydrogen=hydrogen,
            dioxide=carbon - monoxide,
            oxygen=OXYGEN_IN_DRY_AIR * self.air - need + (monoxide + hydrogen - nitric) / 2,
            nitric_oxide=nitric,
            water=water - hydrogen,
            unburned=1 - burned,
        )

    @cached_property
    def before(self) -> Parts:
        """What leaves the cylinders."""
        of = self.of
        return self._parts(of["exhaust_co_dry"], of["exhaust_nox_dry"], self.burned, ratio=of["water_gas_ratio"])

    @cached_property
    def behind(self) -> Parts:
        """What leaves the catalyst."""
        of = self.of
        burned = 1 - of["unburned_share"] * (1 - of["catalyst_slip_share"])
        share = of["hydrogen_to_co_after"]
        return self._parts(of["exhaust_co_dry_after"], of["exhaust_nox_dry_after"], burned, share=share)

    @cached_property
    def dry(self) -> Any_:
        """Dry exhaust before the catalyst for each mole of fuel. [mol/mol]"""
        return self.before.dry

    @cached_property
    def monoxide(self) -> Any_:
        """Before the catalyst. [mol/mol]"""
        return self.before.monoxide

    @property
    def hydrogen(self) -> Any_:
        """Before the catalyst. [mol/mol]"""
        return self.before.hydrogen

    @cached_property
    def nitric_oxide(self) -> Any_:
        """Before the catalyst. [mol/mol]"""
        return self.before.nitric_oxide

    @cached_property
    def oxygen(self) -> Any_:
        """Before the catalyst. [mol/mol]"""
        return self.before.oxygen

    @cached_property
    def dioxide(self) -> Any_:
        """Before the catalyst. [mol/mol]"""
        return self.before.dioxide

    @cached_property
    def water(self) -> Any_:
        """Before the catalyst. [mol/mol]"""
        return self.before.water

    def _species_of(self, parts: Parts) -> Any_:
        """Return exhaust by `SPECIES` and unburned fuel, shape (8, points). Nitric oxide counts as half of each."""
        half = parts.nitric_oxide / 2
        nitrogen = (1 - parts.unburned) * self.fuel.nitrogen / 2 + NITROGEN_IN_AIR * self.air
        return np.stack([
            nitrogen + 0 * half, parts.oxygen + half, parts.dioxide, parts.water, ARGON_IN_AIR * self.air,
            parts.monoxide, parts.hydrogen, parts.unburned + 0 * half,
        ])  # fmt: skip

    def exhaust_heat(self, name: str) -> Any_:
        """Return the heat above 25 °C in the exhaust of a mole of fuel at a temperature. [J/mol]"""
        at, heats = self._heats
        return (self._species_of(self.behind if name in BEHIND else self.before) * heats[:, at[name]]).sum(axis=0)
