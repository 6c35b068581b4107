"""A formal test on the command line: judged without a record, brought into a visit."""

from __future__ import annotations

import yaml

from asfound.cli import CANNOT, DONE

from ..exhaust.emission_tests import run, three_runs


def write(folder, given):
    path = folder / "test.yaml"
    path.write_text(yaml.safe_dump(given))
    return path


def test_it_is_judged_without_a_record(asfound, tmp_path):
    said = asfound("emission-test", write(tmp_path, three_runs()), "--json").data
    assert said["complete"]
    assert {one["gas"] for one in said["runs"]} == {"nox", "co", "o2"}
    assert all(one["valid"] for one in said["runs"])
    drifted = run(2)
    drifted["gases"]["nox"]["upscale"] = [99.0, 60.0]
    path = write(tmp_path, three_runs(runs=[run(1), drifted, run(3)]))
    said = asfound("emission-test", path, "--json").data
    bad = [one for one in said["runs"] if not one["valid"]]
    assert [(one["run"], one["gas"]) for one in bad] == [(2, "nox")]
    assert bad[0]["invalid_because"]
    assert "Not kept" in asfound("emission-test", path).out


def test_it_is_brought_into_a_visit(at_demo, tmp_path):
    said = at_demo("emission-test", write(tmp_path, three_runs()), "A2", "--source", "test crew")
    assert said.code == DONE
    results = at_demo("results", "A2", "nox_at_reference_oxygen", "--json").data["results"]
    assert {"run_1", "run_2", "run_3"} <= {one["place"] for one in results}


def test_a_file_that_is_none_says_what_is_wrong(asfound, tmp_path):
    said = asfound("emission-test", tmp_path / "none.csv")
    assert said.code == CANNOT
    assert "none.csv" in said.err
    assert asfound("emission-test", write(tmp_path, {"runs": []})).code == CANNOT
