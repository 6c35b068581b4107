"""What pages and papers of fuel, load and exhaust are made of: differences, the last visit, steps of a rating, heat."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from asfound.quantities.register import quantities
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Limit, Reading
from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.records.visit import VisitView, view
from asfound.report.changes import change, signed
from asfound.report.content_compared import compared_of
from asfound.report.content_fuel import gas, knock
from asfound.report.content_heat import heat_split
from asfound.report.content_lanes import number_at
from asfound.report.content_load import site_rating
from asfound.report.content_methods import ways_of
from asfound.report.deciding import deciding
from asfound.report.rooms import EXHAUST, ROOMS


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Records]:
    folder = tmp_path_factory.mktemp("rooms") / "demo"
    make_demo_home(folder)
    with Records.open(folder) as opened:
        yield opened


@pytest.fixture
def a2(records: Records) -> VisitView:
    return view(records, "A2/2032-07-08")


# ---------------------------------------------------------------------- amounts of difference


def test_a_difference_of_temperatures_has_no_offset() -> None:
    """10 K are 18 °F, never 50 °F."""
    moved = change(10.0, (8.0, 12.0), 0.0, "turbine_outlet_temperature", "us")
    assert (moved.value, moved.low, moved.high, moved.direction) == ("+18.0", "+14.4", "+21.6", "up")
    si = change(10.0, (8.0, 12.0), 0.0, "turbine_outlet_temperature", "si")
    assert si.value == "+10.0"


def test_a_change_that_may_be_none_has_no_direction() -> None:
    moved = change(0.01, (-0.02, 0.04), 0.31, "excess_air_ratio", "si")
    assert not moved.sure
    assert moved.chance == "69 in 100"
    assert change(0.0, (0.0, 0.0), 0.0, "ignition_timing", "si").same


@pytest.mark.parametrize(
    ("value", "places", "text"), [(0.4, 2, "+0.40"), (-1250.0, 0, "\u22121,250"), (1e-9, 2, "0.00")]
)
def test_an_amount_carries_its_sign_unless_it_is_nought(value: float, places: int, text: str) -> None:
    assert signed(value, places) == text


# ---------------------------------------------------------------------- the last visit


def test_two_visits_are_taken_as_independent(a2: VisitView) -> None:
    """Both sheets draw the same stream for a reading of one key; the change must not be narrowed by that."""
    assert a2.previous
    key = "as_found/stack/nox_mass_per_energy"
    now, then = a2.worked.result(key), a2.previous.worked.result(key)
    assert now
    assert then
    last = compared_of(a2, ["nox_mass_per_energy"], "si")
    assert last
    (row,) = last.rows
    width = float(row.change.high) - float(row.change.low.replace("\u2212", "-"))
    apart = math.hypot(now.standard_uncertainty, then.standard_uncertainty) * 3.6e9  # kg/J to g/kWh
    assert width == pytest.approx(2 * 1.96 * apart, rel=0.08)
    together = np.std(a2.worked.draws(now) - a2.previous.worked.draws(then)) * 3.6e9
    assert together < 0.9 * apart  # so taking the draws as they stand would have been too sure


def test_there_is_nothing_to_compare_on_a_first_visit(records: Records) -> None:
    assert compared_of(view(records, "D2/2032-06-21"), EXHAUST.compared, "si") is None


# ---------------------------------------------------------------------- ways


def test_the_way_used_comes_first_and_the_others_are_put_beside_it(a2: VisitView) -> None:
    names = EXHAUST.in_order({one.taken.quantity for one in a2.worked.agreements})
    for one in ways_of(a2, names, "us"):
        assert one.ways[0].used
        assert len(one.ways) >= 2
        assert one.says
        used = {way.worksheet for way in one.ways if way.used}
        for way in one.ways:
            for state, moved in way.away.items():
                taken = a2.worked.agreement(f"{state}/{one.key}")
                assert taken
                assert way.numbers[state].value - taken.taken.value == pytest.approx(
                    next(b for b in taken.others if b.number is way.numbers[state]).difference.value
                )
                assert moved.value
        assert used


def test_every_name_of_a_layout_is_in_the_register() -> None:
    for room in ROOMS.values():
        missing = [name for name in (*room.named, *room.compared) if name not in quantities()]
        assert missing == [], room.step


def test_names_are_put_in_the_order_of_the_layout() -> None:
    assert EXHAUST.in_order(["co_mass_flow", "excess_air_ratio", "engine_power"]) == [
        "excess_air_ratio",
        "co_mass_flow",
    ]


# ---------------------------------------------------------------------- the rating and the heat


def taken(name: str, place: str, value: float) -> Reading:
    return Reading(
        quantity=name, place=place, state="as_found", time="2032-07-08T09:00:00+00:00", value=value,
        unit=quantities()[name].si_unit, as_typed=f"{value:g}", standard_uncertainty=0.0,
    )  # fmt: skip


def test_the_steps_lead_from_the_plate_to_the_site_rating(a2: VisitView) -> None:
    found = site_rating(a2, "si")
    assert found
    rows = {row.title: row for row in found.picture["rows"]}
    ends = [row.stretches[0].end.value for row in found.picture["rows"] if row.title != "Load carried"]
    assert ends[0] == pytest.approx(1470.0)
    assert ends[-1] == pytest.approx(ends[-2], rel=1e-6)
    rating = number_at(a2.worked, "as_found/engine/site_rated_power")
    assert rating
    assert rows["Site rating"].stretches[0].end.value == pytest.approx(rating.value / 1e3)
    starts = [row.stretches[0].start for row in found.picture["rows"][1:-1]]
    assert starts == pytest.approx(ends[:-1])


RATED = {
    ("rated_power", "engine"): 1e6, ("barometric_pressure", "site"): 85e3, ("ambient_temperature", "site"): 305.0,
    ("auxiliary_water_inlet_temperature", "engine"): 310.0, ("relative_humidity", "site"): 0.8,
}  # fmt: skip


@pytest.mark.parametrize("weight", [0.0, 1.0])
def test_humidity_is_a_step_where_it_counts_in_the_rating(a2: VisitView, weight: float) -> None:
    given = {**RATED, ("rating_humidity_weight", "engine"): weight}
    worked = work_out([taken(name, place, value) for (name, place), value in given.items()], number=100)
    rating = worked.result("as_found/engine/site_rated_power")
    assert rating is not None
    found = site_rating(replace(a2, worked=worked), "si")
    assert found
    rows = {row.title: row for row in found.picture["rows"]}
    assert ("Humidity" in rows) == bool(weight)
    last = [row for row in found.picture["rows"] if row.title not in ("Load carried", "Site rating")][-1]
    assert last.stretches[0].end.value == pytest.approx(rating.value / 1e3, rel=1e-6)


def test_a_rating_beyond_its_formula_is_shown_without_steps(a2: VisitView) -> None:
    given = {**RATED, ("rating_humidity_weight", "engine"): 1.0, ("rating_pressure", "engine"): 1.0}
    worked = work_out([taken(name, place, value) for (name, place), value in given.items()], number=100)
    found = site_rating(replace(a2, worked=worked), "si")
    assert found is None or found.picture["rows"]


def test_the_parts_of_the_heat_follow_one_another(a2: VisitView) -> None:
    split = heat_split(a2, "si")
    if split is None:
        pytest.skip("this visit has no heat balance")
    at = 0.0
    for row in split.picture["rows"]:
        stretch = row.stretches[0]
        if stretch.state == "found":
            assert stretch.start == pytest.approx(at)
            at = stretch.end.value
    if split.complete:
        assert at == pytest.approx(100.0, abs=0.5)


# ---------------------------------------------------------------------- the gas


def test_the_parts_of_the_gas_add_up_to_its_sum(a2: VisitView) -> None:
    shown = gas(a2, "si")
    assert shown
    assert sum(one.percent for one in shown.parts) == pytest.approx(100.0, abs=0.01)
    assert [one.title for one in shown.components][:3] == ["Methane", "Ethane", "Propane"]
    assert shown.components[-1].text == "3.00 ppm"
    shares = [one.text for one in shown.components[:-1]]
    assert shares[0] == "91.20 %"
    assert {len(one.partition(".")[2]) for one in shares} == {len("20 %")}  # beside each other: the same decimals


def test_what_the_build_needs_is_a_wall_to_the_low_side(a2: VisitView) -> None:
    needed = knock(a2, "si")
    if needed is None:
        pytest.skip("nobody said what the build needs")
    assert needed.wall.side == "lower"
    assert needed.undecided.high - needed.wall.value == pytest.approx(2.0)


# ---------------------------------------------------------------------- deciding


def test_what_is_sure_needs_no_deciding(a2: VisitView) -> None:
    number = a2.worked.result("as_left/stack/nox_mass_per_energy")
    assert number
    limit = Limit(quantity=number.quantity, value=number.value * 2, as_typed="twice")
    assert deciding(a2.worked, number, limit, "us") == ""
    near = Limit(quantity=number.quantity, value=number.value * 1.02, as_typed="near")
    assert deciding(a2.worked, number, near, "us").startswith("not sure either way; sure (95 in 100) below ")


def test_a_reading_goes_before_a_result_unless_a_way_was_chosen(a2: VisitView) -> None:
    number = number_at(a2.worked, "as_found/engine/engine_power")
    assert isinstance(number, Reading)
    for one in a2.worked.agreements:
        assert number_at(a2.worked, one.key) is one.taken
