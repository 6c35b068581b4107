"""What the model makes of a visit's setting reaches the cross-check, and is not worked out for every reading typed."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from asfound.crosscheck.of_case import cross_check_of, witness_of
from asfound.records.demo import make_demo_home
from asfound.records.model_witness import model_witness
from asfound.records.store import Records
from asfound.records.visit import view


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Records]:
    folder = tmp_path_factory.mktemp("witness") / "home"
    make_demo_home(folder)
    with Records.open(folder) as opened:
        yield opened


def visit_of(records: Records, tag: str):
    engine = next(one for one in records.engines() if one.tag == tag)
    return view(records, records.visits(engine.id)[-1].id)


def test_the_model_is_a_witness_where_its_setting_was_read(records: Records) -> None:
    seen = visit_of(records, "A2")
    said = witness_of(seen.case, "as_found")
    assert said is not None
    assert {"filling", "efficiency", "exhaust_temperature"} <= set(said.names)
    found = cross_check_of(seen.case, "as_found")
    assert any(one.name.startswith("model_") and one.clause == "cycle model" for one in found.balances)
    assert not found.contradiction
    assert "CC-20" in {one.code for one in seen.findings}


def test_where_the_setting_was_not_read_there_is_none(records: Records) -> None:
    for tag in ("A3", "N1", "N2"):
        assert witness_of(visit_of(records, tag).case, "as_found") is None


def test_nox_behind_a_catalyst_is_not_the_engines(records: Records) -> None:
    said = witness_of(visit_of(records, "D1").case, "as_found")
    assert said is not None
    assert "nox_dry" not in said.names


def test_another_reading_leaves_the_witness_as_it_is_and_one_of_its_setting_does_not(records: Records, reading) -> None:
    seen = visit_of(records, "A2")

    def typed(name: str, value: float, text: str):
        records.append("reading", reading(name, value, text, time="2032-07-08T23:00:00Z"), visit=seen.id, who="tester")
        return view(records, seen.id)

    before = witness_of(typed("oil_pressure", 4.0e5, "58 psi").case, "as_found")
    after = typed("oil_pressure", 4.1e5, "60 psi")
    assert witness_of(after.case, "as_found") is before
    moved = typed("manifold_temperature", 333.15, "140 °F")
    again = witness_of(moved.case, "as_found")
    assert again is not before
    fresh = model_witness(moved.worked, moved.engine.content, moved.previous.worked if moved.previous else None)
    assert (fresh("as_found").values == again.values).all()
