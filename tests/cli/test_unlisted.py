"""The whole visit to an engine that no catalogue knows, on the command line."""

from __future__ import annotations

import pytest

from asfound.fitout.schema import read_catalogue


@pytest.fixture
def at_home(asfound, tmp_path, monkeypatch):
    """A new home with an in-line 8 that no catalogue knows, and an open visit to it."""
    monkeypatch.setenv("ASFOUND_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("ASFOUND_WHO", "J. Orme")
    assert asfound("engine", "add", "X9", "--inline", 8).code == 0
    assert asfound("visit", "open", "X9", "--purpose", "what is it").code == 0
    return asfound


def test_places_are_the_generic_ones_with_their_words(at_home):
    rows = at_home("places", "X9", "--json").data
    assert len(rows) == 44
    assert {row["looked"] for row in rows} == {"open"}
    coil = {row["character"]: row for row in at_home("places", "X9", "coil", "--json").data}
    assert "on_part" in {one["state"] for one in coil["mounting"]["states"]}
    assert "min" in coil["count"]["from"]
    assert "own words" in at_home("places", "X9", "coil").out


def test_looks_are_kept_and_what_is_no_count_is_refused(at_home):
    said = at_home("look", "X9", "coil", "count=8", "mounting=on_part,taped", "--note", "black stalks")
    assert said.code == 0, said.err
    assert at_home("look", "X9", "engine_controller", "--not-there").code == 0
    refused = at_home("look", "X9", "coil", "count=many")
    assert refused.code == 2
    assert "0 to 99" in refused.err
    rows = {row["slot"]: row for row in at_home("places", "X9", "--json").data}
    assert rows["coil"]["variant"] == "8 of them; on the part itself, taped; black stalks"
    assert rows["engine_controller"]["looked"] == "not there"


def test_fitted_says_that_nothing_is_weighed_and_what_to_look_at(at_home):
    at_home("look", "X9", "speed_controller", "enclosure=cast_box", "--label", "QX 12?", "--how", "read")
    said = at_home("fitted", "X9")
    assert said.code == 0
    assert "described, not weighed" in said.out
    assert "not computed" in said.out
    assert "no stop; identity" in said.out
    assert "8 + 9 = 17" in said.out
    data = at_home("fitted", "X9", "--json").data
    assert data["fit_z"] is None
    assert data["part_converted"] is None
    assert data["other"] == 1.0
    assert at_home("visit", "next", "X9").out.startswith("Describe")
    assert "FT-04" in at_home("findings", "X9").out


def test_the_visit_ends_in_draft_report_export_and_seal(at_home, tmp_path):
    pypdf = pytest.importorskip("pypdf")
    at_home("look", "X9", "coil", "count=8")
    at_home("take", "X9", "engine_speed=900 rpm")
    drafted = at_home("catalogue", "draft", "X9").out
    assert read_catalogue([("draft.yaml", drafted)]).families["x9_family"].cylinders == 8
    report = at_home("report", "X9", "--output", tmp_path / "x9.pdf")
    assert report.code == 0, report.err
    text = "".join(page.extract_text() for page in pypdf.PdfReader(tmp_path / "x9.pdf").pages)
    assert "Not in the catalogue" in text
    assert "8 of them" in text
    assert at_home("report", "X9", "--shift", "--output", tmp_path / "shift.pdf").code == 0
    exported = at_home("export", "X9", "--output", tmp_path / "x9.json")
    assert exported.code == 0, exported.err
    assert at_home("visit", "seal", "X9", "--yes").code == 0 or at_home("visit", "seal", "X9").code == 0
    assert at_home("visit", "verify", "X9").code == 0


def test_a_known_family_with_unknown_control_lists_generic_places_beside(at_demo):
    rows = at_demo("places", "D2", "--json").data
    beside = [row for row in rows if row["belongs"] == "generic place"]
    assert {"starter", "catalyst"} <= {row["slot"] for row in beside}
    assert at_demo("visit", "open", "D2").code == 0
    for place in ("engine_controller", "speed_controller"):
        assert at_demo("look", "D2", place, "--not-there").code == 0
    assert at_demo("look", "D2", "starter", "count=1", "--note", "air").code == 0
    rows = {row["slot"]: row for row in at_demo("places", "D2", "--json").data}
    assert rows["starter"]["variant"] == "1 of them; air"


def test_an_engine_of_which_nothing_is_known(asfound, tmp_path, monkeypatch):
    monkeypatch.setenv("ASFOUND_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("ASFOUND_WHO", "J. Orme")
    asfound("engine", "add", "Q1")
    asfound("visit", "open", "Q1")
    assert asfound("fitted", "Q1").code == 0
    assert asfound("look", "Q1", "starter", "count=1").code == 0
    assert asfound("report", "Q1", "--output", tmp_path / "q1.pdf").code == 0
    refused = asfound("catalogue", "draft", "Q1")
    assert refused.code == 2
    assert "layout" in refused.err
