"""A visit to an invented engine, for the tests of fuel meters and heat balance: 1 MW at the terminals, gas G1."""

from __future__ import annotations

from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading
from asfound.quantities.worked import Worked

G1 = {
    "fuel_methane": 91.20, "fuel_ethane": 4.60, "fuel_propane": 1.55, "fuel_isobutane": 0.22, "fuel_butane": 0.31,
    "fuel_isopentane": 0.07, "fuel_pentane": 0.05, "fuel_hexanes_plus": 0.05, "fuel_nitrogen": 1.05,
    "fuel_carbon_dioxide": 0.90, "fuel_hydrogen_sulfide": 0.0003,
}  # fmt: skip
TYPED: dict[tuple[str, str], tuple[float, str, float]] = {
    ("site", "barometric_pressure"): (98.0, "kPa", 0.001),
    ("site", "ambient_temperature"): (20.0, "°C", 0.002),
    ("site", "relative_humidity"): (50.0, "%", 0.04),
    ("generator", "generator_power"): (1000.0, "kW", 0.01),
    ("stack", "exhaust_oxygen_dry"): (9.0, "%", 0.01),
    ("stack", "exhaust_co_dry"): (400.0, "ppm", 0.02),
    ("stack", "exhaust_hydrocarbons_wet"): (1200.0, "ppm", 0.05),
    ("engine", "turbine_outlet_temperature"): (450.0, "°C", 0.003),
    ("fuel_meter", "fuel_pressure"): (400.0, "kPa", 0.003),
    ("fuel_meter", "fuel_temperature"): (18.0, "°C", 0.002),
    ("fuel_meter", "fuel_index_start"): (1000.0, "m3", 0.0),
    ("fuel_meter", "fuel_index_end"): (1011.5, "m3", 0.0),
    ("fuel_meter", "fuel_meter_time"): (600.0, "s", 0.001),
    ("engine", "jacket_water_flow"): (45.0, "m3/h", 0.02),
    ("engine", "jacket_water_inlet_temperature"): (78.0, "°C", 0.0003),
    ("engine", "jacket_water_outlet_temperature"): (87.0, "°C", 0.0003),
    ("engine", "auxiliary_water_flow"): (25.0, "m3/h", 0.02),
    ("engine", "auxiliary_water_inlet_temperature"): (40.0, "°C", 0.0003),
    ("engine", "auxiliary_water_outlet_temperature"): (46.0, "°C", 0.0003),
    ("engine", "coolant_glycol"): (30.0, "%(mass)", 0.03),
}
ORIFICE: dict[tuple[str, str], tuple[float, str, float]] = {
    ("fuel_meter", "orifice_bore"): (37.5, "mm", 0.0003),
    ("fuel_meter", "orifice_pipe_bore"): (102.3, "mm", 0.001),
    ("fuel_meter", "fuel_meter_difference"): (1.21, "kPa", 0.01),
}


def reading(place: str, name: str, value: float, symbol: str, doubt: float = 0.0, *, gauge: bool = False) -> Reading:
    """Return a reading as found; ``doubt`` relative."""
    about = quantity(name)
    si = about.from_unit(value, symbol)
    return Reading(
        quantity=name,
        place=place,
        state="as_found",
        time="2026-05-04T10:00:00+00:00",
        value=si,
        unit=about.si_unit,
        as_typed=f"{value:g} {symbol}",
        standard_uncertainty=abs(si) * doubt,
        gauge=gauge,
    )


def readings(
    changed: dict[tuple[str, str], tuple[float, str, float]] | None = None, without: tuple[str, ...] = ()
) -> list[Reading]:
    """Return the readings of the visit, some changed, added or left out."""
    gas = {("fuel", name): (percent, "%", 0.003) for name, percent in G1.items()}
    typed = {**gas, **TYPED, **(changed or {})}
    return [reading(*at, *how) for at, how in typed.items() if at[1] not in without]


def worked(
    changed: dict[tuple[str, str], tuple[float, str, float]] | None = None, without: tuple[str, ...] = ()
) -> Worked:
    """Return the sheet of the visit, 2000 draws."""
    return work_out(readings(changed, without), number=2000)
