"""What the engine burns against its declaration."""

from __future__ import annotations

import pytest

from asfound.power.findings_declared import find
from asfound.quantities.findings import Case
from asfound.quantities.register import quantities
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Finding, Reading

EXACT = {
    "barometric_pressure": (100e3, "site"), "ambient_temperature": (298.15, "site"),
    "auxiliary_water_inlet_temperature": (298.15, "engine"), "rated_power": (1e6, "engine"),
    "rated_heat_rate": (2.4, "engine"), "mechanical_efficiency": (0.87, "engine"),
}  # fmt: skip


def reading(quantity: str, value: float, place: str = "engine", u: float = 0.0) -> Reading:
    return Reading(
        quantity=quantity, place=place, state="as_found", time="", value=value, unit=quantities()[quantity].si_unit,
        as_typed=f"{value:g}", standard_uncertainty=u,
    )  # fmt: skip


def found(heat_rate: float, load: float = 0.95) -> list[Finding]:
    given = [reading(name, value, place) for name, (value, place) in EXACT.items()]
    given += [reading("heat_rate", heat_rate, u=0.02), reading("engine_power", load * 1e6)]
    return list(find(Case(readings=tuple(given), worked=work_out(given, number=2000))))


@pytest.mark.parametrize(("heat_rate", "code"), [(2.40, ""), (2.47, ""), (2.52, "PW-05"), (2.60, "PW-04")])
def test_at_the_reference_the_declaration_itself_counts_with_its_tolerance(heat_rate: float, code: str) -> None:
    assert [one.code for one in found(heat_rate)] == [code] * bool(code)


def test_below_the_declared_load_nothing_is_said() -> None:
    assert found(2.8, load=0.7) == []
