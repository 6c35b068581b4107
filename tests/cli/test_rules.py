"""General rules on the command line."""

from __future__ import annotations

from pathlib import Path

from asfound.cli import CANNOT, DONE

ROOT = Path(__file__).parents[2]


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


def test_a_companys_own_table_stands_beside_the_packaged_ones(at_demo, demo):
    head = (ROOT / "src/asfound/exhaust/data/limits_us_nsps.csv").read_text(encoding="utf-8")
    columns = next(line for line in head.splitlines() if line and not line.startswith("#")).split(",")
    row = {
        "id": "own.nox", "jurisdiction": "US", "text": "House rule 4", "when": "burn=lean", "kind": "limit",
        "pollutant": "NOx", "quantity": "nox_mass_per_energy", "side": "upper", "value": "0.9", "unit": "g/hp-h",
        "status": "read", "source": "the company's own",
    }  # fmt: skip
    table = ",".join(columns) + "\n" + ",".join(row.get(name, "") for name in columns) + "\n"
    (demo / "limits.csv").write_text(table, encoding="utf-8")
    rows = {one["row"]: one for one in at_demo("rules", "A2", "--json").data["rules"]}
    assert rows["own.nox"]["verdict"] == "applies"
    (demo / "limits.csv").write_text(table.replace("g/hp-h", "g/furlong"), encoding="utf-8")
    said = at_demo("rules", "A2")
    assert said.code == CANNOT
    assert "limits.csv" in said.err
    assert "g/furlong" in said.err
