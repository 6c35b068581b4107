"""Upkeep between visits: where its entries lie, what they add up to, what is refused, and that a seal holds it."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import pytest

from asfound.errors import InputError, UnknownNameError
from asfound.records.demo import make_demo_home
from asfound.records.seal import seal
from asfound.records.store import Records
from asfound.records.upkeep_of_engine import TASK_FILE, fleet, of_kind, upkeep_of
from asfound.records.upkeep_typed import NUMBERS, content_of, keep_typed
from asfound.records.visit import view

if TYPE_CHECKING:
    from asfound.records.things import EngineRecord

    from .conftest import TestClock

ENGINE = {"tag": "X1", "layout": {"form": "inline", "cylinders": 6}}
TODAY = date(2032, 7, 8)


@pytest.fixture
def engine(records: Records) -> EngineRecord:
    return records.engine(records.append("engine", ENGINE).id)


def say(records: Records, engine: EngineRecord, kind: str, **typed: str) -> Any:
    return keep_typed(records, engine, kind, typed, who="R. Tester")


def test_entries_of_upkeep_belong_to_an_engine_and_to_no_visit(records: Records, engine: EngineRecord) -> None:
    visit = records.append("visit_opened", {"began": "2032-07-08T10:00:00Z"}, engine=engine.id)
    content = {"task": "plugs", "date": "2032-07-08", "hours": 10.0, "visit": visit.id}
    kept = records.append("task_done", content, engine=engine.id)
    assert (kept.engine, kept.visit) == (engine.id, None)
    with pytest.raises(InputError):
        records.append("task_done", content, visit=visit.id)


def test_every_kind_can_be_typed(records: Records, engine: EngineRecord) -> None:
    typed: dict[str, dict[str, str]] = {
        "task_done": {"task": "plugs", "hours": "1,234.5 h", "part_life": "900", "part_end": "worn_out"},
        "meter_exchanged": {"last_of_old": "1240"},
        "oil_sample": {"hours_on_oil": "300", "acid_number": "1.3", "topped_up": "12 L"},
        "oil_limit": {"property": "iron", "high": "40", "source": "laboratory"},
        "work_order": {"number": "W-1", "text": "plugs chnaged", "tasks": "plugs, leads"},
        "failure": {"text": "hunts", "mode": "ERO", "activities": "adjust"},
        "upkeep_plan": {"task": "plugs", "hours": "1500", "grace_days": "7", "source": "manual"},
    }
    assert set(typed) == set(NUMBERS)
    for kind, fields in typed.items():
        entry = say(records, engine, kind, **fields)
        assert entry.kind == kind
    assert of_kind(records, engine.id, "task_done")[0].content["hours"] == 1234.5
    assert of_kind(records, engine.id, "work_order")[0].content["tasks"] == ["plugs", "leads"]
    assert of_kind(records, engine.id, "oil_sample")[0].content["values"] == {"acid_number": 1.3}


@pytest.mark.parametrize(
    ("kind", "typed", "field"),
    [
        ("task_done", {"task": "plugs"}, "hours"),
        ("task_done", {"task": "plugs", "hours": "many"}, "hours"),
        ("task_done", {"task": "plugs", "hours": "5", "date": "8 July"}, "date"),
        ("task_done", {"task": "plugs", "hours": "5", "date": "2032-07-09"}, "date"),
        ("oil_sample", {"hours_on_oil": "300"}, "values"),
        ("oil_sample", {"acid_number": "1.3"}, "hours_on_oil"),
        ("upkeep_plan", {"task": "plugs", "applies": "no"}, "why"),
        ("upkeep_plan", {"task": "plugs", "hours": "100", "grace_days": "1.5"}, "grace_days"),
        ("oil_limit", {"property": "iron", "source": "x"}, "high"),
        ("work_order", {"number": "W-1"}, "text"),
    ],
)
def test_what_cannot_be_is_said_with_its_field(kind: str, typed: dict[str, str], field: str) -> None:
    with pytest.raises(InputError) as refused:
        content_of(kind, typed, decimal=None, today=TODAY)
    assert refused.value.field.startswith(field)


def test_hours_must_fit_what_the_meter_showed(records: Records, engine: EngineRecord) -> None:
    say(records, engine, "task_done", task="plugs", hours="5000", date="2032-06-01")
    with pytest.raises(InputError, match="does not fit"):
        say(records, engine, "task_done", task="leads", hours="4000")
    with pytest.raises(InputError, match="does not fit"):
        say(records, engine, "task_done", task="leads", hours="9000")
    say(records, engine, "meter_exchanged", last_of_old="5100", date="2032-06-06")
    say(records, engine, "task_done", task="leads", hours="600")
    with pytest.raises(InputError, match="exchange of the meter already"):
        say(records, engine, "meter_exchanged", last_of_old="5100", date="2032-06-06")
    due = upkeep_of(records, engine)
    assert due.hours is not None
    assert due.hours.value == 5700.0
    assert not due.faults


def test_an_unknown_task_is_named_with_what_is_near(records: Records, engine: EngineRecord) -> None:
    with pytest.raises(UnknownNameError, match="plugs"):
        say(records, engine, "task_done", task="plug", hours="1")


def test_undo_takes_the_date_back(records: Records, engine: EngineRecord) -> None:
    first = say(records, engine, "task_done", task="plugs", hours="100", date="2032-05-01")
    second = say(records, engine, "task_done", task="plugs", hours="900", date="2032-06-20")
    assert upkeep_of(records, engine).task("plugs").last.entry == second.id  # type: ignore[union-attr]
    records.undo(second.id)
    assert upkeep_of(records, engine).task("plugs").last.entry == first.id  # type: ignore[union-attr]


def test_a_sample_of_the_oil_is_the_task_done(records: Records, engine: EngineRecord) -> None:
    say(records, engine, "oil_sample", hours="700", hours_on_oil="200", iron="4", date="2032-07-01")
    assert upkeep_of(records, engine).task("oil_sample").last.shown == 700.0  # type: ignore[union-attr]


def test_hours_of_visits_are_readings_of_the_meter_unless_judged_false(records: Records, engine: EngineRecord) -> None:
    visit = records.append("visit_opened", {"began": "2032-07-08T10:00:00Z"}, engine=engine.id).id
    reading = {
        "quantity": "engine_hours", "place": "engine", "state": "as_found", "time": "2032-07-08T10:05:00Z",
        "as_typed": "1200 h", "value": 1200 * 3600.0, "unit": "h",
    }  # fmt: skip
    kept = records.append("reading", reading, visit=visit)
    assert upkeep_of(records, engine).hours.value == pytest.approx(1200.0)  # type: ignore[union-attr]
    judged = {"about": kept.id, "verdict": "false", "why": "misread", "time": "2032-07-08T10:06:00Z"}
    records.append("reading_judged", judged, visit=visit)
    assert upkeep_of(records, engine).hours is None


def test_the_companys_tasks_take_the_place_of_generic_ones(records: Records, engine: EngineRecord) -> None:
    path = records.home.folder / TASK_FILE
    path.write_text(
        "tasks:\n"
        "- {id: plugs, title: Plugs, hours: [900, 900], state: isolated, minutes: 60, source: common_practice}\n"
        "- {id: grease, title: Grease it, days: [30, 30], state: stopped, minutes: 15, source: common_practice}\n",
        encoding="utf-8",
    )
    say(records, engine, "task_done", task="plugs", hours="100", date="2032-06-01")
    say(records, engine, "task_done", task="grease", hours="100", date="2032-06-01")
    due = upkeep_of(records, engine)
    assert due.task("plugs").interval.hours == 900.0  # type: ignore[union-attr]
    assert due.task("plugs").set_by == "company"  # type: ignore[union-attr]
    assert due.task("grease").state == "overdue"  # type: ignore[union-attr]
    assert due.task("oil_change").set_by == "generic"  # type: ignore[union-attr]
    path.write_text("tasks:\n- {id: plugs, titel: Plugs}\n", encoding="utf-8")
    wrong = upkeep_of(records, engine)
    assert any("tasks.yaml:2" in one for one in wrong.problems)
    assert wrong.task("plugs").set_by == "generic"  # type: ignore[union-attr]


def test_a_sealed_visit_keeps_the_due_list_that_it_was_closed_with(
    records: Records, engine: EngineRecord, clock: TestClock
) -> None:
    say(records, engine, "task_done", task="plugs", hours="100", date="2032-05-01")
    say(records, engine, "upkeep_plan", task="plugs", hours="1000", source="manual")
    visit = records.append("visit_opened", {"began": "2032-07-08T10:00:00Z"}, engine=engine.id).id
    seal(records, visit)
    before = view(records, visit).due
    say(records, engine, "task_done", task="plugs", hours="700", date="2032-07-08")
    say(records, engine, "upkeep_plan", task="plugs", hours="2000", source="manual, new issue")
    after = view(records, visit).due
    assert after == before
    assert upkeep_of(records, engine).task("plugs").interval.hours == 2000.0  # type: ignore[union-attr]


def test_the_case_of_a_visit_holds_what_is_due(records: Records, engine: EngineRecord) -> None:
    say(records, engine, "failure", text="hunts", mode="ERO")
    say(records, engine, "work_order", number="W-1", text="see to it")
    visit = records.append("visit_opened", {"began": "2032-07-08T10:00:00Z"}, engine=engine.id).id
    assert view(records, visit).due.tag == "X1"


# ---------------------------------------------------------------------- the demo world


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Any:
    home = make_demo_home(tmp_path_factory.mktemp("upkeep") / "demo")
    with Records.open(home.folder) as opened:
        yield opened


def test_every_engine_of_the_demo_has_an_upkeep_without_faults(demo: Records) -> None:
    engines = fleet(demo, TODAY)
    assert [engine.tag for engine, _ in engines] == ["A1", "A2", "A3", "N1", "N2", "D1", "D2"]
    for engine, due in engines:
        assert due.problems == (), engine.tag
        assert due.faults == (), engine.tag
        assert due.pace is not None
        assert due.pace.stretches >= 10
        assert due.oil is not None
        assert due.stops is not None
        assert due.stops.stops, engine.tag
        assert not [one for one in due.tasks if one.set_by == "plan" and one.interval is None], engine.tag


def test_n1_goes_on_through_its_exchanged_meter(demo: Records) -> None:
    due = upkeep_of(demo, demo.engine("N1"), TODAY)
    reading = next(one for one in due.readings if one.source == "visit")
    assert (reading.shown, reading.true) == (6120.0, 47_350.0)
    top_end = due.task("top_end")
    assert top_end is not None
    assert 700 < (top_end.hours_left or 0) < 900, "by the new meter alone it would seem to be years away"


def test_d1_turns_from_hours_to_the_condition_of_its_oil(demo: Records) -> None:
    """Acid number 0.6 to 3.4 mg KOH/g above new oil: the list goes by hours until the oil passes its limit."""
    engine = demo.engine("D1")
    before = upkeep_of(demo, engine, date(2032, 6, 21)).task("oil_change")
    after = upkeep_of(demo, engine, TODAY).task("oil_change")
    assert before is not None
    assert after is not None
    assert before.reason == "hours"
    assert after.reason == "condition"
    assert (after.hours_left or 0) > 0, "by hours it would not be due yet"
    stops = upkeep_of(demo, engine, TODAY).stops
    assert stops is not None
    assert "top_end" in {one.id for one in stops.stops[0].tasks}
    oil = upkeep_of(demo, engine, TODAY).oil
    assert oil is not None
    values = [one.values["acid_number"] - oil.new["acid_number"] for one in oil.charge]
    assert values[1] == pytest.approx(0.6)
    assert values[-1] == pytest.approx(3.4)


def test_orders_come_in_three_languages_and_half_without_codes(demo: Records) -> None:
    orders = [one.content for engine in demo.engines() for one in of_kind(demo, engine.id, "work_order")]
    assert {one["language"] for one in orders} == {"en", "de", "es"}
    coded = sum(bool(one.get("mode")) for one in orders)
    assert 0.3 <= coded / len(orders) <= 0.7
