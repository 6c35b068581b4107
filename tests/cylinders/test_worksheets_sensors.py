"""Worksheets of sensors on a sheet: values, intervals, and what is refused from a person."""

from __future__ import annotations

import pytest

from asfound.cylinders.worksheets_sensors import platinum_100, type_k_temperature
from asfound.errors import InputError
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading


def read(name: str, value: float, unit: str, doubt: float = 0.0) -> Reading:
    about = quantity(name)
    return Reading(
        quantity=name, place="engine", state="as_found", time="2032-02-12T13:40+01:00", unit=about.si_unit,
        value=about.from_unit(value, unit), as_typed=f"{value:g} {unit}", standard_uncertainty=doubt,
    )  # fmt: skip


def test_the_firing_interval_of_a_counted_engine():
    found = work_out((read("cylinder_count", 9, "1"),), number=50).result("as_found/engine/firing_interval")
    assert found is not None
    assert quantity("firing_interval").to_unit(found.value, "deg") == pytest.approx(80)


def test_the_terminals_are_assumed_and_make_the_doubt():
    worked = work_out((read("thermocouple_reading", 603, "°C"),), number=2000)
    found = worked.result("as_found/engine/true_temperature_k_on_n")
    assert found is not None
    assert found.value - 273.15 == pytest.approx(513, abs=1)
    assert 2.5 < found.standard_uncertainty < 4
    assert [one.quantity for one in found.assumed] == ["terminal_temperature"]


def test_the_voltage_is_compensated():
    """18.0 mV, type K, cold junction 35 C: 470.959 C (shared reference, two libraries)."""
    assert type_k_temperature(0.018, 308.15) - 273.15 == pytest.approx(470.959, abs=0.001)


def test_leads_are_taken_off():
    assert platinum_100(139.505, 1.0) - 273.15 == pytest.approx(100, abs=0.01)


@pytest.mark.parametrize(
    ("name", "value", "unit"),
    [
        ("thermocouple_reading", 1500, "°C"),
        ("thermocouple_voltage", 90, "mV"),
        ("sensor_resistance", 10, "Ohm"),
    ],
)
def test_nonsense_is_refused_with_what_to_do(name, value, unit):
    from asfound.quantities.worksheets import load

    given = read(name, value, unit)
    refusals = [sheet.refuses[name] for sheet in load().values() if sheet.room == "cylinders" and name in sheet.refuses]
    assert refusals
    for refuse in refusals:
        with pytest.raises(InputError) as told:
            refuse(given)
        assert told.value.allowed
        assert told.value.try_next
