"""A reading judged false stays in the record, and numbers go without it until it counts again."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from asfound.errors import UnknownNameError
from asfound.records.demo import make_demo_home
from asfound.records.judgement import judge_reading
from asfound.records.seal import seal
from asfound.records.store import Records
from asfound.records.visit import view

POWER = "as_found/engine/engine_power"


@pytest.fixture(scope="module")
def master(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_demo_home(tmp_path_factory.mktemp("demo") / "home").folder


@pytest.fixture
def demo(master: Path, tmp_path: Path):
    with Records.open(shutil.copytree(master, tmp_path / "home")) as records:
        yield records


def nox(records: Records):
    return view(records, "A2").worked.result("as_found/stack/nox_mass_per_energy")


def test_numbers_go_without_it_and_it_stays(demo: Records) -> None:
    before = nox(demo)
    judge_reading(demo, view(demo, "A2"), POWER, "false", why="the table is for another cylinder", who="J. Orme")
    seen = view(demo, "A2")
    assert seen.readings[POWER].as_typed == "1735 hp"
    assert seen.readings[POWER].judged_false is not None
    assert seen.readings[POWER].judged_false.content["why"] == "the table is for another cylinder"
    assert all(one.key != POWER for one in seen.worked.readings)
    after = nox(demo)
    assert after.value != before.value, "the power is now that of the compressor"
    assert {one.worksheet for one in after.inputs if one.quantity == "engine_power"} == {"engine_power_from_compressor"}
    judge_reading(demo, seen, POWER, "sound", who="J. Orme")
    assert nox(demo).value == before.value


def test_a_later_reading_at_its_place_is_judged_anew(demo: Records) -> None:
    judge_reading(demo, view(demo, "A2"), POWER, "false", who="J. Orme")
    seen = view(demo, "A2")
    content = {**seen.readings[POWER].entry.content, "time": "2032-07-08T11:49:00-06:00"}
    demo.append("reading", content, visit=seen.id, who="J. Orme")
    again = view(demo, "A2")
    assert again.readings[POWER].judged_false is None
    assert any(one.key == POWER for one in again.worked.readings)


def test_nothing_read_is_nothing_to_judge_and_a_closed_visit_is_closed(demo: Records) -> None:
    with pytest.raises(UnknownNameError):
        judge_reading(demo, view(demo, "A2"), "as_found/engine/oil_flow", "false", who="J. Orme")
    seen = view(demo, "A2")
    seal(demo, seen.id, who="J. Orme")
    with pytest.raises(Exception, match=r"closed|sealed"):
        judge_reading(demo, seen, POWER, "false", who="J. Orme")
