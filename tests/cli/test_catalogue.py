"""`asfound catalogue`: what whoever writes a catalogue is told."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

import asfound as package
from asfound.cli import CANNOT, DONE, NO
from asfound.fitout.catalogue import load_catalogue

PACKAGED = Path(package.__file__).parent / "fitout" / "data" / "ebbingstoke"


@pytest.fixture
def folder(tmp_path):
    """A copy of the packaged catalogue, to be spoiled."""
    return shutil.copytree(PACKAGED, tmp_path / "catalogue")


def test_the_packaged_catalogue_has_nothing_wrong(asfound):
    said = asfound("catalogue", "check", "--json")
    assert (said.code, said.data["wrong"]) == (DONE, 0)
    assert said.data["digest"] == load_catalogue().digest


def test_a_mistake_is_told_with_file_line_and_column(asfound, folder):
    file = folder / "2_control.yaml"
    file.write_text(
        file.read_text(encoding="utf-8").replace("plugs: round_screwed", "plugs: round_screwd", 1), encoding="utf-8"
    )
    said = asfound("catalogue", "check", folder)
    assert said.code == CANNOT
    assert "2_control.yaml:" in said.err
    assert "round_screwed" in said.err


def test_shares_that_do_not_add_up_are_wrong(asfound, folder):
    """CW-01 of the check: priors that do not add up."""
    file = next(one for one in folder.glob("*.yaml") if "\nshares:" in one.read_text(encoding="utf-8"))
    text = file.read_text(encoding="utf-8")
    at = text.index("of: {", text.index("\nshares:")) + len("of: {")
    first = text[at : text.index(",", at)]
    file.write_text(text[:at] + f"{first.split(':')[0]}: 0.001" + text[at + len(first) :], encoding="utf-8")
    said = asfound("catalogue", "check", folder)
    assert said.code == NO
    assert "CW-01" in said.out


def test_as_a_tree_for_paper(asfound):
    tree = asfound("catalogue", "tree", "HM9", "compressor", "--json").data
    assert tree["look"]
    assert sum(one["chance"] for one in tree["branches"]) == pytest.approx(1)
    assert "Look: " in asfound("catalogue", "tree", "HM9", "compressor").out
    unknown = asfound("catalogue", "tree", "HM8")
    assert unknown.code == CANNOT
    assert "HM9" in unknown.err


def test_simulated(asfound):
    words = ("catalogue", "simulate", "HM6", "generator", "--trials", 2, "--json")
    table = asfound(*words).data
    assert table == asfound(*words).data, "the same seed gives the same table"
    assert {"build", "right", "looks", "minutes"} <= set(table[0]["rows"][0])
    assert asfound("catalogue", "simulate", "HM6", "--trials", 0).code == CANNOT


def test_rates_fitted_from_confirmed_visits(asfound):
    fitted = asfound("catalogue", "fit", "--stories", "--json").data
    assert fitted["visits"] == 7
    assert all(one["low"] <= one["fitted"] <= one["high"] for one in fitted["rates"])
    assert asfound("catalogue", "fit").code == CANNOT


def test_a_draft_from_the_visit_to_an_unknown_control_loads_as_a_catalogue(at_demo, tmp_path):
    file = tmp_path / "draft" / "d2.yaml"
    file.parent.mkdir()
    assert at_demo("catalogue", "draft", "D2", "--output", file).code == DONE
    assert load_catalogue(file).name == "draft_d2"
    assert at_demo("catalogue", "check", file).code == DONE
    assert at_demo("catalogue", "draft", "D2", "--output", file).code == CANNOT, "not written over"
    assert "draft_d2" in at_demo("catalogue", "draft", "--story", "d2").out
