"""The oxygen sensor's millivolts near lambda 1, beside a chemistry library, and the finding that they make."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.exhaust.findings_sensor_voltage import find
from asfound.exhaust.sensor_voltage import FARADAY, lambda_from_voltage, oxygen_at_sensor
from asfound.quantities.constants import GAS_CONSTANT
from asfound.quantities.sheet import work_out

from .visits import case, read

METHANE = (1.0, 4.0, 0.0, 0.0)
KELVIN = st.floats(850.0, 1100.0)


@pytest.mark.parametrize("kelvin", [850.0, 923.15, 1050.0])
@pytest.mark.parametrize(
    ("ratio", "off"), [(0.97, 4e-3), (0.985, 2e-3), (0.995, 7e-4), (0.999, 2e-4), (1.002, 2e-4), (1.02, 2e-4)]
)
def test_a_chemistry_library_agrees(kelvin: float, ratio: float, off: float) -> None:
    ct = pytest.importorskip("cantera")
    gas = ct.Solution("gri30.yaml")
    kept = ("CH4", "O2", "N2", "CO2", "CO", "H2", "H2O")
    gas = ct.Solution(thermo="ideal-gas", species=[one for one in gas.species() if one.name in kept])
    air = 2.0 * ratio / 0.2095
    gas.TPX = kelvin, 101_325.0, {"CH4": 1.0, "O2": 0.2095 * air, "N2": 0.7905 * air}
    gas.equilibrate("TP")
    volts = GAS_CONSTANT * kelvin / (4.0 * FARADAY) * np.log(0.2095 / gas["O2"].X[0])
    assert float(lambda_from_voltage(volts, kelvin, *METHANE)) == pytest.approx(ratio, abs=off)


@given(KELVIN, st.floats(0.02, 0.95), st.floats(0.002, 0.05))
def test_more_millivolts_are_richer(kelvin: float, volts: float, more: float) -> None:
    one, other = (float(lambda_from_voltage(v, kelvin, *METHANE)) for v in (volts, volts + more))
    assert other <= one


@given(KELVIN)
def test_a_decade_of_oxygen_is_a_step_of_nernst(kelvin: float) -> None:
    step = GAS_CONSTANT * kelvin * np.log(10.0) / (4.0 * FARADAY)
    assert float(oxygen_at_sensor(step, kelvin)) == pytest.approx(0.02095, rel=1e-9)
    assert float(oxygen_at_sensor(0.0, kelvin)) == 0.2095


def test_arrays_are_scalars_and_a_gas_without_need_is_nan() -> None:
    volts = np.array([0.1, 0.5, 0.8])
    found = np.asarray(lambda_from_voltage(volts, 923.15, *METHANE))
    assert found.tolist() == [float(lambda_from_voltage(one, 923.15, *METHANE)) for one in volts]
    assert np.isnan(float(lambda_from_voltage(0.5, 923.15, 1.0, 0.0, 2.0, 0.0)))


def test_it_is_within_a_thousandth_or_so_where_controllers_hold_it() -> None:
    """Set points of 700 to 800 mV (common practice, no source) are lambda 0.994 to 1.000 of a heated cell."""
    found = np.asarray(lambda_from_voltage(np.array([0.70, 0.80]), 923.15, *METHANE))
    assert np.all((found > 0.993) & (found < 1.0))


def engine(volts: float, oxygen: float = 0.4, co: float = 6000.0):
    return case(
        read("oxygen_sensor_voltage", "before_catalyst", volts, 5.0, "mV"),
        read("exhaust_oxygen_dry", "before_catalyst", oxygen, 0.05, "%"),
        read("exhaust_co_dry", "before_catalyst", co, 100.0, "ppm"),
        read("exhaust_nox_dry", "before_catalyst", 2500.0, 50.0, "ppm"),
    )


def test_a_sensor_that_shows_lean_in_rich_exhaust_is_named() -> None:
    said = next(find(engine(80.0)))
    assert said.code == "EX-56"
    assert "shows leaner" in said.says
    assert "holds the engine richer" in said.says
    assert "rather than the set point" in said.next_step


def test_a_sound_sensor_is_not_named() -> None:
    assert list(find(engine(760.0))) == []
    assert list(find(case(read("oxygen_sensor_voltage", "before_catalyst", 80.0, 5.0, "mV")))) == []


def test_a_voltage_of_another_sensor_is_refused() -> None:
    worked = work_out([read("oxygen_sensor_voltage", "before_catalyst", 2.45, 0.01, "V")], number=100)
    assert worked.result("as_found/before_catalyst/excess_air_ratio_by_sensor") is None
    assert worked.refused
