"""The demo visit to A2 as typed, for the tests: as found and as left. Invented."""

from __future__ import annotations

from collections.abc import Mapping

from asfound.quantities.findings import Case
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Limit, Reading

U: Mapping[str, float] = {
    "barometric_pressure": 87.0, "ambient_temperature": 0.58, "relative_humidity": 0.023, "engine_speed": 1.1,
    "manifold_pressure": 3500.0, "manifold_temperature": 0.35, "fuel_pressure": 6000.0, "fuel_temperature": 0.35,
    "exhaust_oxygen_dry": 0.00115, "exhaust_nox_dry": 4.3e-6, "exhaust_co_dry": 1.2e-5, "exhaust_co2_dry": 0.00115,
    "oxygen_sensor_reading": 0.003, "turbine_inlet_temperature": 3.5, "turbine_outlet_temperature": 3.5,
    "cylinder_exhaust_temperature": 3.5, "suction_pressure": 2.2e4, "discharge_pressure": 4e4,
    "suction_temperature": 0.6, "discharge_temperature": 0.6, "site_height": 3.0, "jacket_water_inlet_temperature": 0.4,
}  # fmt: skip
"""Standard uncertainties [SI]; of what is not here 1.5 % of the value."""
GAS = {
    "fuel_methane": "91.20 %", "fuel_ethane": "4.60 %", "fuel_propane": "1.55 %", "fuel_isobutane": "0.22 %",
    "fuel_butane": "0.31 %", "fuel_isopentane": "0.07 %", "fuel_pentane": "0.05 %", "fuel_hexanes_plus": "0.05 %",
    "fuel_nitrogen": "1.05 %", "fuel_carbon_dioxide": "0.90 %",
}  # fmt: skip
AS_FOUND = {f"fuel/{name}": text for name, text in GAS.items()} | {
    "site/site_height": "1460 m", "site/barometric_pressure": "12.34 psia", "site/ambient_temperature": "81 °F",
    "site/relative_humidity": "31 %", "engine/engine_speed": "899 rpm", "engine/manifold_pressure": "29.8 psig",
    "engine/manifold_temperature": "128 °F", "engine/engine_power": "1735 hp",
    "stage_1/suction_pressure": "60 psig", "stage_1/suction_temperature": "78 °F",
    "stage_1/discharge_pressure": "190.5 psig", "stage_1/discharge_temperature": "228 °F",
    "stage_2/suction_pressure": "184.5 psig", "stage_2/suction_temperature": "122 °F",
    "stage_2/discharge_pressure": "578 psig", "stage_2/discharge_temperature": "284 °F",
    "compressor/compressed_gas_flow": "12.5 MMscfd (60 F, 14.73 psia)",
    "engine/fuel_flow": "12571 scfh (60 F, 14.73 psia)", "engine/fuel_pressure": "38.5 psig",
    "engine/fuel_temperature": "74 °F", "stack/exhaust_oxygen_dry": "8.9 %", "stack/exhaust_nox_dry": "149 ppm",
    "stack/exhaust_co_dry": "402 ppm", "stack/exhaust_co2_dry": "6.9 %", "engine/oxygen_sensor_reading": "8.2 %",
    "engine/turbine_inlet_temperature": "1094 °F", "engine/turbine_outlet_temperature": "806 °F",
    "cylinder_1/cylinder_exhaust_temperature": "987 °F", "cylinder_2/cylinder_exhaust_temperature": "1003 °F",
    "cylinder_3/cylinder_exhaust_temperature": "991 °F", "cylinder_4/cylinder_exhaust_temperature": "998 °F",
    "engine/jacket_water_inlet_temperature": "171 °F",
}  # fmt: skip
AS_LEFT = {
    "site/barometric_pressure": "12.33 psia", "site/ambient_temperature": "86 °F", "site/relative_humidity": "27 %",
    "engine/engine_speed": "900 rpm", "engine/manifold_pressure": "31.2 psig", "engine/manifold_temperature": "129 °F",
    "engine/engine_power": "1740 hp", "engine/fuel_flow": "12605 scfh (60 F, 14.73 psia)",
    "stack/exhaust_oxygen_dry": "9.3 %", "stack/exhaust_nox_dry": "84 ppm", "stack/exhaust_co2_dry": "6.7 %",
    "engine/oxygen_sensor_reading": "8.2 %",
}  # fmt: skip
PERMIT = Limit(quantity="nox_mass_per_energy", value=3.725e-10, as_typed="1.0 g/hp-h", name="permit")


def reading(key: str, text: str, state: str) -> Reading:
    """Return a reading as typed, the analyser's with half of their error in common."""
    place, name = key.split("/")
    about = quantity(name)
    amount = parse_amount(text, quantity=name, decimal=".", default_unit=None)
    assert amount.value is not None, text
    ours = place == "stack"
    return Reading(
        quantity=name, place=place, state=state, time="2032-07-08T09:00:00+00:00",  # type: ignore[arg-type]
        value=amount.value, unit=about.si_unit, as_typed=text, gauge=bool(amount.gauge),
        standard_uncertainty=U.get(name, 0.015 * abs(amount.value)),
        shared_with="analyser" if ours else "", shared_fraction=0.5 if ours else 0.0,
    )  # fmt: skip


def visit(changed: Mapping[str, str] | None = None, *, without: tuple[str, ...] = (), left: bool = True) -> Case:
    """Return the visit, with some readings typed otherwise or not taken."""
    found = {key: text for key, text in (AS_FOUND | dict(changed or {})).items() if key not in without}
    readings = [reading(key, text, "as_found") for key, text in found.items()]
    if left:
        readings += [reading(key, text, "as_left") for key, text in AS_LEFT.items()]
    worked = work_out(readings, number=200)
    return Case(readings=tuple(readings), worked=worked, limits=(PERMIT,), engine={"family": "HM9", "catalogue": ""})
