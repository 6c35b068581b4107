"""`asfound report --for READER` and `asfound time`: what a person types, what comes out, what is refused and how."""

from __future__ import annotations

import json

import pytest
from pypdf import PdfReader


def test_the_report_is_read_and_the_full_one_has_more(at_demo, tmp_path):
    read, full = tmp_path / "read.pdf", tmp_path / "full.pdf"
    assert at_demo("report", "N1", "--output", str(read)).code == 0
    assert at_demo("report", "N1", "--full", "--output", str(full)).code == 0
    assert read.read_bytes().startswith(b"%PDF-")
    assert full.stat().st_size > read.stat().st_size


def test_papers_are_set_on_the_sheet_that_is_asked_for(at_demo, tmp_path):
    made = {}
    at_demo("home", "paper=letter")
    for name, words in {
        "asked": ("report", "A2", "--for", "office", "--pdf", "--paper", "a4", "--output"),
        "home": ("report", "A2", "--for", "office", "--pdf", "--output"),
        "shift": ("report", "A2", "--shift", "--output"),
        "due": ("due", "D1", "--pdf"),
        "upgrade": ("upgrade", "A1", "--paper", "letter", "--pdf"),
    }.items():
        file = tmp_path / f"{name}.pdf"
        assert at_demo(*words, str(file)).code == 0
        made[name] = tuple(round(float(side)) for side in PdfReader(file).pages[0].mediabox[2:])
    letter = (612, 792)
    assert made == {"asked": (595, 842), "home": letter, "shift": (612, 396), "due": letter, "upgrade": letter}
    refused = at_demo("report", "A2", "--paper", "foolscap")
    assert refused.code != 0
    assert "letter" in refused.err


def test_a_document_is_said_written_and_refused(at_demo, tmp_path):
    said = at_demo("report", "A2", "--for", "operator", "--text")
    assert said.out.startswith("A2 may run on.")
    table = tmp_path / "a2.csv"
    assert at_demo("report", "A2", "--for", "site-manager", "--csv").code != 0
    assert at_demo("report", "A2", "--for", "compliance", "--csv", "--output", str(table)).code == 0
    assert table.read_text(encoding="utf-8-sig").startswith("row,value_key,")
    assert at_demo("report", "A2", "--for", "compliance", "--csv", "--output", str(table)).code != 0
    unknown = at_demo("report", "A2", "--for", "boss")
    assert unknown.code != 0
    assert "site_manager" in unknown.err
    assert "--for" in at_demo("report", "A2", "--csv").err
    assert at_demo("report", "A2", "--for", "parts", "--csv", "--text").code != 0


def test_the_readers_are_listed_with_what_is_missing(at_demo):
    rows = json.loads(at_demo("report", "A2", "--readers", "--json").out)
    assert len(rows) == 10
    assert any("Travel" in lack for row in rows if row["for"] == "office" for lack in row["lacks"])


def test_travel_is_kept_for_a_closed_visit(at_demo):
    kept = at_demo("time", "A3", "travel", "2 h 30 min", "--warranty", "asked")
    assert kept.code == 0, kept.err
    assert "2 h 30 min" in at_demo("report", "A3", "--for", "office", "--text").out
    for words in (
        ("time", "A3", "flying", "1 h"),
        ("time", "A3", "travel", "far"),
        ("time", "A3", "travel", "1 h", "--day", "x"),
    ):
        assert at_demo(*words).code != 0


@pytest.mark.parametrize("name", ["planning"])
def test_a_calendar_is_written(at_demo, tmp_path, name):
    file = tmp_path / "one.ics"
    assert at_demo("report", "D1", "--for", name, "--calendar", "--output", str(file)).code == 0
    assert file.read_bytes().startswith(b"BEGIN:VCALENDAR")
