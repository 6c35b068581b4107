"""`asfound gas` as an engineer uses it: the laboratory's report, the visit, the new well, the chromatograph's log."""

from __future__ import annotations

import csv

import pytest

from asfound.cli import CANNOT, DONE, NO

REPORT = """ASHGREBE LABORATORY                Report 4812
Sampled: 1 July 2032   Cylinder 12
Component              Mol %     Wt %
Methane               88.2000   77.1
Ethane                 6.6000    7.759
Propane                2.5500    3.834
Iso-Butane             0.2200    0.717
n-Butane               0.3100    1.011
i-Pentane              0.0700    0.283
Hexanes +              0.0500    0.242
Nitrogen               1.0500    1.650
Helium                 0.0500
Carbon Dioxide         0.9000    2.222
H2S                   4.56 mg/m3
Total                100.0000
"""
READ = ("--heavier", "60/30/10", "--volume-at", "0 C, 101.325 kPa")


@pytest.fixture
def report(tmp_path):
    path = tmp_path / "report_4812.txt"
    path.write_text(REPORT)
    return path


def test_reading_says_what_has_to_be_said_first_and_keeps_nothing(at_demo, report):
    said = at_demo("gas", "read", report)
    assert said.code == NO
    assert "refused" in said.out  # H2S by a cubic metre of no state
    assert "To be said first: heavier" in said.out
    said = at_demo("gas", "read", report, *READ)
    assert said.code == DONE
    assert "hydrogen sulfide (H2S)     3.0000" in said.out or "ppm" in said.out
    assert "methane number" in said.out
    assert "helium (He), 0.05 %, is counted in nitrogen" in said.out


def test_a_typed_gas_and_one_that_does_not_add_up(at_demo):
    whole = at_demo("gas", "read", "CH4=91.2", "C2H6=8.8", "--basis", "mole", "--json").data
    assert whole["gas"]["components"]["methane"]["fraction"] == pytest.approx(0.912)
    assert {one["name"] for one in whole["properties"]} >= {"volume_gross", "wobbe_gross", "methane_number"}
    off = at_demo("gas", "read", "CH4=91.2", "C2H6=6.8", "--basis", "mole")
    assert "--scale" in off.out
    assert "methane number" in at_demo("gas", "read", "CH4=91.2", "C2H6=6.8", "--basis", "mole", "--scale").out


def test_an_analysis_becomes_one_thing_on_the_visit(at_demo, report):
    said = at_demo("gas", "take", "A2", report, "--laboratory", "Ashgrebe laboratory", "--report", "4812",
                   "--state", "as_left", *READ, "--json").data  # fmt: skip
    kept = {one["content"]["quantity"]: one["content"] for one in said["kept"] if one["kind"] == "reading"}
    assert kept["fuel_methane"]["value"] == pytest.approx(0.882)
    assert kept["fuel_methane"]["source"] == "Ashgrebe laboratory, report 4812, sampled 2032-07-01"
    assert kept["fuel_analysis_age"]["as_typed"] == "7 d"
    assert kept["fuel_hydrogen_sulfide"]["value"] == pytest.approx(3e-6, rel=2e-3)
    assert kept["fuel_nitrogen"]["value"] == pytest.approx(0.0110)  # helium counts there
    assert kept["fuel_pentane"]["as_typed"] == "0 %, not named"  # the gas as found had it; the two do not mix
    paper = next(one["content"] for one in said["kept"] if one["kind"] == "photo")
    assert paper["filename"] == "report_4812.txt"
    assert "60/30/10" in paper["caption"]
    shown = at_demo("gas", "show", "A2")
    assert "7 days old" in shown.out
    assert "report_4812.txt" in shown.out
    results = at_demo("visit", "show", "A2", "--json").data["results"]
    assert "as_left/fuel/wobbe_index" in {one["key"] for one in results}


def test_the_gas_as_left_does_not_touch_the_results_as_found(at_demo, report):
    """Components and the split of C6+ that only the later analysis names are not carried back into the earlier one."""

    def found():
        results = at_demo("visit", "show", "A2", "--json").data["results"]
        return {one["key"]: one["value"] for one in results if one["key"].startswith("as_found/fuel/")}

    before = found()
    report.write_text(REPORT + "Oxygen 0.50\nHydrogen 2.0\n")
    assert at_demo("gas", "take", "A2", report, *READ, "--state", "as_left", "--scale").code == DONE
    after = found()
    assert {key: after[key] for key in before} == pytest.approx(before, rel=1e-12)
    assert at_demo("gas", "undo", "A2", "--state", "as_found").code == CANNOT  # that one was typed by itself
    assert at_demo("gas", "undo", "A2", "--state", "as_left").code == DONE
    keys = {one["key"] for one in at_demo("visit", "show", "A2", "--json").data["readings"]}
    assert "as_found/fuel/fuel_hydrogen" not in keys
    assert "as_left/fuel/fuel_hydrogen" not in keys


def test_what_was_read_wrong_is_put_right_or_taken_back(at_demo, report):
    assert at_demo("gas", "take", "A2", report, "--state", "as_left", *READ).code == DONE
    before = at_demo("visit", "show", "A2", "--json").data["readings"]
    report.write_text(REPORT.replace("88.2000", "87.2000").replace("1.0500", "2.0500"))
    again = at_demo("gas", "take", "A2", report, "--state", "as_left", "--correct", *READ)
    assert again.code == DONE
    after = at_demo("visit", "show", "A2", "--json").data["readings"]
    assert len(after) == len(before)
    methane = next(one for one in after if one["key"] == "as_left/fuel/fuel_methane")
    assert methane["as_typed"] == "87.2 %"
    assert at_demo("gas", "undo", "A2", "--state", "as_left").code == DONE  # the correction: what it put right is back
    shares = at_demo("gas", "show", "A2", "--json").data["states"][-1]["gas"]["components"]
    assert shares["methane"]["fraction"] == pytest.approx(0.882)
    assert at_demo("gas", "undo", "A2", "--state", "as_left", "--why", "of another engine").code == DONE
    left = {one["key"] for one in at_demo("visit", "show", "A2", "--json").data["readings"]}
    assert "as_left/fuel/fuel_methane" not in left
    assert "as_found/fuel/fuel_methane" in left
    assert at_demo("gas", "undo", "A2", "--state", "as_left").code == CANNOT


def test_what_cannot_be_taken_is_refused_and_nothing_is_kept(at_demo, report, tmp_path):
    before = len(at_demo("visit", "show", "A2", "--entries", "--json").data)
    assert at_demo("gas", "take", "A2", report).code == CANNOT
    report.write_text(REPORT + "Unobtainium 0.2\n")
    refused = at_demo("gas", "take", "A2", report, *READ)
    assert (refused.code, "line 16" in refused.err) == (CANNOT, True)
    assert at_demo("gas", "take", "A2", report, *READ, "--sampled", "2033-01-01").code == CANNOT
    assert at_demo("gas", "take", "A2", tmp_path / "none.csv", *READ).code == CANNOT
    assert at_demo("gas", "take", "A2", report, *READ, "--state", "neither").code == CANNOT
    assert len(at_demo("visit", "show", "A2", "--entries", "--json").data) == before
    assert at_demo("gas", "take", "A2", report, *READ, "--leave-refused").code == DONE


def test_a_sealed_visit_takes_no_analysis(at_demo, report):
    assert at_demo("gas", "take", "A1", report, *READ).code == CANNOT


def test_two_gases_beside_each_other_and_mixed(at_demo, report):
    changes = at_demo("gas", "compare", "A2", report, *READ, "--json").data
    wobbe = next(one for one in changes if one["before"]["name"] == "wobbe_gross")
    assert wobbe["after"]["value"] > wobbe["before"]["value"]
    along = at_demo("gas", "blend", "A2", report, *READ, "--least-methane-number", "72", "--json").data
    numbers = along["values"]["methane_number"]
    assert numbers == sorted(numbers, reverse=True)
    assert numbers[-1] < 74 < numbers[0]
    assert 0 < along["most"] < 1
    said = at_demo("gas", "blend", "A2", report, *READ, "--least-methane-number", "72")
    assert f"Up to {100 * along['most']:.0f} % of the second may come" in said.out
    assert at_demo("gas", "blend", "A2", report, *READ, "--into", "A2").code == CANNOT  # which mixture?
    assert at_demo("gas", "blend", "A2", report, *READ, "--share", "25", "--into", "A2").code == DONE
    shown = at_demo("gas", "show", "A2", "--json").data
    left = next(one for one in shown["states"] if one["state"] == "as_left")
    assert left["gas"]["components"]["methane"]["fraction"] == pytest.approx(0.75 * 0.912 + 0.25 * 0.882, abs=2e-4)
    assert left["files"] == ["mixture.txt"]


def test_the_log_of_a_chromatograph(at_demo, tmp_path):
    log = tmp_path / "log.csv"
    rows = ["time,CH4 mol%,C2H6 mol%,N2 mol%", "08:00,95,3,2", "09:00,90,8,2", "10:00,x,8,2", "11:00,90,,2"]
    log.write_text("\n".join(rows))
    refused = at_demo("gas", "log", log)
    assert (refused.code, "row 4, methane" in refused.err) == (CANNOT, True)
    out = tmp_path / "worked.csv"
    found = at_demo("gas", "log", log, "--leave-refused", "--out-file", out, "--json").data
    assert found["gases"] == 4
    assert [one["text"] for one in found["refused"]] == ["x"]
    with out.open() as file:
        table = list(csv.DictReader(file))
    assert [row["label"] for row in table] == ["08:00", "09:00", "10:00", "11:00"]
    assert [bool(row["Wobbe index [MJ/m3]"]) for row in table] == [True, True, False, False]
    assert float(table[1]["methane number"]) < float(table[0]["methane number"])


def test_limits_of_documents(at_demo, report):
    listed = at_demo("gas", "limits")
    assert "EN 16726 group H" in listed.out
    judged = at_demo("gas", "limits", report, *READ, "--document", "EN 16726 group H")
    assert judged.code in (DONE, NO)
    assert "methane number at least 65" in judged.out
    assert at_demo("gas", "limits", "D1", "--document", "EN 16726 group H", "--groups", "other points").code == NO
    assert at_demo("gas", "limits", report, *READ, "--document", "nobody's").code == CANNOT
    report.write_text(REPORT + "Siloxanes 25 mg/m3(n)\n")
    assert at_demo("gas", "take", "A2", report, *READ, "--state", "as_left").code == DONE
    sour = at_demo("gas", "limits", "A2", "--document", "Spain PD-01", "--groups", "biogas and similar", "--json").data
    siloxanes = next(one for one in sour if one["limit"]["quantity"] == "siloxanes")
    assert (siloxanes["verdict"], siloxanes["value"]) == ("violates", pytest.approx(25.0))


def test_air_is_taken_out_on_request(at_demo):
    aired = ("CH4=90", "N2=8.22", "O2=1.78", "--basis", "mole")
    found = at_demo("gas", "read", *aired, "--without-air", "--json").data
    assert found["gas"]["components"]["oxygen"]["fraction"] == pytest.approx(0.0, abs=1e-9)
    assert found["gas"]["components"]["methane"]["fraction"] == pytest.approx(0.9 / (1 - 0.085), rel=2e-3)
    assert "air was taken out" in at_demo("gas", "read", *aired, "--without-air").out
