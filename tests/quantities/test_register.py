"""The register of quantities."""

from __future__ import annotations

import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import KnowledgeError, UnknownNameError
from asfound.quantities import register
from asfound.quantities.register import STEPS, implausible, of_step, quantities, quantity
from asfound.quantities.units import fits, unit
from asfound.sources.register import sources

ALL = list(quantities().values())


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.name)
def test_every_quantity_hangs_together(one):
    """Units have its dimension, the display units are offered, the range has a source, the words are there."""
    mine = one.unit
    for symbol in (one.si_display, one.us_display, *one.units, one.plausible_as_written[2]):
        assert unit(symbol).vector == mine.vector, symbol
    assert {one.si_display, one.us_display} <= set(one.units)
    low, high = one.plausible
    assert low < high
    assert set(one.plausible_source.split(";")) <= set(sources())
    assert one.step in STEPS
    assert one.places
    assert one.title[0].isupper() or one.title[0].isdigit()
    assert one.help.endswith(".")
    assert one.ucum
    assert one.name.isidentifier()
    assert one.gauge_possible <= (one.pressure == "absolute")
    assert bool(one.pressure) == (one.dimension == "pressure")


@pytest.mark.parametrize("one", ALL, ids=lambda one: one.name)
def test_every_quantity_converts_there_and_back(one):
    for symbol in one.typed_units:
        low, high = one.plausible
        assert one.from_unit(one.to_unit(high, symbol), symbol) == pytest.approx(high, rel=1e-12)
        assert one.to_unit(low, symbol) < one.to_unit(high, symbol)


def test_what_a_visit_needs_is_there():
    """The as-found set of the trade (common practice, no source) and what its worksheets give."""
    needed = """
        engine_hours engine_starts engine_power engine_speed barometric_pressure ambient_temperature
        relative_humidity fuel_pressure fuel_temperature fuel_flow manifold_pressure manifold_temperature
        throttle_position throttle_command wastegate_position bypass_position fuel_actuator_position
        ignition_timing ignition_retard cylinder_exhaust_temperature turbine_inlet_temperature
        turbine_outlet_temperature catalyst_inlet_temperature catalyst_outlet_temperature
        catalyst_pressure_drop jacket_water_inlet_temperature jacket_water_outlet_temperature
        auxiliary_water_inlet_temperature oil_pressure oil_temperature oil_filter_pressure_drop oil_level
        crankcase_pressure bearing_temperature exhaust_oxygen_dry exhaust_nox_dry exhaust_co_dry
        exhaust_co2_dry knock_level active_faults stored_faults excess_air_ratio nox_at_reference_oxygen
        nox_mass_per_energy nox_mass_concentration saturation_pressure humidity_ratio air_water_fraction
        air_density exhaust_flow_dry swept_volume rated_power
    """
    assert set(needed.split()) <= set(quantities())
    assert sum(len(of_step(step)) for step in STEPS) == len(ALL) >= 120


def test_every_quantity_that_a_worksheet_names_is_registered():
    from asfound.quantities.worksheets import load

    for sheet in load().values():
        for name in (*(take.quantity for take in sheet.takes), *sheet.gives):
            assert name in quantities(), f"{sheet.name}: {name}"


def test_an_unknown_name_tells_the_nearest():
    with pytest.raises(UnknownNameError) as caught:
        quantity("exhaust_oxigen_dry")
    assert "exhaust_oxygen_dry" in caught.value.near


def test_pressures_that_may_be_gauge_are_offered_both_ways():
    assert fits("fuel_pressure")[:2] == ("kPa g", "kPa abs")
    assert "psig" in fits("fuel_pressure")
    assert "psi" in fits("oil_pressure")
    assert fits("barometric_pressure")[0] == "kPa"


def test_what_is_odd_is_told_and_not_refused():
    assert implausible("exhaust_oxygen_dry", 0.085) is None
    said = implausible("exhaust_oxygen_dry", 0.215)
    assert said is not None
    assert "above 0 to 20.9 %" in said
    assert implausible("manifold_pressure", 100e3, gauge=True) is None
    assert "below" in (implausible("manifold_pressure", 2e3) or "")
    assert implausible("engine_power", float("nan")) is None


@given(st.sampled_from(ALL), st.floats(0, 1))
def test_all_inside_the_range_is_plausible(one, share):
    low, high = one.plausible
    assert implausible(one.name, min(max(low + share * (high - low), low), high)) is None


@pytest.mark.parametrize(
    ("column", "value"), [("step", "cellar"), ("kind", "colour"), ("basis", "damp"), ("carries", "perhaps")]
)
def test_a_wrong_row_is_refused(column, value):
    row = next(
        row for row in register.load_csv("asfound.quantities", "data/quantities.csv") if row["name"] == "engine_power"
    )
    kinds = {row["kind"]: row for row in register.load_csv("asfound.quantities", "data/quantity_kinds.csv")}
    with pytest.raises(KnowledgeError, match=value):
        register._quantity(row | {column: value}, kinds, 9)


def test_the_register_is_light_on_the_start_path():
    """No SciPy, no NumPy, no YAML: the register and its reading are on the way of every command."""
    code = (
        "import sys; from asfound.quantities.register import quantities; quantities(); "
        "print(*(m for m in ('scipy', 'numpy', 'yaml', 'duckdb', 'pydantic', 'sqlalchemy') if m in sys.modules))"
    )
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == ""
