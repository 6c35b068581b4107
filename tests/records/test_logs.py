"""Logs in the record: an import is an entry, the same file twice changes nothing, taking it back restores."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from asfound.errors import AmbiguousError, RecordError
from asfound.records.log_import import fresh, import_alarms, import_planned, out_of_step, source_for, split, withdraw
from asfound.records.log_plan import plan
from asfound.records.logs_of_engine import (
    fleet_looks,
    imports,
    kept_look_of,
    logs,
    look_at_engine,
    name_for,
    stored_as,
)
from asfound.records.store import Records
from asfound.records.things import EngineRecord
from asfound.records.visit import view

ALARMS = "time,source,tag,state,class\n2031-01-05T10:00:00Z,PLC,TSHH,ALM,shutdown\n"


def write(path: Path, days: int = 40, begin: str = "2031-01-01", wrong: bool = False) -> Path:
    """A log of three channels every half an hour; with one line cut short where asked."""
    random = np.random.default_rng(5)
    time = np.datetime64(begin) + np.arange(days * 48) * np.timedelta64(30, "m")
    lines = ["time_utc,engine_power [kW],jacket_water_outlet_temperature [°C],t_exhaust_1 [°C]"]
    for at, load in zip(time, 800 + 20 * random.standard_normal(len(time)), strict=True):
        lines.append(f"{str(at).replace('T', ' ')}:00,{load:.1f},{82 + 0.01 * (load - 800):.2f},{500 + load / 50:.1f}")
    if wrong:
        lines[20] = lines[20][:22]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def home(tmp_path: Path) -> Records:
    records = Records.open(tmp_path / "home")
    records.append("engine", {"tag": "E1", "rated": {"power": 1e6}}, who="T")
    return records


@pytest.fixture
def engine(home: Records) -> EngineRecord:
    return home.engine("E1")


def take_in(records: Records, engine: EngineRecord, *files: Path, name: str = "panel"):  # type: ignore[no-untyped-def]
    return import_planned(records, engine, plan(files, source_for(records, engine, name)), who="T")


def test_an_import_is_an_entry_that_accounts_for_every_row(home: Records, engine: EngineRecord, tmp_path: Path) -> None:
    done = take_in(home, engine, write(tmp_path / "a.csv", wrong=True))
    assert done.entry is not None
    content = done.entry.content
    assert content["read"] == content["kept"] + content["refused"] + content["duplicates"] + content["conflicts"]
    assert (content["kept"], content["refused"]) == (40 * 48 - 1, 1)
    assert content["first"] == "2031-01-01T00:00:00Z"
    assert home.attachment(content["mapping"]).startswith(b"source: 'panel #1'")
    assert stored_as(home, engine) == "E1"
    assert logs(home).sources("E1") == {"panel #1": 40 * 48 - 1}


def test_the_same_file_again_is_known(home: Records, engine: EngineRecord, tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv")
    take_in(home, engine, path)
    copy = tmp_path / "copy of a.csv"
    copy.write_bytes(path.read_bytes())
    assert fresh(home, engine, [path, copy]) == ([], ["a.csv", "copy of a.csv"])


def test_taking_back_restores_the_store_and_can_be_done_again(
    home: Records, engine: EngineRecord, tmp_path: Path
) -> None:
    first, second = write(tmp_path / "a.csv"), write(tmp_path / "b.csv", begin="2031-03-01")
    take_in(home, engine, first)
    before = [one.digest for one in logs(home).manifests("E1")]
    done = take_in(home, engine, second)
    assert done.entry is not None
    _, gone = withdraw(home, done.entry, who="T")
    assert gone == 40 * 48
    assert [one.digest for one in logs(home).manifests("E1") if one.rows] == before
    assert [str(one.content["source"]) for one in imports(home, engine)] == ["panel #1"]
    again = take_in(home, engine, second)
    assert again.entry is not None
    assert again.entry.content["source"] == "panel #3"  # a source is never used twice
    assert out_of_step(home, engine) == []


def test_an_import_undone_behind_the_stores_back_is_told(home: Records, engine: EngineRecord, tmp_path: Path) -> None:
    done = take_in(home, engine, write(tmp_path / "a.csv"))
    assert done.entry is not None
    home.undo(done.entry.id, who="T")
    assert "no import that stands says so" in out_of_step(home, engine)[0]


def test_alarm_lists_are_known_by_their_head(home: Records, engine: EngineRecord, tmp_path: Path) -> None:
    alarms = tmp_path / "alarms.csv"
    alarms.write_text(ALARMS, encoding="utf-8")
    log = write(tmp_path / "a.csv")
    assert split([alarms, log]) == ([log], [alarms])
    entry = import_alarms(home, engine, alarms, who="T")
    assert entry.content["what"] == "alarms"
    assert entry.content["kept"] == 1
    assert fresh(home, engine, [alarms]) == ([], ["alarms.csv"])
    withdraw(home, entry, who="T")
    assert imports(home, engine) == ()


@pytest.mark.parametrize("tag", ["E1", "e1"])  # which Windows and macOS do not tell apart
def test_another_engine_of_that_tag_has_a_log_of_its_own(
    home: Records, engine: EngineRecord, tmp_path: Path, tag: str
) -> None:
    take_in(home, engine, write(tmp_path / "a.csv"))
    site = home.append("site", {"name": "Other"}, who="T")
    other = home.append("engine", {"tag": tag, "site": site.id}, who="T")
    assert name_for(home, home.engine(other.id)) == f"{tag}-{other.id[-8:]}"
    assert kept_look_of(home, home.engine(other.id)) is None


def test_what_a_file_does_not_decide_is_asked(tmp_path: Path) -> None:
    path = write(tmp_path / "a.csv")
    path.write_text(path.read_text(encoding="utf-8").replace("time_utc", "time"), encoding="utf-8")
    with pytest.raises(AmbiguousError, match="--zone"):
        plan([path], "panel")
    assert plan([path], "panel", zone="+01:00").files[0].form.zone == "+01:00"


def test_a_look_reaches_the_findings_of_a_visit_and_is_not_made_by_it(
    home: Records, engine: EngineRecord, tmp_path: Path
) -> None:
    with pytest.raises(RecordError, match="log-import"):
        look_at_engine(home, engine)
    take_in(home, engine, write(tmp_path / "a.csv"))
    visit = home.append("visit_opened", {"began": "2031-02-20T08:00:00Z"}, engine=engine.id, who="T")
    assert view(home, visit.id).case.engine["history"] is None
    look = look_at_engine(home, engine, "2031-02-09")
    assert [one.key for one in look.indicators][:1] == ["jacket_water_out"]
    assert view(home, visit.id).case.engine["history"] == look
    assert fleet_looks(home)[0][1] == look


def test_a_home_without_logs_has_none_and_makes_no_folder(home: Records, engine: EngineRecord) -> None:
    assert kept_look_of(home, engine) is None
    assert not (home.home.folder / "logs").exists()
