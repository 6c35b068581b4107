"""`asfound crosscheck`: the answer, every reading, balances, what is worth measuring; JSON for programs."""

from __future__ import annotations

import pytest

from asfound.cli import DONE


def test_the_answer_comes_first_and_every_reading_has_its_row(at_demo):
    said = at_demo("crosscheck", "A2")
    assert said.code == DONE
    first = said.out.splitlines()[0]
    assert first.startswith("A2/2032-07-08, as found: Nothing contradicts")
    for words in (
        "Fuel flow",
        "the others say",
        "balance",
        "if left out",
        "usual below",
        "(assumed)",
        "nothing checks",
    ):
        assert words in said.out


def test_as_left_by_name_and_by_words(at_demo):
    for state in ("as_left", "as-left", "As left"):
        assert ", as left: Nothing contradicts" in at_demo("crosscheck", "A2", state).out


def test_programs_get_plain_data_in_si(at_demo):
    data = at_demo("crosscheck", "A2", "--json").data
    assert data["verdict"] == "nobody"
    assert data["disagreement"] < data["usual_below"]
    assert {one["name"] for one in data["readings"]} >= {"fuel_flow", "exhaust_oxygen_dry", "volumetric_efficiency"}
    assert data["best"]["excess_air_ratio"]["value"] == pytest.approx(1.66, abs=0.03)


def test_a_reading_that_lies_is_named_by_the_command_too(at_demo):
    at_demo("take", "A2", "exhaust_oxygen_dry=11.5 %")
    said = at_demo("crosscheck", "A2")
    assert "oxygen" in said.out.splitlines()[0].lower() or "cannot" in said.out.splitlines()[0]
    data = at_demo("crosscheck", "A2", "--json").data
    assert data["verdict"] != "nobody"
    assert any("exhaust_oxygen_dry" in key for one in data["explanations"] for group in one["errors"]
               for error in group for key in error["readings"])  # fmt: skip


def test_what_is_no_state_or_no_visit_is_refused(at_demo):
    assert at_demo("crosscheck", "A2", "yesterday").code != DONE
    assert at_demo("crosscheck", "Z9").code != DONE


def test_where_no_balance_can_be_drawn_up_that_is_said(at_demo):
    said = at_demo("crosscheck", "A3/2032-03-15", "as_left")
    assert said.code == DONE
    assert "nothing can be checked" in said.out
    assert at_demo("crosscheck", "A3/2032-03-15", "as_left", "--json").data["checked"] is False
