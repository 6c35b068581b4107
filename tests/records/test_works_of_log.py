"""Work orders, failures and visits of the record as reasons of stops and steps of a log; whether a repair worked."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from asfound.history.findings import found_in
from asfound.history.look_words import came_with
from asfound.records.log_import import import_planned, source_for
from asfound.records.log_plan import plan
from asfound.records.logs_of_engine import facts_of, look_at_engine
from asfound.records.store import Records
from asfound.records.works_of_log import stops_of, works_of

DAYS = 150
REPAIRED = 100
"""Day of the visit, counted from the first."""


def write(path: Path, *, back: float) -> Path:
    """A log by the hour of an engine whose jacket water goes up by 12 K, and by ``back`` on the day of the visit."""
    random = np.random.default_rng(3)
    hour = np.arange(DAYS * 24)
    day = hour / 24.0
    load = 800 + 30 * np.sin(2 * np.pi * day) + 5 * random.standard_normal(len(day))
    water = 82 + 0.02 * (load - 800) + 12 * np.clip((day - 20) / 60, 0, 1) + 0.1 * random.standard_normal(len(day))
    water += back * (day >= REPAIRED + 0.5)
    oil = 4.0 - 0.5 * (day >= 45.5) + 0.01 * random.standard_normal(len(day))
    running = np.ones(len(day))
    running[(day >= 70.3) & (day < 70.6)] = 0
    running[(day >= 110.3) & (day < 110.6)] = 0
    lines = ["time_utc,running,engine_power [kW],jacket_water_outlet_temperature [°C],oil_pressure [bar g]"]
    start = np.datetime64("2031-01-01")
    for row in range(len(day)):
        at = str(start + np.timedelta64(int(hour[row]), "h")).replace("T", " ")
        lines.append(f"{at}:00,{running[row]:.0f},{load[row] * running[row]:.1f},{water[row]:.2f},{oil[row]:.3f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def home_with(tmp_path: Path, back: float) -> Records:
    records = Records.open(tmp_path / f"home{back:.0f}")
    site = records.append("site", {"name": "S", "units": "us"}, who="T")
    records.append("engine", {"tag": "E1", "rated": {"power": 1e6}, "site": site.id}, who="T")
    engine = records.engine("E1")
    for content in (
        {"number": "W-1", "date": "2031-02-15", "text": "oil filter chnaged", "state": "done"},
        {"number": "W-2", "date": "2031-03-12", "text": "belt", "state": "done", "minutes_down": 400},
        {"number": "W-3", "date": "2031-02-15", "text": "see to the noise", "state": "open"},
    ):
        records.append("work_order", content, engine=engine.id, who="T")
    records.append(
        "failure",
        {"date": "2031-04-21", "text": "coolant pump leaks", "down_from": "2031-04-21T06:00:00Z",
         "down_until": "2031-04-21T16:00:00Z", "operating": "running", "category": "corrective"},
        engine=engine.id, who="T",
    )  # fmt: skip
    began = "2031-04-11T10:00:00Z"
    visit = records.append("visit_opened", {"began": began, "purpose": "water"}, engine=engine.id, who="T")
    records.append(
        "visit_state", {"event": "changed", "time": "2031-04-11T11:30:00Z", "says": "Radiator washed."},
        engine=engine.id, visit=visit.id, who="T",
    )  # fmt: skip
    path = write(tmp_path / f"log{back:.0f}.csv", back=back)
    import_planned(records, engine, plan([path], source_for(records, engine, "panel")), who="T")
    return records


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("works")


@pytest.fixture(scope="module")
def washed(folder: Path) -> Records:
    return home_with(folder, -12.0)


def test_what_was_done_stands_by_its_day_and_what_is_only_ordered_does_not(washed: Records) -> None:
    said = [one.says for one in works_of(washed, washed.engine("E1"))]
    assert "work order W-1 of 15 February 2031: oil filter chnaged" in said
    assert not any("W-3" in one for one in said)
    assert [one for one in works_of(washed, washed.engine("E1"), "2031-02-20") if "W-2" in one.says] == []


def test_stops_have_the_reason_of_the_record(washed: Records) -> None:
    engine = washed.engine("E1")
    told = stops_of(washed, engine, washed.visits(engine.id))
    assert [(one.state, one.says.split(":")[0]) for one in told] == [
        ("forced", "failure of 21 April 2031"),
        ("maintenance", "work order W-2 of 12 March 2031"),
    ]
    look = look_at_engine(washed, engine, "2031-05-30")
    stood = [one for one in look.events.states if one.state in ("forced", "maintenance", "standing")]
    assert [one.state for one in stood] == ["maintenance", "forced"]
    assert "belt" in stood[0].why
    assert "coolant pump" in stood[1].why
    assert look.events.standing_hours == 0.0


def test_a_step_names_the_order_of_its_day(washed: Records) -> None:
    look = look_at_engine(washed, washed.engine("E1"), "2031-05-30")
    oil = look.indicator("oil_pressure")
    assert oil is not None
    (step,) = oil.steps
    assert came_with(step) == "work order W-1 of 15 February 2031: oil filter chnaged"
    said = next(one for one in found_in(look, "us") if "oil pressure" in one.says and "stepped by" in one.says)
    assert "About that day: work order W-1" in said.says


def test_a_repair_that_worked_is_said_to_have(washed: Records) -> None:
    look = look_at_engine(washed, washed.engine("E1"), "2031-05-30")
    assert facts_of(washed, washed.engine("E1")).visits[0].did == "Radiator washed"
    (effect,) = [one for one in look.visits[0].effects if one.key == "jacket_water_out"]
    assert effect.verdict == "worked"
    assert effect.difference.low <= -11.5 <= effect.difference.high or effect.difference.value == pytest.approx(
        -12.0, abs=0.3
    )
    said = [one.says for one in found_in(look, "us") if one.code == "HI-05"]
    assert "the repair worked, −21" in said[0]
    assert "°F" in said[0]


def test_a_repair_that_did_nothing_is_said_to_have_done_nothing(folder: Path) -> None:
    records = home_with(folder, 0.0)
    look = look_at_engine(records, records.engine("E1"), "2031-05-30")
    (effect,) = [one for one in look.visits[0].effects if one.key == "jacket_water_out"]
    assert effect.verdict == "not enough"
    assert [one.code for one in found_in(look) if one.extra.get("visit")] == ["HI-06"]


def test_a_repair_that_gave_back_half_is_not_called_one_that_worked(folder: Path) -> None:
    records = home_with(folder, -3.0)
    look = look_at_engine(records, records.engine("E1"), "2031-05-30")
    (effect,) = [one for one in look.visits[0].effects if one.key == "jacket_water_out"]
    assert effect.verdict not in ("worked", "likely")
