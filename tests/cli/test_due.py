"""`asfound due`: list, stops, oil; what a person says is kept or refused with its field; files; JSON."""

from __future__ import annotations

import csv
import io

import pytest
from icalendar import Calendar

from asfound.cli import CANNOT, DONE


def test_the_list_says_what_presses_and_why(at_demo):
    said = at_demo("due", "D1")
    assert said.code == DONE
    for words in (
        "D1, 8 July 2032: 1 due now",
        "Next: stop now for oil and filter.",
        "Due by condition: acid number 4.1,",
        "Stop plan",
        "must lie ready",
        "Top-end overhaul",
        "Never noted as done, so without a date: Major overhaul.",
    ):
        assert words in said.out, words


def test_all_engines_stand_in_a_line_each(at_demo):
    said = at_demo("due")
    assert [line.split()[0] for line in said.out.splitlines()[1:8]] == ["A1", "A2", "A3", "N1", "N2", "D1", "D2"]
    assert len(at_demo("due", "--json").data) == 7


def test_json_holds_hours_stops_and_oil(at_demo):
    data = at_demo("due", "N1", "--json").data
    assert data["exchanges"] == [{"date": "2030-12-04", "last_of_old": 41230.0, "first_of_new": 0.0}]
    assert data["hours"]["low"] <= data["hours"]["value"] <= data["hours"]["high"]
    top_end = next(one for one in data["tasks"] if one["task"] == "top_end")
    assert top_end["reason"] == "hours"
    assert top_end["earliest"] <= top_end["due"] <= top_end["latest"]
    assert data["stops"]
    assert data["oil"]["marks"]


def test_from_another_day(at_demo):
    assert "overdue" in at_demo("due", "D1", "--day", "2032-10-01").out
    assert at_demo("due", "D1", "--day", "tomorrow").code == CANNOT


def test_files_are_written(at_demo, tmp_path):
    pdf, ics, table = tmp_path / "d1.pdf", tmp_path / "d1.ics", tmp_path / "d1.csv"
    said = at_demo("due", "D1", "--pdf", pdf, "--ical", ics, "--csv", table)
    assert said.code == DONE
    assert said.out.count("Written: ") == 3
    assert pdf.read_bytes().startswith(b"%PDF")
    assert Calendar.from_ical(ics.read_bytes()).walk("VEVENT")
    assert len(list(csv.reader(io.StringIO(table.read_text(encoding="utf-8-sig"))))) > 15
    assert at_demo("due", "--pdf", pdf).code == CANNOT
    assert "cannot be written" in at_demo("due", "D1", "--csv", tmp_path / "no" / "x.csv").err
    todo = tmp_path / "all.ics"
    at_demo("due", "--ical", todo, "--todo")
    assert len(Calendar.from_ical(todo.read_bytes()).walk("VTODO")) > 50


def test_work_is_said_in_one_line_and_moves_the_list(at_demo):
    assert at_demo("due", "done", "D1", "Oil and filter", "24290", "--note", "all drained").code == DONE
    assert "Oil and filter" not in at_demo("due", "D1").out.split("Stop plan")[0].split("Soon")[0]
    said = at_demo("due", "done", "D1", "oil", "24290")
    assert said.code == CANNOT
    assert "oil_change, oil_sample" in said.err or "oil_sample, oil_change" in said.err


def test_meter_oil_order_failure_plan_and_limit(at_demo):
    for words in (
        ("meter", "N1", "8270"),
        ("oil", "A1", "acid_number=1.4", "iron=9", "--hours", "89857", "--on-oil", "600", "--added", "5"),
        ("oil", "A1", "acid_number=0.9", "--new"),
        ("order", "A1", "W-9", "toped up twice", "--language", "en", "--tasks", "oil_sample"),
        ("failure", "A1", "hunts", "--mode", "ERO", "--impact", "degraded"),
        ("plan", "A1", "plugs", "--hours", "1200", "--source", "letter", "--why", "knock"),
        ("plan", "A1", "--setup-minutes", "120", "--most-minutes", "480"),
        ("limit", "A1", "iron", "--high", "30", "--source", "laboratory"),
    ):
        said = at_demo("due", *words)
        assert said.code == DONE, said.err
    assert "every 1,200 h" in str(at_demo("due", "A1", "--json").data["tasks"])
    assert any(one["property"] == "iron" for one in at_demo("due", "A1", "--json").data["oil"]["marks"])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("done", "D1", "plugs", "23000"), "hours: '23000' does not fit"),
        (("done", "D1", "plugs", "24290", "--date", "2032-07-09"), "lies in the future"),
        (("done", "D1", "nothing", "24290"), "nothing"),
        (("oil", "D1", "acid=4"), "is no property with its value"),
        (("oil", "D1", "acid_number=4"), "hours_on_oil"),
        (("meter", "N1", "12"), "does not fit"),
        (("plan", "D1", "catalyst", "--without"), "Say why this engine does not have the task"),
        (("plan", "D1", "catalyst", "--every", "yearly", "--source", "x"), "calendar"),
        (("limit", "D1", "gold", "--high", "1", "--source", "x"), "oil_limit.property"),
    ],
)
def test_what_cannot_be_names_the_field_and_what_to_do(at_demo, words, says):
    said = at_demo("due", *words)
    assert said.code == CANNOT
    assert says in said.err
    assert said.out == ""


def test_tasks_by_name(at_demo, demo):
    assert "oil_change" in at_demo("due", "tasks").out
    (demo / "tasks.yaml").write_text("tasks:\n- {id: x}\n", encoding="utf-8")
    said = at_demo("due", "tasks")
    assert "tasks.yaml:2" in said.out
    assert at_demo("due", "tasks", "--json").data[0]["company"] is False


def test_upgrade_compares_targets_and_keeps_a_choice(at_demo, tmp_path):
    said = at_demo("upgrade", "A1")
    assert said.code == DONE
    for words in ("full_odd_brackets", "33,580", "Look first:", "Assumptions", "Reserve"):
        assert words in said.out, words
    pdf = tmp_path / "a1.pdf"
    assert at_demo("upgrade", "A1", "--target", "full", "--pdf", pdf).code == DONE
    assert pdf.read_bytes().startswith(b"%PDF")
    assert at_demo("upgrade", "A1", "margin=180", "--target", "full", "--choose", "--why", "x").code == DONE
    data = at_demo("upgrade", "A1", "--json").data
    assert data["chosen"] == "full"
    assert next(one for one in data["case"]["assumptions"] if one["name"] == "margin")["best"] == 180.0


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("A1", "margin=180"), "Add --choose"),
        (("A1", "gold=1", "--choose", "--target", "full"), "is no assumption"),
        (("A1", "--choose"), "Say which is chosen"),
        (("A1", "--target", "moon"), "moon"),
        (("A1", "efficiency_now=3", "--choose", "--target", "full"), "efficiency_now"),
    ],
)
def test_what_an_upgrade_cannot_be_is_said(at_demo, words, says):
    said = at_demo("upgrade", *words)
    assert said.code == CANNOT
    assert says in said.err


def test_a_reading_at_the_stack_that_is_no_check_is_said_to_be_none(at_demo):
    """A2's visit read NOx and oxygen on 8 July; no check gas is on the record."""
    said = " ".join(at_demo("due", "A2").out.split())
    assert "NOx and oxygen were read at the stack on 8 July 2032, but no check gas before and after is shown" in said
    assert "read at the stack" not in at_demo("due", "A2", "--day", "2032-05-01").out
