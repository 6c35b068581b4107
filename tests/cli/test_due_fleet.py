"""What a fleet holds on its shelf and how often things fail, from the command line."""

from __future__ import annotations

import json


def test_spares_of_the_demo_as_text_and_as_data(asfound, demo):
    said = asfound("due", "spares", "--home", demo)
    assert said.code == 0
    assert "coolant pump" in said.out
    assert "yours to say" in said.out
    data = json.loads(asfound("due", "spares", "--home", demo, "--json").out)
    pump = next(one for one in data["parts"] if one["part"]["item"] == "pump")
    assert pump["failures"] == 2
    assert pump["hold"]["stock"] >= 1
    assert pump["hold_high"]["stock"] >= pump["hold"]["stock"]


def test_own_parts_and_a_bad_file(asfound, demo, tmp_path):
    own = tmp_path / "parts.yaml"
    own.write_text(
        "parts:\n- {part: pump, item: pump, lead_days: 30, wanted: 0.9, on_shelf: 1, engines: [N1], source: own}\n"
    )
    data = json.loads(asfound("due", "spares", own, "--home", demo, "--json").out)
    assert [one["places"] for one in data["parts"]] == [1]
    assert data["parts"][0]["now"]["stock"] == 1
    own.write_text("parts:\n- {part: pump, item: pump, lead_days: soon, wanted: 0.9, source: own}\n")
    said = asfound("due", "spares", own, "--home", demo)
    assert said.code != 0
    assert "parts.yaml:2" in said.err


def test_rates_by_item_and_by_mode(asfound, demo):
    rows = json.loads(asfound("due", "rates", "--home", demo, "--json").out)
    assert rows[0]["item"] == "ignition system"
    assert rows[0]["repair_hours"] > 0
    assert all(one["low"] < (one["mtbf"] or 1e99) for one in rows)
    said = asfound("due", "rates", "--by", "mode", "--home", demo)
    assert said.code == 0
    assert "chi-square" in said.out
