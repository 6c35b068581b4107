"""How the numbers of fuel, load, exhaust and cylinders are laid out: which large, together, beside the last visit.

Only names of the register: a number that nobody read or worked out simply leaves its place empty, and one that no list
names stands under 'on the way'.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from asfound.quantities.register import quantities


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """The layout of one step."""

    step: str
    large: tuple[str, ...]
    """Shown with their scale, after what stands beside a limit."""
    groups: tuple[tuple[str, tuple[str, ...]], ...]
    """Folded tables: title and names."""
    compared: tuple[str, ...]
    """Beside the last visit, after what stands beside a limit."""
    elsewhere: tuple[str, ...] = ()
    """Parts that have a drawing of their own on the page and are not repeated among the results."""

    @property
    def named(self) -> tuple[str, ...]:
        """Every name of the layout, in its order."""
        return (*self.large, *(name for _, names in self.groups for name in names), *self.elsewhere)

    def in_order(self, names: Iterable[str]) -> list[str]:
        """Return names of this step in the order of the layout, those that it does not name last, by title."""
        known, order = quantities(), {name: i for i, name in enumerate(self.named)}
        mine = {name for name in names if name in known and known[name].step == self.step}
        return sorted(mine, key=lambda name: (order.get(name, len(order)), known[name].title))


def _of(species: Iterable[str], *kinds: str) -> tuple[str, ...]:
    gases = tuple(species)
    return tuple(f"{one}_{kind}" for kind in kinds for one in gases)


_GASES = ("nox", "co", "voc", "formaldehyde", "methane", "so2")

EXHAUST = Room(
    step="exhaust",
    large=("excess_air_ratio",),
    groups=(
        ("In other words: reference oxygen, mass in a cubic metre", (
            *_of((*_GASES, "hydrocarbons"), "at_reference_oxygen"),
            *_of(("nox", "co", "voc", "formaldehyde", "so2"), "mass_concentration"), "total_carbon_mass_concentration",
        )),
        ("Per energy, per heat, per hour, per year", (
            *_of(("nox", "co", "voc", "formaldehyde", "methane"), "mass_per_energy"),
            *_of(_GASES, "mass_per_heat", "mass_flow", "annual_mass"), "annual_hours",
        )),
        ("Mixture and combustion", (
            "air_fuel_ratio", "co2_beside_oxygen", "oxygen_at_wet_probe", "exhaust_water_fraction", "exhaust_dew_point",
            "unburned_fuel_share", "combustion_efficiency", "oxygen_to_set", "oxygen_to_set_wet", "co2_to_set",
            "exhaust_flow_dry", "exhaust_mass_flow",
        )),
        ("Corrected to reference humidity", (
            "nox_at_reference_humidity", "nox_at_reference_humidity_ci", "nox_at_reference_humidity_vehicle",
            "nox_at_reference_humidity_iso",
        )),
    ),
    compared=(
        "excess_air_ratio", "exhaust_oxygen_dry", "oxygen_sensor_reading", "nox_at_reference_oxygen",
        "co_at_reference_oxygen", "catalyst_conversion_co", "catalyst_conversion_nox", "turbine_outlet_temperature",
        "engine_power", "methane_number",
    ),
    elsewhere=(
        "catalyst_conversion_nox", "catalyst_conversion_co", "catalyst_conversion_voc",
        "catalyst_conversion_formaldehyde", "catalyst_conversion_hydrocarbons", "catalyst_temperature_rise",
        "catalyst_expected_temperature_rise", "catalyst_rise_difference", "catalyst_pressure_drop_ratio",
        "catalyst_pressure_drop_change", "excess_air_ratio_for_permit", "exhaust_oxygen_for_permit",
        "nox_share_of_limit",
    ),
)  # fmt: skip

FUEL = Room(
    step="fuel",
    large=("methane_number", "wobbe_index"),
    groups=(
        ("Heat and density", (
            "gross_heating_value", "net_heating_value", "gross_heating_value_mass", "net_heating_value_mass",
            "net_wobbe_index", "fuel_relative_density", "fuel_density", "fuel_molar_mass", "fuel_compression_factor",
        )),
        ("Air and exhaust of the gas", (
            "stoichiometric_air", "fuel_f_factor", "fuel_co2_per_heat", "fuel_so2_per_heat", "so2_mass_flow",
        )),
        ("Fuel used, and the gas in the line", (
            "fuel_heat_input", "fuel_heat_input_net", "fuel_flow", "fuel_mass_flow", "fuel_line_compressibility",
            "fuel_line_density",
        )),
        ("The flow meter", (
            "fuel_flow_displayed", "fuel_flow_at_base", "fuel_volume_correction", "fuel_flow_metered",
            "fuel_meter_error", "orifice_reynolds_number", "orifice_diameter_ratio", "fuel_isentropic_exponent",
            "fuel_line_viscosity",
        )),
    ),
    compared=(
        "gross_heating_value", "wobbe_index", "methane_number", "fuel_relative_density", "stoichiometric_air",
        "fuel_hydrogen_sulfide", "fuel_flow", "fuel_pressure", "fuel_temperature", "fuel_actuator_position",
    ),
    elsewhere=(
        "fuel_water_dew_point", "fuel_hydrocarbon_dew_low", "fuel_hydrocarbon_dew_high", "methane_number_margin",
        "fuel_analysis_sum",
    ),
)  # fmt: skip

LOAD = Room(
    step="load",
    large=("load_fraction", "engine_load", "brake_efficiency", "heat_rate"),
    groups=(
        ("Power and work", (
            "engine_power", "engine_torque", "mean_effective_pressure", "generator_power", "generator_efficiency",
            "generator_power_factor", "generator_apparent_load", "compressor_power", "stage_power",
            "stage_cylinder_power", "compressor_power_by_rule",
        )),
        ("Efficiency in other words", (
            "brake_efficiency_gross", "heat_rate_gross", "brake_specific_fuel_consumption", "electrical_efficiency",
            "electrical_efficiency_gross", "electrical_heat_rate", "electrical_heat_rate_gross",
        )),
        ("Site rating and fair test", (
            "site_rated_power", "own_power_fraction", "indicated_power_ratio", "power_adjustment_factor",
            "fuel_adjustment_factor", "fair_test_power", "site_heat_rate", "methane_number_margin",
            "test_correction_factor", "full_throttle_power_corrected",
        )),
        ("Air of the site", ("air_density", "humidity_ratio", "air_water_fraction", "saturation_pressure")),
        ("Compressor stages", (
            "stage_pressure_ratio", "stage_isentropic_efficiency", "stage_temperature_excess",
            "stage_volumetric_efficiency", "stage_cylinder_flow", "stage_gas_flow",
        )),
    ),
    compared=(
        "load_fraction", "engine_power", "brake_efficiency", "heat_rate", "manifold_pressure", "manifold_temperature",
        "throttle_position", "wastegate_position", "ignition_timing", "engine_speed", "ambient_temperature",
        "barometric_pressure",
    ),
)  # fmt: skip

CYLINDERS = Room(
    step="cylinders",
    large=("exhaust_range", "exhaust_bank_difference"),
    groups=(
        ("Medians and scatter", (
            "exhaust_median", "bank_exhaust_temperature", "exhaust_spread_scale", "bearing_median", "bearing_over_oil",
        )),
        ("Sensors put right", (
            "true_temperature_k_on_n", "true_temperature_n_on_k", "true_temperature_j_on_k", "true_temperature_k_on_j",
            "type_k_junction_temperature", "type_j_junction_temperature", "type_n_junction_temperature",
            "type_e_junction_temperature", "platinum_100_temperature", "platinum_1000_temperature",
            "thermocouple_tolerance_class_1", "thermocouple_tolerance_class_2", "thermocouple_difference_of_two",
            "firing_interval",
        )),
    ),
    compared=(),
    elsewhere=("cylinder_exhaust_deviation", "bearing_deviation"),
)  # fmt: skip

ROOMS = {one.step: one for one in (FUEL, LOAD, EXHAUST, CYLINDERS)}
