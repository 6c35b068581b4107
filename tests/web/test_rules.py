"""General rules beside an engine: facts kept by the form, rows that concern it, one put on the record."""

from __future__ import annotations

import re

RULES = "/engines/A2/rules"


def test_rows_are_shown_with_how_their_text_was_seen_and_what_they_ask(reader):
    html = reader.get(RULES).text
    assert "40 CFR 60 Subpart JJJJ" in html
    assert "The text was read." in html
    assert "the date of manufacture" in html
    assert "put aside for permit 1.0 g/hp-h" in html


def test_a_fact_settles_rows_and_is_corrected_not_doubled(client, records):
    assert "<h3>Apply</h3>" not in client.get(RULES).text
    assert client.post(RULES, data={"made": "2011-03-01", "burn": "lean"}).status_code == 303
    html = client.get(RULES).text
    assert "<h3>Apply</h3>" in html
    assert 'value="2011-03-01"' in html
    engine = records.engine("A2")
    assert engine.content["rules"]["made"] == "2011-03-01"
    assert engine.content["rules"]["jurisdictions"] == "US", "what the form did not hold stays"
    assert client.post(RULES, data={"made": ""}).status_code == 303
    assert "made" not in records.engine("A2").content["rules"]


def test_what_cannot_be_stays_typed_and_nothing_is_kept(client, records):
    said = client.post(RULES, data={"power": "much", "hours_a_year": "8000", "strokes": "3"})
    assert said.status_code == 422
    assert 'value="much"' in said.text
    assert "hours_a_year" not in records.engine("A2").content["rules"]


def test_a_row_on_the_record_says_that_it_is_no_permit(client, records):
    client.post(RULES, data={"made": "2011-03-01"})
    row = re.findall(r'name="row" value="([^"]*voc\.g)"', client.get(RULES).text)[0]
    said = client.post(f"{RULES}/put", data={"row": row})
    assert said.headers["location"] == "/engines/A2#limits"
    html = client.get("/engines/A2").text
    assert "general rule, not your permit" in html
    assert "0.7 g/hp-h" in html


def test_a_row_that_does_not_concern_it_is_not_put_on_the_record(client, records):
    before = len(records.entries(kind="limit"))
    assert client.post(f"{RULES}/put", data={"row": "no.such.row"}).status_code == 404
    assert len(records.entries(kind="limit")) == before
