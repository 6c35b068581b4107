"""Where several ways lead to one number: they are shown beside each other, and a person can choose."""

from __future__ import annotations

import pytest

from asfound.cli import CANNOT, DONE

HEAT = "as_found/fuel/gross_heating_value"


def heat(run):
    said = run("method", "A2", HEAT, "--json").data
    return said["numbers"][0], said["chosen"]


def test_the_heating_value_of_the_laboratory_stands_beside_that_of_its_analysis(at_demo):
    number, chosen = heat(at_demo)
    assert number["taken"]["read"]
    assert number["verdict"] == "agree"
    assert number["others"][0]["worksheet"] == "properties_of_the_gas"
    assert chosen == {}


def test_a_choice_is_kept_carried_on_and_taken_back(at_demo):
    before = at_demo("results", "A2", "nox_mass_per_energy", "--json").data["results"][0]["value"]
    kept = at_demo("method", "A2", "gross_heating_value=properties_of_the_gas", "--why", "the report is old", "--json")
    assert kept.code == DONE
    number, chosen = heat(at_demo)
    assert chosen == {"gross_heating_value": "properties_of_the_gas"}
    assert number["taken"]["worksheet"] == "properties_of_the_gas"
    after = at_demo("results", "A2", "nox_mass_per_energy", "--json").data["results"][0]["value"]
    assert after == pytest.approx(before, rel=2e-3)
    assert after != before
    at_demo("method", "A2", "gross_heating_value=")
    assert heat(at_demo)[0]["taken"]["read"]


def test_the_list_says_in_words_how_far_they_agree(at_demo):
    said = at_demo("method", "A2")
    assert said.code == DONE
    assert f"{HEAT}: 2 ways, they agree" in said.out


@pytest.mark.parametrize(
    ("choice", "says"),
    [
        ("gross_heating_value=mixture_from_oxygen", "does not lead to it"),
        ("gross_heating_value=properties_of_the_gsa", "properties_of_the_gas"),
        ("gross_heating_valu=properties_of_the_gas", "gross_heating_value"),
        ("engine_powr", "number with several ways"),
    ],
)
def test_what_leads_nowhere_is_refused(at_demo, choice, says):
    said = at_demo("method", "A2", choice)
    assert said.code == CANNOT
    assert says in said.err
