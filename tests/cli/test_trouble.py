"""Trouble told, shown and closed on the command line."""

from __future__ import annotations

from asfound.cli import CANNOT, DONE

FRAMES = "18FECA00#04FF64000305FFFF\n"


def test_a_case_from_the_first_word_to_its_end(at_demo):
    assert "No symptom was told yet" in at_demo("trouble", "A2").out
    told = at_demo("trouble", "saw", "A2", "misfire_one", "present", "--place", "3", "--json").data
    assert told["content"]["symptom"] == "s_misfire_one"
    assert told["causes"][0]["after"] > told["causes"][0]["before"]
    assert at_demo("trouble", "tried", "A2", "Secondary voltage demand low", "positive", "--minutes", "12").code == DONE
    out = at_demo("trouble", "A2", "--plan").out
    assert "whether the engine runs on is decided first" in out
    assert "Searched through to the end" in out
    assert "The plan" in out
    assert "12" in str(at_demo("trouble", "A2", "--json").data["minutes"])
    shown = at_demo("trouble", "A2", "--json").data
    assert shown["phase"] == "open"
    assert abs(sum(one["p"] for one in shown["causes"]) - 1) < 1e-9
    assert shown["decision"]["first"]["does"] in ("test", "repair", "call")
    assert at_demo("trouble", "tried", "A2", "r_lead", "cured").code == DONE
    closed = at_demo("trouble", "close", "A2", "c_lead", "cured", "--part", "lead of 3", "--json").data
    assert at_demo("trouble", "A2").out.startswith("Closed: Secondary lead")
    assert [one["cause"] for one in at_demo("trouble", "cases", "--json").data["cases"]][-1] == "c_lead"
    assert at_demo("undo", closed["entry"]).code == DONE
    assert at_demo("trouble", "A2", "--json").data["phase"] == "cured"


def test_what_may_not_be_done_is_said(at_demo):
    at_demo("trouble", "saw", "A2", "misfire_one", "present")
    at_demo("trouble", "may", "A2", "--stop", "no", "--isolate", "no", "--barred", "noise", "--why", "night")
    shown = at_demo("trouble", "A2", "--json").data
    assert shown["now"]["may_stop"] is False
    assert shown["now"]["barred"] == ["noise"]
    assert {one["state"] for one in shown["tests"]} <= {"any", "running"}
    assert "it may not be stopped now" in at_demo("trouble", "A2").out


def test_closed_cases_are_listed_and_switched_off_and_on(at_demo):
    listed = at_demo("trouble", "cases", "--json").data
    assert listed["counted"]
    assert [one["visit"] for one in listed["cases"]] == ["N1/2032-02-12", "A3/2032-06-28"]
    at_demo("trouble", "saw", "A2", "hunting", "present")
    assert at_demo("trouble", "A2", "--json").data["priors_moved"][0]["of"] == 2
    assert "1 of 2 closed cases here" in at_demo("trouble", "A2").out
    assert at_demo("trouble", "A2", "--without-closed", "--json").data["priors_moved"] == []
    assert "switched off" in at_demo("trouble", "cases", "--count", "off").out
    assert at_demo("trouble", "A2", "--json").data["priors_moved"] == []
    assert at_demo("trouble", "cases", "--count", "on", "--json").data["counted"]


def test_the_demos_own_stories(at_demo):
    coil = at_demo("trouble", "A3", "--json").data
    assert coil["closed"]["cause"] == coil["causes"][0]["id"] == "c_coil"
    load = at_demo("trouble", "N1", "--json").data
    assert load["closed"]["cause"] == load["causes"][0]["id"] == "c_load_swing"
    assert load["now"]["may_stop"] is False


def test_a_protection_found_off_is_a_finding(at_demo):
    assert at_demo("trouble", "guard", "A2", "overspeed", "bypassed", "--note", "wire on 14").code == DONE
    out = at_demo("findings", "A2").out
    assert "Overspeed shutdown: bypassed" in out
    assert at_demo("trouble", "guard", "A2", "brakes", "off").code == CANNOT


def test_fault_codes_from_a_file_and_into_a_visit(at_demo, asfound, tmp_path):
    log = tmp_path / "bus.log"
    log.write_text(FRAMES, encoding="utf-8")
    (unit,) = asfound("trouble", "codes", log, "--json").data
    assert (unit["faults"][0]["spn"], unit["faults"][0]["fmi"]) == (100, 3)
    assert "Unit 0, active: 1 fault; lamps: amber on" in asfound("trouble", "codes", log).out
    kept = at_demo("trouble", "codes", log, "A2", "--source", "service port", "--json").data
    assert kept["kind"] == "fault_codes"
    assert at_demo("trouble", "A2", "--json").data["fault_messages"][0]["messages"][0]["faults"][0]["spn"] == 100
    assert asfound("trouble", "codes", tmp_path / "none.log").code == CANNOT
    log.write_text("nothing\n", encoding="utf-8")
    assert asfound("trouble", "codes", log).code == CANNOT


def test_names_and_slips(at_demo, asfound):
    assert len(asfound("trouble", "names", "protections", "--json").data) > 10
    assert {"name": "s_knock", "title": "Detonation (knock) indicated or heard"} in at_demo(
        "trouble", "names", "symptoms", "--json"
    ).data
    said = at_demo("trouble", "saw", "A2", "misfire", "present")
    assert said.code == CANNOT
    assert "is in 3 titles" in said.err
    assert at_demo("trouble", "saw", "A2", "s_nok", "present").code == CANNOT
    assert at_demo("trouble", "tried", "A2", "t_coil_swap", "cured").code == CANNOT
    assert at_demo("trouble", "close", "A2", "c_coil", "cured").code == CANNOT


def test_a_file_of_knowledge_is_checked_before_it_is_used(asfound, tmp_path):
    draft = tmp_path / "draft.yaml"
    draft.write_text(
        "symptoms:\n- {id: s_knock, title: Ours, group: combustion, modes: [NOI], urgent: true, seen_in: [sound],\n"
        "   replaces: true}\n",
        encoding="utf-8",
    )
    assert asfound("trouble", "check", draft, "--json").data == {
        str(draft): {"symptoms": 1, "causes": 0, "tests": 0, "repairs": 0}
    }
    draft.write_text("symptoms:\n- {id: s_knock, title: Ours}\n", encoding="utf-8")
    said = asfound("trouble", "check", draft)
    assert said.code == CANNOT
    assert "draft.yaml:2:" in said.err
    codes = tmp_path / "fault_codes.csv"
    codes.write_text("spn,fmi,title,meaning,source\n100,1,Oil,,p. 2\n", encoding="utf-8")
    assert asfound("trouble", "check", codes).out.strip() == f"{codes}: 1 names of fault codes"
    assert "No file of this kind" in asfound("trouble", "check", "--home", tmp_path / "empty").out


def test_other_tests_and_repairs_name_what_can_hurt(at_demo):
    at_demo("trouble", "saw", "A2", "misfire_one", "present", "--place", "3")
    out = " ".join(at_demo("trouble", "A2").out.split())
    others, repairs = out.split("Other tests", 1)[1].split("Repairs", 1)
    assert "Mind: " in others
    assert "Mind: isolation and locking" in repairs
    assert "ignition voltage" in repairs
