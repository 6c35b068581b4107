"""The engine's own NOx probe beside the analyser: wet or dry is asked before it is judged."""

from __future__ import annotations

import pytest

from asfound.exhaust.findings_nox_probe import find
from asfound.quantities.findings import Case
from asfound.quantities.register import quantity as register
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading

GAS = {"fuel_methane": 0.95, "fuel_nitrogen": 0.05}


def reading(quantity, value, place="stack", u=0.0):
    return Reading(
        quantity=quantity, place=place, state="as_found", time="2032-07-08T09:00:00+00:00", value=value,
        unit=register(quantity).si_unit, as_typed=f"{value:g}", standard_uncertainty=u,
    )  # fmt: skip


def found(probe, *, u=3e-6, dry=200e-6, oxygen=0.08):
    readings = (
        *(reading(name, value, "fuel") for name, value in GAS.items()),
        reading("exhaust_oxygen_dry", oxygen, u=0.001),
        reading("exhaust_nox_dry", dry, u=u),
        reading("nox_sensor_reading", probe, u=u),
    )
    worked = work_out(readings)
    case = Case(readings=readings, worked=worked, limits=(), identification=None, engine={}, visit={}, previous=None)
    return worked, list(find(case))


def test_what_a_wet_probe_should_show():
    """By hand: methane at lambda 1.56 burns to CO2 + 2 H2O; with 8 % dry oxygen water is 12.0 to 12.5 % of the wet gas.

    Stoichiometry, no source needed: per CH4 2 O2 burn; dry products at excess e: 1 CO2 + 2e O2 + 2(1+e) * 3.774 N2.
    """
    excess = 0.08 * (1 + 2 * 3.774) / (2 - 0.08 * (2 + 2 * 3.774))
    dry = 1 + 2 * excess + 2 * (1 + excess) * 3.774
    worked, _ = found(177e-6)
    wet = worked.result("as_found/stack/nox_at_wet_probe").value
    assert wet == pytest.approx(
        200e-6 * dry / (dry + 2), rel=0.02
    )  # nitrogen of the gas and humidity of the air are left out


def test_a_probe_that_fits_as_wet_gas_is_not_called_low():
    (said,) = found(176e-6)[1]
    assert said.code == "EX-50"
    assert "it fits if it shows wet gas; if it shows dry gas, it reads 12 % low" in said.says


def test_a_probe_that_fits_as_dry_gas_is_not_called_high():
    (said,) = found(200e-6)[1]
    assert said.code == "EX-50"
    assert "it fits if it shows dry gas" in said.says
    assert "high" in said.says


def test_a_probe_that_fits_neither_clashes():
    (said,) = found(140e-6)[1]
    assert said.code == "EX-51"
    assert said.severity == "clash"
    assert "30 % low if dry" in said.says


def test_a_probe_that_cannot_be_told_from_either_says_nothing():
    assert found(188e-6, u=15e-6)[1] == []
    assert found(3e-6, dry=3e-6)[1] == []


def test_without_an_analyser_nothing_is_said():
    readings = (reading("nox_sensor_reading", 100e-6),)
    case = Case(
        readings=readings, worked=work_out(readings), limits=(), identification=None, engine={}, visit={}, previous=None
    )
    assert list(find(case)) == []
