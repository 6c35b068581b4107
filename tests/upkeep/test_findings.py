"""Findings of upkeep: what is due, the oil, failures on record."""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path

from asfound.quantities.findings import Case
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import SEVERITIES, Reading
from asfound.upkeep.durations import Duration
from asfound.upkeep.engine_due import Done, EngineDue, TaskPlan, engine_due
from asfound.upkeep.findings import find
from asfound.upkeep.meter_seen import MeterFault, MeterSeen
from asfound.upkeep.oil_of_engine import MetalMade, OilLimit, OilSample, oil_of_engine
from asfound.upkeep.pace import pace
from asfound.upkeep.task_list import generic_tasks

TODAY = date(2032, 9, 20)
DOCS = Path(__file__).parents[2] / "docs" / "findings" / "UK.md"
TASKS = {name: generic_tasks().tasks[name] for name in ("oil_change", "plugs")}


def seen(day: date, hours: float) -> MeterSeen:
    return MeterSeen(day=day, shown=hours, true=hours, source="visit")


READINGS = [seen(TODAY - timedelta(days=7 * at), 38_000.0 - 140.0 * at) for at in range(9)]


def due(plans=None, done=None, oil=None, **more) -> EngineDue:
    return engine_due("A3", TODAY, tasks=TASKS, plans=plans or {}, done=done or {}, readings=READINGS, oil=oil, **more)


def found(due_=None, failures=(), engine=None, worked=None) -> dict[str, list]:
    case = Case(
        readings=(), worked=worked or work_out(()), engine=engine or {"tag": "A3"},
        visit={"due": due_, "failures": failures},
    )  # fmt: skip
    by_code: dict[str, list] = {}
    for one in find(case):
        assert one.severity in SEVERITIES
        assert one.next_step.endswith((".", "!"))
        assert one.says.endswith(".")
        by_code.setdefault(one.code, []).append(one)
    return by_code


def done(hours_ago: float) -> Done:
    return Done(day=TODAY - timedelta(days=int(hours_ago / 20)), shown=38_000 - hours_ago, true=38_000 - hours_ago)


def test_nothing_known_finds_nothing():
    assert found() == {}
    assert found(due()) == {}


def test_what_is_overdue_due_and_soon():
    plan = {"oil_change": TaskPlan(hours=1000.0, grace_hours=100.0), "plugs": TaskPlan(hours=2000.0)}
    over = found(due(plan, {"oil_change": done(1150.0), "plugs": done(100.0)}))
    assert set(over) == {"UK-01"}
    assert "150 h past its hours" in over["UK-01"][0].says
    assert over["UK-01"][0].extra == {"task": "oil_change"}
    assert set(found(due(plan, {"oil_change": done(1050.0), "plugs": done(100.0)}))) == {"UK-02"}
    assert set(found(due(plan, {"oil_change": done(950.0), "plugs": done(100.0)}))) == {"UK-03"}


def test_an_interval_of_the_permit_is_told_first():
    plan = {"oil_change": TaskPlan(hours=1000.0, permit=True), "plugs": TaskPlan(applies=False)}
    assert found(due(plan, {"oil_change": done(1150.0)}))["UK-01"][0].next_step.startswith(
        "The interval stands in the permit"
    )


def test_a_task_never_noted_is_told_only_where_others_were():
    plan = {"oil_change": TaskPlan(hours=1000.0), "plugs": TaskPlan(calendar=Duration(days=400))}
    assert set(found(due(plan, {"oil_change": done(10.0)}))) == {"UK-04"}


def test_hours_that_fall_are_told():
    wrong = due()
    fault = MeterFault(first=READINGS[1], second=READINGS[0], says="The hour meter falls.")
    wrong = EngineDue(**{name: getattr(wrong, name) for name in wrong.__dataclass_fields__} | {"faults": (fault,)})
    assert found(wrong)["UK-05"][0].severity == "clash"


def oil(values, limits, new=None):
    samples = [
        OilSample(day=TODAY - timedelta(days=15 * (len(values) - at)), hours_on_oil=300.0 * (at + 1), values=row)
        for at, row in enumerate(values)
    ]
    return oil_of_engine(
        samples, new=new or {}, limits=limits, pace=pace([(one.day, one.true) for one in READINGS])
    )  # fmt: skip


def test_oil_past_its_mark_wants_a_second_sample():
    limit = [OilLimit(property="iron", high=20.0, low=None, rule="value", source="common_practice", own=True)]
    one = found(due(oil=oil([{"iron": 12.0}, {"iron": 25.0}], limit)))["UK-06"][0]
    assert one.severity == "visit"
    assert "second sample" in one.next_step
    assert "above its mark of 20 mg/kg: 25 mg/kg" in one.says


def test_glycol_is_no_matter_of_a_second_sample():
    limit = [OilLimit(property="glycol", high=0.0, low=None, rule="value", source="common_practice")]
    one = found(due(oil=oil([{"glycol": 0.2}], limit)))["UK-06"][0]
    assert one.severity == "visit"
    assert "second sample" not in one.next_step
    assert "coolant" in one.cautions


def test_oil_on_its_way_to_a_mark_has_a_day_with_its_doubt():
    limit = [OilLimit(property="acid_number", high=3.0, low=None, rule="above", source="common_practice")]
    rows = [{"acid_number": 1.0 + 0.5 * at + 0.02 * (-1) ** at} for at in range(5)]
    told = found(due(oil=oil(rows, limit, new={"acid_number": 0.6})))
    assert "95 in 100" in told["UK-07"][0].says
    assert "UK-10" in found(due(oil=oil(rows, limit)))


def test_metal_that_comes_faster_than_before():
    base = oil([{"lead": 2.0}, {"lead": 3.0}], [])
    made = MetalMade(
        property="lead", title="Lead", per_1000_h=9.0, plain_per_1000_h=7.0, day=TODAY, alert=4.0, act=5.0, number=12
    )
    jumped = type(base)(**{name: getattr(base, name) for name in base.__dataclass_fields__} | {"made": (made,)})
    assert found(due(oil=jumped))["UK-09"][0].severity == "visit"


def test_records_of_failures_that_lack_something_get_proposals_and_nothing_is_filled_in():
    entry = {
        "entry": "e1",
        "date": "2032-09-19",
        "text": "Engine triped, coil open",
        "item": "coil",
        "mode": "",
        "impact": "critical",
    }
    told = found(failures=[entry])["UK-11"][0]
    assert "mode UST" in told.next_step
    assert "Mode is missing" in told.says
    assert entry["mode"] == ""
    whole = entry | {"mode": "UST", "operating": "running"}
    assert found(failures=[whole]) == {}
    assert set(found(failures=[whole, whole, whole])) == {"UK-12"}


def sheet(**values: float):
    """Return a sheet of readings at the engine, in SI."""
    return work_out(tuple(
        Reading(
            quantity=name, value=value, place="engine", state="as_found", as_typed=f"{value:g}",
            time="2032-09-20T08:00Z", unit=quantity(name).si_unit, standard_uncertainty=0.0,
        )
        for name, value in values.items()
    ))  # fmt: skip


def test_hours_left_by_two_samples():
    samples = {
        "oil_acid_number_before": 1.5e-3, "oil_hours_before": 200 * 3600.0, "oil_hours": 500 * 3600.0,
        "oil_acid_number_limit": 3e-3,
    }  # fmt: skip
    close = found(worked=sheet(**samples, oil_acid_number=2.5e-3))["UK-13"][0]
    assert "in 150 h" in close.says
    assert close.severity == "soon"
    assert found(worked=sheet(**samples, oil_acid_number=1.7e-3)) == {}
    assert found(worked=sheet(**samples, oil_acid_number=3.1e-3))["UK-13"][0].severity == "visit"


def test_every_code_has_its_paragraph():
    room = Path(find.__code__.co_filename).parent
    codes = set(re.findall(r"UK-\d\d", " ".join(one.read_text("utf-8") for one in room.glob("findings_*.py"))))
    assert codes == set(re.findall(r"^## (UK-\d\d)", DOCS.read_text("utf-8"), re.M))
