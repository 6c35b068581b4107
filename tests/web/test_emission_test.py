"""A formal test comes into a visit by its file, goes on the sheet, is listed and taken back."""

from __future__ import annotations

import yaml

from ..exhaust.emission_tests import run, three_runs

A2 = "/engines/A2/2032-07-08"
DOOR = f"{A2}/exhaust/test"


def bring(client, given, name="test.yaml"):
    content = yaml.safe_dump(given) if isinstance(given, dict) else given
    return client.post(DOOR, files={"file": (name, content)}, data={"source": "test crew, report 7"})


def test_a_test_goes_on_the_sheet_run_by_run_and_is_taken_back(client, records):
    assert bring(client, three_runs()).status_code == 303
    html = client.get(f"{A2}/exhaust").text
    assert "Mean of the valid runs" in html
    entry = records.entries(kind="emission_test")[-1]
    assert entry.content["source"] == "test crew, report 7"
    assert records.attachment(entry.content["file"])
    data = client.get(f"/api{A2.replace('engines', 'visits')}").json()
    keys = {one["key"] for one in data["results"]}
    assert {f"as_found/run_{n}/nox_at_reference_oxygen" for n in (1, 2, 3)} <= keys
    mean = next(one for one in data["results"] if one["worksheet"] == "mean_of_runs_nox_at_reference_oxygen")
    runs = [one["value"] for one in data["results"] if one["key"].endswith("/nox_at_reference_oxygen")
            and "/run_" in one["key"]]  # fmt: skip
    assert abs(mean["value"] - sum(runs) / 3) < 1e-9 * mean["value"]
    assert client.post(f"{DOOR}/back", data={"entry": entry.id}).status_code == 303
    assert "Mean of the valid runs" not in client.get(f"{A2}/exhaust").text


def test_a_run_that_fails_a_clause_is_named_on_the_page(client):
    drifted = run(2)
    drifted["gases"]["nox"]["upscale"] = [99.0, 60.0]
    bring(client, three_runs(runs=[run(1), drifted, run(3)]))
    html = client.get(f"{A2}/exhaust").text
    assert "invalid" in html
    assert "7E" in html


def test_a_file_that_is_none_is_refused_with_its_row_and_nothing_is_kept(client, records):
    for given, name in (("gas;method\nnox;7e\n", "test.csv"), ("runs: [", "test.yaml"), (b"\x89PNG", "test.xlsx"),
                        ("x", "test.exe"), ("", "test.csv")):  # fmt: skip
        said = bring(client, given, name)
        assert said.status_code == 422, name
        assert "Nothing of it was kept." in said.text
    assert not records.entries(kind="emission_test")
    assert client.post(DOOR, data={}).status_code == 422


def test_only_a_test_of_this_visit_is_taken_back(client, records):
    reading = records.entries(kind="reading")[-1]
    assert client.post(f"{DOOR}/back", data={"entry": reading.id}).status_code == 404
