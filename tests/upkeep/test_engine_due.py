"""The due list of one engine: intervals and who set them, exchanged meters, conditions, stops and their parts."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import KnowledgeError
from asfound.upkeep.durations import Duration
from asfound.upkeep.engine_due import ConditionSeen, Done, EngineDue, TaskPlan, engine_due
from asfound.upkeep.meter_seen import MeterSeen, metered, sound_readings
from asfound.upkeep.meters import MeterExchange, MeterReading, true_hours
from asfound.upkeep.oil_of_engine import OilLimit, OilSample, bends, condition_of, limits_of_marks, oil_of_engine
from asfound.upkeep.pace import pace
from asfound.upkeep.stops_of_engine import stops_of
from asfound.upkeep.task_list import generic_tasks, read_tasks

TODAY = date(2032, 7, 8)
TASKS = generic_tasks().tasks
HM9 = {"layout": {"form": "inline", "cylinders": 9}, "turbochargers": {"count": 1}}


def seen(day: date, hours: float) -> MeterSeen:
    return MeterSeen(day=day, shown=hours, true=hours, source="visit")


def steady(per_day: float = 20.0, now: float = 10_000.0) -> list[MeterSeen]:
    """Return readings of an engine that runs the same every day, the last of today."""
    return [seen(TODAY - timedelta(days=back), now - per_day * back) for back in (90, 60, 45, 30, 10, 0)]


def made(*, readings: list[MeterSeen] | None = None, **given_: object) -> EngineDue:
    return engine_due("X1", TODAY, tasks=TASKS, readings=steady() if readings is None else readings, **given_)  # type: ignore[arg-type]


def done(hours_ago: float, now: float = 10_000.0, per_day: float = 20.0) -> Done:
    day = TODAY - timedelta(days=round(hours_ago / per_day))
    return Done(day=day, shown=now - hours_ago, true=now - hours_ago)


@pytest.mark.parametrize(
    ("ago", "state"), [(300.0, "ok"), (930.0, "soon"), (1000.0, "due"), (1049.0, "due"), (1051.0, "overdue")]
)
def test_an_interval_of_the_engine_goes_from_ok_to_overdue(ago: float, state: str) -> None:
    plan = {"oil_change": TaskPlan(hours=1000.0, grace_hours=50.0)}
    found = made(plans=plan, done={"oil_change": done(ago)}).task("oil_change")
    assert found is not None
    assert found.state == state
    assert found.set_by == "plan"
    assert found.hours_left == pytest.approx(1000.0 - ago)


@pytest.mark.parametrize(("ago", "state"), [(100.0, "ok"), (600.0, "soon"), (1999.0, "soon"), (2001.0, "due")])
def test_a_span_of_the_trade_is_never_overdue(ago: float, state: str) -> None:
    """Oil change 500 to 2,000 h: between the ends soon, past them due."""
    found = made(done={"oil_change": done(ago)}).task("oil_change")
    assert found is not None
    assert (found.state, found.set_by) == (state, "generic")


def test_what_was_never_noted_has_no_date() -> None:
    found = made()
    assert {one.state for one in found.tasks} <= {"unknown", "condition"}
    assert found.task("oil_change").day is None  # type: ignore[union-attr]
    assert found.task("air_filter").state == "condition"  # type: ignore[union-attr]


def test_a_condition_goes_before_hours_and_is_expected_before_it_is_reached() -> None:
    plan, last = {"oil_change": TaskPlan(hours=1000.0, grace_hours=50.0)}, {"oil_change": done(500.0)}
    by_hours = made(plans=plan, done=last).task("oil_change")
    assert by_hours is not None
    assert by_hours.reason == "hours"
    coming = ConditionSeen(
        what="Acid number", value=2.0, limit=3.0, unit="mg KOH/g", day=TODAY, expected=TODAY + timedelta(days=5),
        expected_low=TODAY + timedelta(days=3), expected_high=TODAY + timedelta(days=9),
    )  # fmt: skip
    expected = made(plans=plan, done=last, conditions={"oil_change": coming}).task("oil_change")
    assert expected is not None
    assert (expected.reason, expected.state, expected.day) == ("condition", "soon", coming.expected)
    assert (expected.earliest, expected.latest) == (coming.expected_low, coming.expected_high)
    reached = made(plans=plan, done=last, conditions={"oil_change": replace(coming, value=3.1)}).task("oil_change")
    assert reached is not None
    assert (reached.reason, reached.state, reached.window_to) == ("condition", "due", None)
    late = replace(coming, expected=TODAY + timedelta(days=500))
    assert made(plans=plan, done=last, conditions={"oil_change": late}).task("oil_change").reason == "hours"  # type: ignore[union-attr]


def test_a_task_left_out_keeps_its_reason() -> None:
    found = made(plans={"catalyst": TaskPlan(applies=False, why="none fitted")})
    assert found.task("catalyst") is None
    assert (TASKS["catalyst"].title, "none fitted") in found.not_applying


def test_hours_go_on_through_an_exchanged_meter() -> None:
    """N1 of the demo world: replaced at 41,230 h by one at 0; 6,120 h on the new one are 47,350 h."""
    exchange = MeterExchange(date(2030, 12, 4), 41_230.0, 0.0)
    assert true_hours(MeterReading(date(2032, 2, 12), 6_120.0), [exchange]) == 47_350.0
    shown = [(date(2030, 11, 1), 40_800.0), (date(2031, 6, 1), 2_500.0), (TODAY, 8_250.0)]
    readings = [
        MeterSeen(day=day, shown=hours, true=true_hours(MeterReading(day, hours), [exchange]), source="visit")
        for day, hours in shown
    ]
    plan = {"top_end": TaskPlan(hours=12_000.0)}
    last = {"top_end": Done(day=date(2030, 5, 25), shown=38_312.0, true=38_312.0)}
    found = made(readings=readings, exchanges=[exchange], plans=plan, done=last)
    assert not found.faults
    assert found.hours is not None
    assert found.hours.value == 49_480.0
    assert found.task("top_end").hours_left == pytest.approx(832.0)  # type: ignore[union-attr]
    without = [replace(one, true=one.shown) for one in readings]
    wrong = made(readings=without, plans=plan)
    (fault,) = wrong.faults
    assert "falls" in fault.says
    assert fault.more == 1
    assert "1 later reading goes on from there" in fault.says


@given(st.lists(st.floats(0.0, 50_000.0), min_size=1, max_size=10))
def test_what_is_left_of_contradicting_readings_never_contradicts(hours: list[float]) -> None:
    readings = [seen(TODAY - timedelta(days=40 - 4 * i), one) for i, one in enumerate(hours)]
    kept, faults = sound_readings(readings)
    assert len(kept) + sum(1 + one.more for one in faults) == len(readings)
    assert all(a.true <= b.true for a, b in pairwise(kept))
    pace([(one.day, one.true) for one in kept])  # refuses nothing


@given(st.floats(1.0, 23.5), st.integers(0, 3000))
def test_the_due_day_lies_in_its_interval(per_day: float, ago: int) -> None:
    plan = {"oil_change": TaskPlan(hours=1000.0)}
    readings = steady(per_day, 50_000.0)
    last = {"oil_change": done(float(ago), 50_000.0, per_day)}
    found = made(readings=readings, plans=plan, done=last).task("oil_change")
    assert found is not None
    if found.day is not None and found.earliest is not None and found.latest is not None:
        assert found.earliest <= found.day + timedelta(days=1)
        assert found.latest >= found.day - timedelta(days=1)


def test_one_stop_serves_several_and_says_what_must_lie_ready() -> None:
    plan = {
        "oil_change": TaskPlan(hours=1000.0), "plugs": TaskPlan(hours=2000.0), "valves": TaskPlan(hours=2000.0),
        "coolant": TaskPlan(calendar=Duration.parse("P6M")),
    }  # fmt: skip
    last = {"oil_change": done(800.0), "plugs": done(1750.0), "valves": done(1700.0), "coolant": done(200.0)}
    due = made(plans=plan, done=last)
    stops = stops_of(due, HM9)
    assert len(stops.stops) == 1
    stop = stops.stops[0]
    assert {one.id for one in stop.tasks} == {"oil_change", "plugs", "valves"}
    assert stop.driver.id == "oil_change"
    assert stop.state_needed == "isolated"
    assert "loto" in stop.tags
    assert {(one.what, one.number) for one in stop.parts} >= {("spark plug", 9), ("set of oil filters", 1)}
    assert stops.saved > 0.0
    assert all(stop.day <= (one.day or date.max) for one in stop.tasks), "nobody is late"
    assert stops_of(due, {}).stops[0].parts[2].number is None, "without a layout nobody knows how many plugs"


def test_a_company_file_says_its_parts_and_is_told_its_mistakes() -> None:
    row = "- {id: plugs, title: Plugs, hours: [900, 900], state: isolated, minutes: 60, source: common_practice"
    found = read_tasks(f"tasks:\n{row}, parts: [{{what: plug, per: cylinder, number: 2}}]}}\n").tasks["plugs"]
    assert (found.parts[0].what, found.parts[0].number) == ("plug", 2)
    with pytest.raises(KnowledgeError, match=r"tasks\.yaml:2"):
        read_tasks(f"tasks:\n{row}, parts: [{{what: plug, per: wheel}}]}}\n", file="tasks.yaml")


# ---------------------------------------------------------------------- oil


def sample(hours: float, **values: float) -> OilSample:
    return OilSample(day=TODAY - timedelta(days=round((800 - hours) / 20)), hours_on_oil=hours, values=values)


def test_a_mark_above_new_oil_is_reached_where_the_line_meets_it() -> None:
    """40 CFR 63.6625(j), from memory: 3.0 mg KOH/g above new oil; new oil 0.7, so the wall stands at 3.7."""
    limits = limits_of_marks(generic_tasks().oil_marks)
    speed = pace([(one.day, one.true) for one in steady()])
    samples = [sample(hours, acid_number=0.7 + 0.003 * hours) for hours in (200.0, 400.0, 600.0, 700.0, 800.0)]
    found = oil_of_engine(samples, new={"acid_number": 0.7}, limits=limits, pace=speed)
    assert found is not None
    mark = next(one for one in found.marks if one.property == "acid_number")
    assert mark.limit == pytest.approx(3.7)
    assert mark.at is not None
    assert mark.at.at == pytest.approx(1000.0)
    assert mark.expected == TODAY + timedelta(days=10)  # 200 h more at 20 h a day
    assert condition_of(found).reached is False  # type: ignore[union-attr]
    assert oil_of_engine(samples, new={}, limits=limits, pace=speed).without_mark == ("Acid number",)  # type: ignore[union-attr]


def test_a_charge_ends_where_the_oil_was_changed() -> None:
    samples = [sample(300.0, iron=5.0), sample(700.0, iron=9.0), sample(200.0, iron=3.0)]
    samples = [replace(one, day=TODAY - timedelta(days=40 - 10 * i)) for i, one in enumerate(samples)]
    found = oil_of_engine(samples, new={}, limits=[], pace=None)
    assert found is not None
    assert [one.hours_on_oil for one in found.charge] == [200.0]
    later = oil_of_engine(samples, new={}, limits=[], pace=None, changes=[TODAY])
    assert later is not None
    assert later.changed_since
    assert condition_of(later) is None


def test_a_trend_that_bends_rests_on_its_later_half() -> None:
    """D1 of the demo world: 0.6 to 3.4 above new oil once the gas cleaning is saturated."""
    hours = [206.0, 410.0, 500.0, 590.0, 660.0, 728.0, 795.0]
    values = [0.3, 0.6, 1.1, 1.7, 2.3, 2.9, 3.4]
    assert bends(hours, values)
    assert not bends(hours, [0.001 * one for one in hours])
    limit = OilLimit(property="acid_number", low=None, high=5.0, rule="above", source="x", own=True)
    found = oil_of_engine(
        [sample(one, acid_number=0.7 + value) for one, value in zip(hours, values, strict=True)],
        new={"acid_number": 0.7}, limits=[limit], pace=None,
    )  # fmt: skip
    assert found is not None
    assert found.marks[0].bent
    assert found.marks[0].begins == 590.0


@given(st.lists(st.floats(0.0, 100.0), min_size=3, max_size=9, unique=True), st.floats(-0.05, 0.05))
def test_a_straight_line_never_bends(hours: list[float], slope: float) -> None:
    hours = sorted(round(one, 3) for one in hours)
    if len(set(hours)) == len(hours):
        assert not bends(hours, [2.0 + slope * one for one in hours])


def test_metal_made_is_corrected_for_oil_added() -> None:
    """Kept-full sump of 500 L, 100 L added in 400 h, iron 10 to 11 mg/kg: more was made than the reading rose."""
    samples = [replace(sample(400.0, iron=10.0)), replace(sample(800.0, iron=11.0), topped_up=100.0)]
    found = oil_of_engine(samples, new={}, limits=[], pace=None, sump=500.0)
    assert found is not None
    made_ = found.made[0]
    assert made_.plain_per_1000_h == pytest.approx(2.5)
    assert made_.per_1000_h == pytest.approx(1000 / 400 * 0.2 * (11 - 10 * 2.718281828**-0.2) / (1 - 2.718281828**-0.2))
    assert made_.per_1000_h > made_.plain_per_1000_h


def test_several_readings_of_one_day_that_cannot_all_be_run_leave_no_pace():
    """40 h in two days is possible, and 20 h more on the same day; both together are not."""
    readings = [seen(TODAY - timedelta(days=back), hours) for back, hours in ((1, 0.0), (0, 40.0), (0, 60.0))]
    meter = metered(readings)
    assert meter.pace is None
    assert "60" in meter.refused
    assert made(readings=readings).hours is not None
