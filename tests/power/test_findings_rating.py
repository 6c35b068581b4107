"""What the rating of an engine means: when each finding comes, and when not."""

from __future__ import annotations

import pytest

from asfound.power.derating_file import demo_derating
from asfound.power.derating_sheet import worksheets_with
from asfound.power.findings_rating import find
from asfound.quantities.findings import Case
from asfound.quantities.register import quantities
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Finding, Reading

PLATE = 1470e3


def reading(quantity: str, value: float, place: str = "engine", u: float = 0.0) -> Reading:
    return Reading(
        quantity=quantity, place=place, state="as_found", time="", value=value, unit=quantities()[quantity].si_unit,
        as_typed=f"{value:g}", standard_uncertainty=u,
    )  # fmt: skip


def engine(load: float, **more: float) -> list[Reading]:
    """An HM9 at 1,460 m on a mild day, its coolant at 40 °C: its own tables allow the plate."""
    at = {
        "site_height": 1460.0, "ambient_temperature": 293.15, "barometric_pressure": 85e3, "rated_power": PLATE,
        "auxiliary_water_inlet_temperature": 313.15, **more,
    }  # fmt: skip
    places = {
        "site_height": "site",
        "ambient_temperature": "site",
        "barometric_pressure": "site",
        "methane_number": "fuel",
    }
    given = [reading(name, value, places.get(name, "engine")) for name, value in at.items()]
    return [*given, reading("engine_power", load * PLATE, u=0.01 * load * PLATE)]


def found(readings: list[Reading], *, own: bool = True) -> dict[str, Finding]:
    sheets = worksheets_with(demo_derating().of("HM9")) if own else None
    worked = work_out(readings, number=2000, worksheets=sheets)
    return {one.code: one for one in find(Case(readings=tuple(readings), worked=worked))}


@pytest.mark.parametrize(
    ("load", "codes"),
    [
        (0.70, {"PW-12", "PW-14"}),
        (0.90, {"PW-12", "PW-15"}),
        (0.95, {"PW-12", "PW-13"}),
        (1.00, {"PW-11", "PW-13"}),
        (1.06, {"PW-10"}),
    ],
)
def test_load_against_the_site_rating(load: float, codes: set[str]) -> None:
    assert set(found(engine(load))) == codes


def test_an_overload_is_a_matter_of_now() -> None:
    assert found(engine(1.06))["PW-10"].severity == "visit"
    assert found(engine(1.20))["PW-10"].severity == "stop"


def test_too_low_for_a_test_says_what_is_needed() -> None:
    low = found(engine(0.70))["PW-14"]
    assert "1,323 kW" in low.next_step  # 90 % of 1,470 kW
    assert low.probability is not None
    assert low.probability > 0.95


def test_what_the_site_takes_from_the_plate_is_told_by_table() -> None:
    hot = found(engine(0.80, ambient_temperature=318.15, auxiliary_water_inlet_temperature=328.15))["PW-16"]
    assert "charge coolant allows" in hot.says
    assert "height and ambient temperature allow" in hot.says
    assert "PW-16" not in found(engine(0.80))


def test_by_the_formula_from_memory_nothing_is_judged() -> None:
    codes = set(found(engine(1.20), own=False))
    assert codes == {"PW-17"}
    entered = {"rating_exponent_pressure": 0.3, "rating_exponent_temperature": 0.3, "rating_exponent_coolant": 0.5}
    assert "PW-17" not in found(engine(0.80, **entered), own=False)


def test_a_share_that_a_person_took_from_the_chart_is_judged() -> None:
    by_hand = found(engine(0.95, own_power_fraction=0.85), own=False)
    assert set(by_hand) == {"PW-10", "PW-16"}


@pytest.mark.parametrize(("number", "severity"), [(60.0, "visit"), (69.0, "soon"), (71.0, "soon"), (75.0, "")])
def test_a_poor_gas_that_no_derate_counts(number: float, severity: str) -> None:
    gas = {"methane_number": number, "required_methane_number": 70.0}
    told = found(engine(0.80, **gas), own=False)
    assert (told["PW-18"].severity if "PW-18" in told else "") == severity
    assert "PW-18" not in found(engine(0.80, **gas))  # the engine's own tables count it


def test_a_poor_gas_lowers_the_rating_by_the_engines_own_table() -> None:
    poor = found(engine(0.95, methane_number=65.0, required_methane_number=70.0))
    assert {"PW-10", "PW-16"} <= set(poor)
    assert "methane number allows 90 %" in poor["PW-16"].says


@pytest.mark.parametrize(("number", "told"), [(66.0, False), (69.5, True), (70.5, True), (71.9, False)])
def test_near_its_limit_a_methane_number_allows_a_range(number: float, told: bool) -> None:
    near = found(engine(0.80, methane_number=number, required_methane_number=70.0))
    assert ("PW-06" in near) == told
    if number == 69.5:  # the demo table takes 2 % for each number below the limit
        assert "95 to 100 %" in near["PW-06"].says


def test_warm_coolant_and_a_full_filter() -> None:
    assert "PW-19" not in found(engine(0.80))
    assert "PW-19" not in found(engine(0.80, auxiliary_water_inlet_temperature=330.0))  # nobody said what it should be
    warm = engine(0.80, auxiliary_water_inlet_temperature=330.0, rating_coolant_temperature=313.15)
    assert "charge coolant" in found(warm)["PW-19"].says
    assert "air filter" in found(engine(0.80, air_filter_pressure_drop=7e3))["PW-19"].says
    assert "its own heat" in found(engine(0.80, intake_air_temperature=308.15))["PW-19"].says


def test_words_for_a_person() -> None:
    for one in (*found(engine(0.70)).values(), *found(engine(1.20), own=False).values()):
        assert one.subject == "load"
        assert one.next_step.endswith(".")
        assert one.because
