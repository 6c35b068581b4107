"""One page for the manager. Published cases of money stand in the checks of the room."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError, KnowledgeError, UnknownNameError
from asfound.fitout.catalogue import load_catalogue
from asfound.sources.tables import read_text
from asfound.upkeep.availability import hours_short
from asfound.upkeep.case_worth import case_worth, flows, hours_lost
from asfound.upkeep.manager_case import CaseInputs, assumption, case_for_the_manager, fields, read_case
from asfound.upkeep.money import present_value
from asfound.upkeep.upgrade_file import read_upgrade
from asfound.upkeep.upgrade_study import problem_of
from asfound.upkeep.upgrade_way import way

EXAMPLE = {
    "power": 900.0, "hours": 7760.0, "efficiency_now": 0.345, "efficiency_then": 0.355, "fuel_price": 5.0,
    "availability_now": 0.955, "availability_then": 0.975, "margin": 140.0, "extra_service": 6000.0,
    "investment": 185_000.0, "rate": 0.1,
}  # fmt: skip
"""A worked example, its inputs invented: 28,792 a year, -31,395 over eight years, 6.43 years to pay back."""


def case(ranges=None, **values):
    given_values = EXAMPLE | values
    ranges = ranges or {}
    rows = [
        assumption(name, value, low=ranges.get(name, (value, value))[0], high=ranges.get(name, (value, value))[1])
        for name, value in given_values.items()
    ]
    return CaseInputs(title="example", money="none", years=8, assumptions=tuple(rows))


def test_the_worked_example():
    found = case_for_the_manager(case())
    assert found.net_saving == pytest.approx(28_792, abs=1)
    assert found.present == pytest.approx(-31_395, abs=5)
    assert found.payback == pytest.approx(6.43, abs=0.006)
    assert found.discounted_payback is None
    assert found.returns.rate == pytest.approx(0.0514564982316)
    assert found.spent == 185_000.0
    assert {line.name: round(line.yearly or 0) for line in found.lines} == {
        "fuel": 10_264, "hours": 24_528, "service": -6000, "investment": 0,
    }  # fmt: skip


def test_the_margin_at_which_the_example_turns():
    found = case_for_the_manager(case({"margin": (80.0, 220.0), "investment": (165_000.0, 240_000.0)}))
    flips = {one.name: one for one in found.flips}
    assert flips["margin"].at == pytest.approx((173.589294605,))
    assert flips["margin"].within
    assert flips["investment"].at == pytest.approx((153_604.789361,))
    assert not flips["investment"].within
    assert [bar.name for bar in found.bars] == ["margin", "investment"]
    assert "Margin of an hour" in " ".join(found.says)


PRICES = st.floats(0.0, 100.0)
RATES = st.floats(-0.05, 0.3)
GROWTHS = st.floats(-0.1, 0.1)


@given(RATES, GROWTHS, GROWTHS, PRICES, PRICES, st.floats(-1e5, 1e5))
def test_worth_now_is_that_of_the_flows(rate, fuel, allowances, price, allowance, residual):
    values = case(rate=rate, fuel_price=price).best | {
        "fuel_growth": fuel, "allowance_growth": allowances, "allowance": allowance, "emission_factor": 56.0,
        "residual": residual, "contingency": 0.2, "outage_hours": 40.0, "parts_back": 700.0, "event_chance": 0.1,
        "event_cost": 9000.0, "fees_saved": 50.0,
    }  # fmt: skip
    worth = case_worth(values, 8)
    assert worth.present == pytest.approx(present_value(flows(values, 8), rate), rel=1e-9, abs=1e-4)
    assert worth.present == pytest.approx(sum(worth.presents.values()), rel=1e-9, abs=1e-6)


@given(st.floats(0.1, 10.0))
def test_in_another_money_everything_scales(factor):
    prices = ("fuel_price", "margin", "extra_service", "investment")
    other = case_worth(case().best | {name: EXAMPLE[name] * factor for name in prices}, 8)
    assert other.present == pytest.approx(case_worth(case().best, 8).present * factor, rel=1e-9)


@given(st.floats(0.5, 1.0), st.integers(1, 4), st.integers(0, 2))
def test_hours_lost_with_engines_that_stand_by(available, needed, spare):
    assert hours_lost(available, needed, needed + spare) == pytest.approx(
        hours_short(available, needed, needed + spare), rel=1e-9, abs=1e-9
    )


def test_engines_that_stand_by_take_most_of_the_hours_away():
    alone, standing_by = case(), replace(case(), needed=2, installed=3)
    found = {line.name: line.present for line in case_for_the_manager(standing_by).lines}
    assert found["hours"] < 0.15 * {line.name: line.present for line in case_for_the_manager(alone).lines}["hours"]


def test_arrays_give_what_single_values_give():
    margins = np.array([80.0, 140.0, 220.0])
    together = case_worth(case().best | {"margin": margins}, 8).present
    single = [case_worth(case().best | {"margin": float(one)}, 8).present for one in margins]
    assert np.asarray(together).tolist() == pytest.approx(single)


def test_the_packaged_case_and_its_page_data():
    found = case_for_the_manager(read_case())
    assert found.spread.p10 < found.spread.p50 < found.spread.p90
    assert (found.spread.draws, found.spread.seed) == (10_000, 1)
    assert found.spread == case_for_the_manager(read_case()).spread
    assert found.by_year[0].flow == -found.spent
    assert found.by_year[-1].discounted == pytest.approx(found.present)
    assert "Remaining value" in found.none_counted
    json.dumps(found.as_dict())


def test_nothing_changed_is_worth_nothing():
    same = case(efficiency_then=0.345, availability_then=0.955, extra_service=0.0, investment=0.0)
    found = case_for_the_manager(same)
    assert found.present == 0.0
    assert found.payback is None
    assert found.lines == ()


def test_an_upgrade_gives_its_cost_and_outage():
    catalogue = load_catalogue()
    file = read_upgrade(None, catalogue)
    start = {name: catalogue.slots[name] for name in file.slots}
    fitted = {
        "engine_controller": "none", "speed_controller": "flyweight_head", "mixture_controller": "by_hand",
        "operator_display": "yarnolt_text", "service_port": "square_beside_dome", "ignition_unit": "fironelle_odd",
        "coil": "inside_rail", "throttle_actuator": "oil_head", "fuel_actuator": "mixer_screw", "o2_sensor": "none",
        "knock_sensor": "one_per_two", "temperature_inputs": "borrowed_strip",
    } | {k: max(v, key=v.get) for k, v in file.settings_start.items()}  # fmt: skip
    assert set(start) <= set(fitted)
    target = next(one for one in file.targets if one.id == "full_odd_brackets")
    told = way(problem_of(file, catalogue, target, fitted))
    best = read_case().with_way(told, hours_beside=6.0, parts_back=2150.0).best
    assert best["investment"] == told.cost
    assert best["outage_hours"] == told.outage_minutes / 60.0 + 6.0


def test_entered_values_widen_their_range():
    changed = read_case().with_values(margin=300.0, residual=500.0)
    margin = next(one for one in changed.assumptions if one.name == "margin")
    assert (margin.best, margin.low, margin.high) == (300.0, 80.0, 300.0)
    assert changed.best["residual"] == 500.0


TEXT = read_text("asfound.upkeep", "data/case_vorunice.yaml")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("name: margin", "name: margins", "'margins' is not known here"),
        ("best: 0.362", "best: 36.2", "outside the range"),
        ("low: 80.0", "low: 180.0", "outside the range"),
        ("name: hours,", "name: power,", "stands twice"),
        ("years: 8", "years: 0", "outside the range"),
        ("{needed: 1, installed: 1}", "{needed: 3, installed: 2}", "more are needed"),
        ("from: purchase", "source: purchase", "not known here"),
    ],
)
def test_mistakes_are_told_with_file_and_line(tmp_path, old, new, says):
    assert old in TEXT
    path = tmp_path / "case.yaml"
    path.write_text(TEXT.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(KnowledgeError, match=says) as caught:
        read_case(path)
    assert caught.value.line > 3


def test_what_cannot_be_is_refused():
    with pytest.raises(UnknownNameError):
        assumption("wages", 1.0)
    with pytest.raises(InputError, match="cannot be"):
        assumption("efficiency_now", 36.2)
    with pytest.raises(InputError, match="outside its range"):
        assumption("margin", 50.0, low=80.0, high=90.0)
    with pytest.raises(InputError, match="time of use"):
        case_for_the_manager(replace(case(), years=0))
    assert all(one.low <= one.default <= one.high for one in fields().values())
