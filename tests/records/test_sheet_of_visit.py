"""What the record brings to a visit's sheet beside the readings: permit, runs of a test, derate tables, chosen ways."""

from __future__ import annotations

from pathlib import Path

import pytest

from asfound.errors import RecordError
from asfound.records.demo import make_demo_home
from asfound.records.store import Draft, Records
from asfound.records.visit import view


@pytest.fixture(scope="module")
def master(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return make_demo_home(tmp_path_factory.mktemp("demo") / "home").folder


@pytest.fixture
def demo(master: Path, tmp_path: Path):
    import shutil

    with Records.open(shutil.copytree(master, tmp_path / "home")) as records:
        yield records


def append(records: Records, kind: str, content: dict, visit: str = "A2") -> None:
    records.append_many([Draft(kind=kind, content=content, visit=records.visit(visit).id, who="J. Orme")])


def test_the_permit_is_a_number_that_worksheets_count_with(demo: Records) -> None:
    worked = view(demo, "A2").worked
    given = next(one for one in worked.readings if one.quantity == "permit_nox_per_energy")
    assert given.place == "engine"
    assert given.standard_uncertainty == 0.0


def test_the_derate_tables_of_the_home_give_the_site_rating(demo: Records) -> None:
    seen = view(demo, "A2")
    rating = seen.worked.result("as_found/engine/site_rated_power")
    assert rating is not None
    assert rating.worksheet == "site_rating_by_engine_data"
    assert rating.value == pytest.approx(1_447_000, rel=0.002), "1,470 kW less 1.56 % for 1,460 m and warm water"


@pytest.mark.parametrize("how", ["missing", "broken", "other"])
def test_derate_tables_that_cannot_be_read_are_said_and_the_standard_takes_over(demo: Records, how: str) -> None:
    engine = demo.engine("A2")
    tables = demo.attachment(engine.content["derating"])
    digest = "0" * 64
    if how == "broken":
        digest = demo.attach(b"derating: [", "tables.yaml", "application/yaml")
    elif how == "other":
        digest = demo.attach(tables.replace(b"family: HM9", b"family: HM8"), "tables.yaml", "application/yaml")
    demo.append("engine", {**engine.content, "derating": digest}, engine=engine.id, corrects=engine.entry.id, who="X")
    seen = view(demo, "A2")
    assert any("derate tables" in one.lower() for one in seen.problems)
    rating = seen.worked.result("as_found/engine/site_rated_power")
    assert rating is None or rating.worksheet != "site_rating_by_engine_data"


def test_a_way_that_was_chosen_is_taken_and_one_that_is_not_known_is_said(demo: Records) -> None:
    time = "2032-07-08T12:00:00-06:00"
    append(demo, "method_choice", {"quantity": "excess_air_ratio", "worksheet": "mixture_from_co2", "time": time})
    append(demo, "method_choice", {"quantity": "engine_power", "worksheet": "by_feeling", "time": time})
    seen = view(demo, "A2")
    taken = seen.worked.result("as_found/stack/excess_air_ratio")
    assert taken is not None
    assert taken.worksheet == "mixture_from_co2"
    assert any("by_feeling" in one for one in seen.problems)
    append(demo, "method_choice", {"quantity": "excess_air_ratio", "worksheet": "", "time": time})
    again = view(demo, "A2").worked.result("as_found/stack/excess_air_ratio")
    assert again is not None
    assert again.worksheet != "mixture_from_co2"


def test_a_way_that_was_chosen_and_has_no_answer_is_said(demo: Records) -> None:
    """The gas of A2 is too rich for the simple method; what stands instead is named with the reason."""
    content = {"quantity": "methane_number", "worksheet": "methane_number_linear", "time": "2032-07-08T12:00:00-06:00"}
    append(demo, "method_choice", content)
    seen = view(demo, "A2")
    taken = seen.worked.result("as_found/fuel/methane_number")
    assert taken is not None
    assert taken.worksheet == "methane_number"
    (said,) = [one for one in seen.problems if "the way chosen" in one]
    assert said.startswith("Methane number: the way chosen, ")
    assert "has no answer here" in said
    append(demo, "method_choice", content | {"worksheet": ""})
    assert not any("the way chosen" in one for one in view(demo, "A2").problems)


def test_the_visit_before_is_at_hand_and_closed_to_choices(demo: Records) -> None:
    time = "2032-04-08T12:00:00-06:00"
    before = view(demo, "A2").previous
    assert before is not None
    assert before.worked.result("as_found/stack/nox_mass_per_energy") is not None
    assert before.visit.name == "A2/2032-04-08"
    content = {"quantity": "excess_air_ratio", "worksheet": "mixture_from_co2", "time": time}
    with pytest.raises(RecordError, match=r"closed|sealed"):
        append(demo, "method_choice", content, visit="A2/2032-04-08")


def test_an_emission_test_that_cannot_be_read_is_said_not_dropped(demo: Records) -> None:
    append(demo, "emission_test", {"test": {"runs": 3}, "state": "as_left", "time": "2032-07-08T12:00:00-06:00"})
    seen = view(demo, "A2")
    assert any("test of the exhaust" in one for one in seen.problems)
