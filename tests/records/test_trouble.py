"""Trouble told into a record: what holds, what counts, what a file of the home may say."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from asfound.errors import InputError, RecordError, UnknownNameError
from asfound.records.seal import seal
from asfound.records.trouble import closed_cases
from asfound.records.trouble_codes import read_fault_codes
from asfound.records.trouble_say import (
    close_case,
    say_allowed,
    say_protection,
    say_step,
    say_symptom,
    set_count_closed,
)
from asfound.records.visit import view

if TYPE_CHECKING:
    from asfound.records.store import Records
    from asfound.records.visit import VisitView

WHO = "R. Tester"
PARTS = """
can0  18ECFF00   [8]  20 0E 00 02 FF CA FE 00
can0  18EBFF00   [8]  01 11 CD 61 02 13 00 21
can0  18EBFF00   [8]  02 06 1F 00 EE 10 04 00
"""
OWN_CAUSE = """
source: handbook of the company
prices: {stop: 200}
causes:
- {id: c_goat, title: A goat on the cable tray, system: electrical, prior: common, mechanism: '2.2',
   leads_to: {s_comm_loss: often}}
tests:
- {id: t_goat, title: Look for the goat, minutes: 2, state: any, hazards: [], positive: it is there,
   given: {c_goat: almost always}, otherwise: almost never}
repairs:
- {id: r_goat, title: Lead it away, minutes: 5, state: any, hazards: [], fixes: {c_goat: almost always}}
"""


def new_visit(records: Records, tag: str = "T1") -> str:
    known = {one.tag: one.id for one in records.engines()}
    engine = known.get(tag) or records.append("engine", {"tag": tag, "catalyst": False}, who=WHO).id
    began = {"began": records.clock.now().isoformat(timespec="seconds")}
    return records.append("visit_opened", began, engine=engine, who=WHO).visit or ""


def close_with(records: Records, cause: str, confirmed: str = "cured", tag: str = "T2") -> str:
    visit = new_visit(records, tag)
    say_symptom(records, view(records, visit), "s_misfire_one", "present", who=WHO)
    return close_case(records, view(records, visit), cause, confirmed, who=WHO).id  # type: ignore[arg-type]


@pytest.fixture
def visit(records: Records) -> str:
    return new_visit(records)


def now(records: Records, visit: str) -> VisitView:
    return view(records, visit)


def test_a_case_from_the_first_word_to_its_end(records, visit):
    say_symptom(records, now(records, visit), "s_misfire_one", "present", place="3", who=WHO)
    say_step(records, now(records, visit), "t_coil_swap", "positive", minutes=40, who=WHO)
    seen = now(records, visit)
    assert [one.content["event"] for one in seen.entries if one.kind == "visit_state"] == ["changed"]
    assert "Parts changed place" in next(one.content["says"] for one in seen.entries if one.kind == "visit_state")
    assert seen.trouble.leader.id == "c_coil"
    assert seen.trouble.minutes == 40
    assert "TS-01" in {one.code for one in seen.findings}
    step = say_step(records, seen, "r_coil", "cured", minutes=30, who=WHO)
    assert step.content["state"] == "as_left"
    assert now(records, visit).trouble.phase == "cured"
    end = close_case(records, now(records, visit), "c_coil", "cured", part="coil of 3", who=WHO)
    assert now(records, visit).trouble.phase == "closed"
    with pytest.raises(InputError, match="closed already"):
        close_case(records, now(records, visit), "c_coil", "cured", who=WHO)
    records.undo(end.id, who=WHO)
    assert now(records, visit).trouble.phase == "cured"


def test_a_new_case_begins_after_an_end(records, visit):
    say_symptom(records, now(records, visit), "s_misfire_one", "present", who=WHO)
    close_case(records, now(records, visit), "c_coil", "seen", who=WHO)
    say_symptom(records, now(records, visit), "s_oilp_low", "present", who=WHO)
    found = now(records, visit).trouble
    assert (found.phase, found.cases_before) == ("open", 1)
    assert {one.id: one.says for one in found.symptoms}["s_misfire_one"] == ""


def test_what_cannot_be_told_is_refused(records, visit):
    seen = now(records, visit)
    with pytest.raises(UnknownNameError, match="s_misfire_one"):
        say_symptom(records, seen, "s_misfire_on", "present", who=WHO)
    with pytest.raises(InputError, match="cannot be said"):
        say_step(records, seen, "t_coil_swap", "cured", who=WHO)
    with pytest.raises(InputError, match="cannot be said"):
        say_step(records, seen, "r_coil", "positive", who=WHO)
    with pytest.raises(UnknownNameError):
        say_allowed(records, seen, barred=["sharks"], who=WHO)
    with pytest.raises(InputError, match="no symptom"):
        close_case(records, seen, "c_coil", "cured", who=WHO)
    with pytest.raises(InputError, match="called"):
        say_protection(records, seen, "other", "off", who=WHO)
    with pytest.raises(UnknownNameError):
        say_protection(records, seen, "brakes", "off", who=WHO)


def test_words_that_come_in_late_stand_where_they_belong_in_the_day(records, visit):
    """A test told in the evening, made before a repair that failed, is of the engine before it."""
    seen = now(records, visit)
    say_symptom(records, seen, "s_misfire_one", "present", time="2032-07-08T08:00:00+00:00", who=WHO)
    say_step(records, seen, "r_coil", "fails", time="2032-07-08T11:00:00+00:00", who=WHO)
    say_step(records, seen, "t_coil_swap", "positive", time="2032-07-08T12:00:00+02:00", who=WHO)
    weighs = {one.about: one.weighs for one in now(records, visit).trouble.witnesses}
    assert weighs["t_coil_swap"] == "before a change"


def test_what_may_be_done_now_is_the_last_word(records, visit):
    say_symptom(records, now(records, visit), "s_misfire_one", "present", who=WHO)
    say_allowed(records, now(records, visit), may_stop=False, may_isolate=False, why="island", who=WHO)
    assert {one.state for one in now(records, visit).trouble.tests} <= {"any", "running"}
    say_allowed(records, now(records, visit), barred=["noise"], who=WHO)
    found = now(records, visit).trouble
    assert found.now.may_stop
    assert all("noise" not in {caution.tag for caution in one.cautions} for one in found.tests)


def test_whether_the_engine_runs_on_is_open_until_somebody_says_so(records, visit):
    say_allowed(records, now(records, visit), may_stop=False, who=WHO)  # before anything urgent was told
    say_symptom(records, now(records, visit), "s_misfire_one", "present", who=WHO)
    assert "TS-03" in {one.code for one in now(records, visit).findings}
    say_allowed(records, now(records, visit), can_run=True, why="the owner: part load until noon", who=WHO)
    assert "TS-03" not in {one.code for one in now(records, visit).findings}
    say_symptom(records, now(records, visit), "s_oilp_low", "present", who=WHO)
    assert "TS-03" in {one.code for one in now(records, visit).findings}
    say_allowed(records, now(records, visit), can_run=False, who=WHO)
    assert "TS-03" not in {one.code for one in now(records, visit).findings}


def test_closed_cases_of_the_home_move_priors_and_go_with_their_entry(records, visit):
    say_symptom(records, now(records, visit), "s_misfire_one", "present", who=WHO)
    before = now(records, visit).trouble.cause("c_coil").p
    first = close_with(records, "c_coil")
    close_with(records, "c_lead", "believed")
    close_with(records, "c_coil", "seen", tag="T3")
    seen = now(records, visit).trouble
    assert [(one.cause, one.says) for one in seen.priors_moved] == [("c_coil", "2 of 2 closed cases here")]
    assert [one.engine for one in seen.closed_cases] == ["T2", "T2", "T3"]
    assert seen.cause("c_coil").p > before
    assert now(records, visit).trouble_without_closed.cause("c_coil").p == pytest.approx(before)
    set_count_closed(records, False)
    assert now(records, visit).trouble.cause("c_coil").p == pytest.approx(before)
    assert now(records, visit).trouble.closed_cases
    set_count_closed(records, True)
    records.undo(first, who=WHO)
    assert [one.cases for one in now(records, visit).trouble.priors_moved] == [1]
    assert len(closed_cases(records)) == 2


def test_its_own_case_does_not_move_a_visit_nor_do_cases_closed_after_its_seal(records, visit):
    say_symptom(records, now(records, visit), "s_misfire_one", "present", who=WHO)
    close_case(records, now(records, visit), "c_coil", "cured", who=WHO)
    assert now(records, visit).trouble.priors_moved == ()
    seal(records, visit, who=WHO, statement="done")
    close_with(records, "c_lead")
    assert now(records, visit).trouble.closed_cases == ()
    with pytest.raises(RecordError):
        say_symptom(records, now(records, visit), "s_knock", "present", who=WHO)


def test_a_protection_found_off_is_a_finding_and_a_look_goes_before_a_settings_words(records, visit):
    time = records.clock.now().isoformat(timespec="seconds")
    setting = {"name": "overspeed_trip", "as_typed": "disabled", "state": "as_found", "time": time}
    records.append("setting", setting, visit=visit, who=WHO)
    found = {one.code: one for one in now(records, visit).findings}
    assert found["TS-11"].severity == "stop"
    assert found["TS-11"].cautions == ("protect",)
    say_protection(records, now(records, visit), "overspeed", "bypassed", called="overspeed_trip", who=WHO)
    say_protection(records, now(records, visit), "overspeed", "bypassed", note="wire on 14", who=WHO)
    assert "TS-10" in {one.code for one in now(records, visit).findings}
    say_protection(records, now(records, visit), "overspeed", "in_force", who=WHO)
    say_protection(records, now(records, visit), "overspeed", "in_force", called="overspeed_trip", who=WHO)
    assert not {"TS-10", "TS-11"} & {one.code for one in now(records, visit).findings}
    say_protection(records, now(records, visit), "vibration", "not_judged", who=WHO)
    assert "TS-13" in {one.code for one in now(records, visit).findings}


@pytest.mark.parametrize(("name", "typed"), [("oil_pressure", "4.1 bar"), ("knock_shutdown", "on"), ("screen", "off")])
def test_a_setting_that_says_nothing_of_a_protection_that_is_off(records, visit, name, typed):
    time = records.clock.now().isoformat(timespec="seconds")
    records.append(
        "setting", {"name": name, "as_typed": typed, "state": "as_found", "time": time}, visit=visit, who=WHO
    )
    assert not {"TS-10", "TS-11"} & {one.code for one in now(records, visit).findings}


def test_fault_codes_are_kept_as_read_and_named_by_the_homes_table(records, visit):
    entry, messages = read_fault_codes(records, now(records, visit), PARTS, source="service port", who=WHO)
    assert entry.content["text"] == PARTS
    assert [one.spn for one in messages[0].faults] == [609, 1569, 4334]
    table = records.home.folder / "fault_codes.csv"
    table.write_text("spn,fmi,title,meaning,source\n609,19,Box 2,its data are wrong,VR-11 p. 3\n", encoding="utf-8")
    (found,) = [one for one in now(records, visit).findings if one.code == "TS-20"]
    assert "SPN 609 FMI 19 Box 2 (its data are wrong)" in found.says
    table.write_text("spn,fmi,title,meaning,source\n609,x,Box 2,,p. 3\n", encoding="utf-8")
    problems = now(records, visit).trouble.problems
    assert "fault_codes.csv:2:2: 'x' is no FMI" in problems[0]


def test_a_log_file_is_kept_whole_and_its_faults_as_text(records, visit):
    log = "\n".join(f"({i}.0) can0 18F00400#000000204E000000" for i in range(3000)) + PARTS
    entry, messages = read_fault_codes(records, now(records, visit), log.encode(), filename="bus.log", who=WHO)
    assert records.attachment(entry.content["file"]) == log.encode()
    assert len(entry.content["text"].splitlines()) == 3
    (kept,) = now(records, visit).trouble.fault_messages
    assert kept.messages == messages
    with pytest.raises(InputError):
        read_fault_codes(records, now(records, visit), "no frame", who=WHO)


def test_a_companys_own_knowledge(records, visit):
    own = records.home.folder / "troubleshooting.yaml"
    own.write_text(OWN_CAUSE, encoding="utf-8")
    say_symptom(records, now(records, visit), "s_comm_loss", "present", who=WHO)
    found = now(records, visit).trouble
    assert found.knowledge.causes["c_goat"].source == "handbook of the company"
    assert found.knowledge.prices.stop == 200
    assert found.knowledge.prices.isolate == 60
    say_step(records, now(records, visit), "t_goat", "positive", who=WHO)
    assert now(records, visit).trouble.leader.id == "c_goat"
    own.write_text(OWN_CAUSE.replace("s_comm_loss", "s_com_loss"), encoding="utf-8")
    found = now(records, visit).trouble
    assert "troubleshooting.yaml:6:" in found.problems[0]
    assert "none of the symptoms is called 's_com_loss'" in found.problems[0]
    assert "'t_goat' (positive) does not weigh" in found.problems[1]
    assert "TS-09" in {one.code for one in now(records, visit).findings}
    own.write_text(OWN_CAUSE.replace("Lead it away", "Bridge the interlock"), encoding="utf-8")
    assert "defeat a protection" in now(records, visit).trouble.problems[0]
