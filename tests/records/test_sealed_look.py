"""A sealed visit shows what was known of the log when it was closed, and nothing that was seen later."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from asfound.records.export import attachments
from asfound.records.log_import import import_planned, source_for
from asfound.records.log_plan import plan
from asfound.records.logs_of_engine import look_at_engine
from asfound.records.seal import seal, verify
from asfound.records.sealed_look import look_known_at_seal
from asfound.records.store import Records
from asfound.records.visit import view
from asfound.report.history_logs import logs_of

DAYS = 120


def log(path: Path, begin: str, rise: float) -> Path:
    random = np.random.default_rng(1)
    hour = np.arange(DAYS * 24)
    water = 104 + rise * np.clip((hour / 24 - 40) / 60, 0, 1) + 0.1 * random.standard_normal(len(hour))
    start = np.datetime64(begin)
    lines = ["time_utc,engine_power [kW],jacket_water_outlet_temperature [°C]"]
    lines += [
        f"{str(start + np.timedelta64(int(one), 'h')).replace('T', ' ')}:00,{800 + one % 24:.1f},{water[one]:.2f}"
        for one in hour
    ]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def records(tmp_path: Path) -> Records:
    found = Records.open(tmp_path / "home")
    engine = found.append("engine", {"tag": "E1", "rated": {"power": 1e6}}, who="T")
    found.append("visit_opened", {"began": "2031-05-02T09:00:00Z", "purpose": "water"}, engine=engine.id, who="T")
    return found


def take_in(records: Records, path: Path) -> None:
    engine = records.engine("E1")
    import_planned(records, engine, plan([path], source_for(records, engine, "panel")), who="T")


def codes(records: Records) -> list[str]:
    return [one.code for one in view(records, "E1/2031-05-02").findings if one.code.startswith("HI")]


def test_what_was_known_stays_and_what_is_seen_later_stays_out(records: Records, tmp_path: Path) -> None:
    take_in(records, log(tmp_path / "a.csv", "2031-01-01", 12.0))
    look_at_engine(records, records.engine("E1"), "2031-04-30")
    before = view(records, "E1/2031-05-02").case.engine["history"]
    told = codes(records)
    assert told
    visit = next(iter(records.visits(records.engine("E1").id)))
    seal(records, visit.id, who="T")
    take_in(records, log(tmp_path / "b.csv", "2031-05-10", -30.0))
    look_at_engine(records, records.engine("E1"), "2031-05-02")  # of the same day, made later
    look_at_engine(records, records.engine("E1"), "2031-08-01")
    after = view(records, "E1/2031-05-02")
    assert after.case.engine["history"] == before
    assert codes(records) == told
    assert verify(records, visit.id).holds
    sealed = records.visit("E1/2031-05-02")
    shown = logs_of(records, records.engine("E1"), None, sealed)
    assert shown is not None
    assert shown.look == before
    assert (shown.sealed, shown.after_seal) == (True, False)
    assert shown.newest is not None
    assert shown.newest.day == "2031-08-01"


def test_a_visit_that_was_closed_without_a_look_shows_a_later_one_apart(records: Records, tmp_path: Path) -> None:
    visit = next(iter(records.visits(records.engine("E1").id)))
    entry = seal(records, visit.id, who="T")
    assert "log" not in entry.content
    take_in(records, log(tmp_path / "a.csv", "2031-01-01", 12.0))
    look_at_engine(records, records.engine("E1"), "2031-04-30")
    assert view(records, "E1/2031-05-02").case.engine["history"] is None
    assert codes(records) == []
    shown = logs_of(records, records.engine("E1"), None, records.visit("E1/2031-05-02"))
    assert shown is not None
    assert shown.after_seal
    assert shown.look is not None


def test_the_look_lies_under_the_seal(records: Records, tmp_path: Path) -> None:
    take_in(records, log(tmp_path / "a.csv", "2031-01-01", 12.0))
    look_at_engine(records, records.engine("E1"), "2031-04-30")
    visit = next(iter(records.visits(records.engine("E1").id)))
    entry = seal(records, visit.id, who="T")
    named = entry.content["log"]["file"]
    assert named in attachments(records.entries(visit=visit.id))
    path = records.home.folder / "files" / named[:2] / named
    path.write_bytes(path.read_bytes()[:-1] + b"x")
    assert {one.what for one in verify(records, visit.id).faults} == {"file_changed"}
    seen = view(records, "E1/2031-05-02")
    assert seen.case.engine["history"] is None
    assert any("What was known of the log" in one for one in seen.problems)
    path.unlink()
    assert {one.what for one in verify(records, visit.id).faults} == {"file_missing"}
    assert look_known_at_seal(records, records.visit("E1/2031-05-02")) is None
