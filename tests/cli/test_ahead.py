"""`asfound ahead`: pages made now, passed over where they are there, refused where nothing may be kept."""

from __future__ import annotations

import asfound.records.kept_store as kept

CLOSED = "D2/2032-06-21"


def test_pages_are_made_once(at_demo):
    made = at_demo("ahead", CLOSED, "--json").data
    assert (made["made"], made["kept_before"], made["left"], made["full"]) == (1, 0, 0, False)
    assert 0 < made["kept_mb"] < 1
    again = at_demo("ahead", CLOSED, "--json").data
    assert (again["made"], again["kept_before"]) == (0, 1)
    assert "Pages of 0 visits" in at_demo("ahead", CLOSED).out


def test_a_home_that_keeps_nothing_says_so(at_demo, monkeypatch):
    monkeypatch.setattr(kept, "kept_store", lambda _records: None)
    said = at_demo("ahead")
    assert said.code == 2
    assert "keeps nothing beside its record" in said.err


def test_a_size_that_cannot_be_is_refused(at_demo):
    refused = at_demo("home", "kept_mb=much")
    assert refused.code == 2
    assert "50 to 100,000 MB" in refused.err
    assert at_demo("home", "kept_mb=2000", "--json").data["settings"]["kept_mb"] == 2000
    assert at_demo("home", "ahead=sometimes").code == 2
