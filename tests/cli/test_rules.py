"""General rules on the command line."""

from __future__ import annotations

from asfound.cli import CANNOT, DONE


def test_facts_settle_rows_and_one_goes_on_the_record(at_demo):
    open_ = at_demo("rules", "A2", "--json").data
    assert "made" in open_["questions"]
    assert all(one["verdict"] == "may apply" for one in open_["rules"])
    settled = at_demo("rules", "A2", "made=2011-03-01", "--json").data
    applying = [one for one in settled["rules"] if one["verdict"] == "applies"]
    assert {one["row"] for one in applying} >= {"us.jjjj.ng_500.2010.nox.g", "us.jjjj.ng_500.2010.voc.g"}
    assert next(one for one in applying if one["row"].endswith("nox.g"))["put_aside_for"] == "1.0 g/hp-h"
    said = at_demo("rules", "A2", "--adopt", "us.jjjj.ng_500.2010.voc.g")
    assert said.code == DONE
    assert "general rule, not your permit" in at_demo("limit", "list", "A2").out


def test_what_rules_ask_of_the_owner(at_demo):
    said = at_demo("rules", "A2", "--duties")
    assert "Asked of owner and test" in said.out
    assert "8,760" in said.out or "8760" in said.out


def test_a_fact_that_cannot_be_is_refused(at_demo):
    said = at_demo("rules", "A2", "made=last summer")
    assert said.code == CANNOT
    assert "last summer" in said.err
    assert at_demo("rules", "A2", "colour=green").code == CANNOT
    assert at_demo("rules", "A2", "--adopt", "no.such").code == CANNOT
