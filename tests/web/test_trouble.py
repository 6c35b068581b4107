"""The page of what is wrong: urgency, one next step with its cautions first, three answers, what is kept and undone."""

from __future__ import annotations

import re
from html import unescape

import pytest
from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.records.visit import view
from asfound.report.content_trouble_paper import trouble as paper
from asfound.report.typeset import visit_report
from asfound.troubleshoot import cautions_before

from .conftest import A2

PAGE = f"{A2}/trouble"
API = "/api/visits/A2/2032-07-08/trouble"
ACTIVE = "18FECA00#44FF64010105FFFF"
"""One active fault, laid out by SAE J1939-73 as public pages give it: amber lamp on, SPN 356, FMI 1, five times."""


def words_of(html: str, start: str = "<main") -> str:
    """Return the text of a part of the page."""
    part = (html.split(start, 1)[1] if start else html).split("</main>", 1)[0]
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", part)))


def say(client: TestClient, symptom: str, says: str, **more: str) -> str:
    """Say something of a symptom and return the page."""
    answer = client.post(f"{PAGE}/symptom", data={"symptom": symptom, "says": says, **more})
    assert answer.status_code == 303
    return client.get(PAGE).text


def step(client: TestClient, name: str, says: str, **more: str) -> str:
    """Say what came of a test or repair and return the page."""
    answer = client.post(f"{PAGE}/step", data={"step": name, "says": says, **more})
    assert answer.status_code == 303
    assert answer.headers["location"] == f"{PAGE}#next"
    return client.get(PAGE).text


def told(records: Records) -> dict[str, str]:
    """Return what is told of symptoms in the record, computed afresh."""
    return {one.id: one.says for one in view(records, "A2/2032-07-08").trouble.symptoms if one.says}


@pytest.fixture
def knocking(client: TestClient) -> str:
    """Return the page of an engine that knocks, runs hot, and does not misfire."""
    say(client, "s_knock", "present", note="since 23 July")
    say(client, "s_exh_hi_all", "present")
    return say(client, "s_misfire_random", "absent")


def test_before_anything_is_told_the_page_asks_for_it_and_believes_nothing(reader: TestClient) -> None:
    page = reader.get(PAGE)
    assert page.status_code == 200
    said = words_of(page.text)
    assert "Next: say what shows" in said
    assert "Something else, or more than one" in said
    assert 'id="moved"' not in page.text or "step, one by one" in said
    spine = page.text.split('class="spine"')[1].split("</nav>")[0]
    assert f'href="{PAGE}" aria-current="page"' in spine


def test_urgency_comes_first_and_the_decision_is_kept(client: TestClient, knocking: str) -> None:
    main = knocking.split("<main", 1)[1]
    assert main.index("first decide whether it runs on") < main.index('class="next step"') < main.index('id="causes"')
    assert "No protection is defeated" in words_of(knocking)
    client.post(f"{PAGE}/runs", data={"can_run": "no"})
    after = client.get(PAGE).text
    assert "it was decided that it does not run on" in after
    assert re.search(r'value="no" aria-pressed="true"', after)
    for one in re.findall(r'class="costline">(.*?)</p>', after, re.S):
        assert "the engine runs for it" not in one


def test_one_filled_block_says_cost_and_cautions_before_its_answers(client: TestClient) -> None:
    """Whatever stands next, its cautions stand in the block before its answers, each with what to do."""
    client.post(f"{PAGE}/runs", data={"can_run": "yes"})
    page = say(client, "s_vib", "present")
    seen = 0
    for _ in range(8):
        assert page.count('class="next step"') == 1
        block = unescape(page.split('class="next step"', 1)[1].split("</section>", 1)[0])
        name = re.search(r'name="step" value="(\w+)"', block)
        if name is None:
            break
        house = client.app.state.house  # type: ignore[attr-defined]
        known = house.view(view_id(client)).trouble.knowledge.step(name.group(1))
        assert "costline" in block
        for one in cautions_before(known):
            seen += 1
            assert block.index(one.hazard) < block.index('class="ans"')
            assert one.do[0] in block
        page = step(client, name.group(1), "negative" if name.group(1).startswith("t_") else "fails")
    assert seen


def view_id(client: TestClient) -> str:
    house = client.app.state.house  # type: ignore[attr-defined]
    found: str = house.visit("A2", "2032-07-08")[1].id
    return found


def test_causes_are_ranked_and_something_else_is_always_there(knocking: str) -> None:
    part = knocking.split('id="causes"', 1)[1].split("</section>", 1)[0]
    rows = re.findall(r'<div class="b"><span>([^<]+)</span>.*?<span class="p">([^<]+)</span>', part)
    named = [float(re.sub(r"\D", "", p)) for title, p in rows if "other" not in title and "else" not in title]
    assert named == sorted(named, reverse=True)
    assert any("Something else" in title for title, _ in rows)
    assert 'class="p-was"' in part, "the old value stands beside"
    assert "two steps ago" in words_of(part, "")


def test_the_fork_shows_both_answers_with_how_likely_each_is(knocking: str) -> None:
    fork = knocking.split('class="fork"', 1)[1].split("</figure>", 1)[0]
    chances = [int(one) for one in re.findall(r">(\d+) in 100 to happen<", fork.split("</svg>")[0])]
    assert len(chances) == 2
    assert 99 <= sum(chances) <= 101


def test_three_answers_are_kept_negative_ones_stay_listed_and_all_are_undone(
    records: Records, client: TestClient, knocking: str
) -> None:
    assert told(records) == {"s_knock": "present", "s_exh_hi_all": "present", "s_misfire_random": "absent"}
    row = knocking.split('id="s-s_misfire_random"', 1)[1].split("</li>", 1)[0]
    assert re.search(r'value="absent" aria-pressed="true"', row)
    assert row.count("<button") >= 4
    assert "since 23 July" in knocking
    again = say(client, "s_misfire_random", "not_judged")
    assert "since 23 July" in again, "an answer to one symptom leaves the note at another"
    say(client, "s_misfire_random", "not_told")
    assert "s_misfire_random" not in told(records)
    before = len(records.entries())
    entry = next(
        one.entry for one in view(records, "A2/2032-07-08").trouble.symptoms if one.id == "s_knock" and one.entry
    )
    assert client.post(f"{PAGE}/undo", data={"entry": entry, "back": "moved"}).status_code == 303
    assert "s_knock" not in told(records)
    assert len(records.entries()) == before + 1, "taking back adds a line and removes none"


def test_only_answers_of_this_visit_and_page_are_taken_back(records: Records, client: TestClient) -> None:
    look = next(one for one in records.entries() if one.kind == "look")
    assert client.post(f"{PAGE}/undo", data={"entry": look.id}).status_code == 404


def test_a_symptom_is_found_by_its_words_and_by_where_it_shows(reader: TestClient) -> None:
    page = reader.get(f"{PAGE}?find=knock").text
    part = page.split('id="another"', 1)[1].split("</section>", 1)[0]
    assert "Detonation" in part
    assert "oil pressure" not in part.lower().replace("find: knock, hot, oil", "")
    nothing = reader.get(f"{PAGE}?find=%3Cb%3E").text
    assert "<b>&rsquo;" not in nothing
    assert "0 symptoms" in words_of(nothing)


def test_what_a_finding_told_stands_with_its_link_and_a_contradiction_is_shown(client: TestClient) -> None:
    page = say(client, "s_knock", "present")
    heard = page.split('id="heard"', 1)[1].split("</section>", 1)[0]
    link = re.search(r'href="([^"]+findings#([A-Z]{2}-\d{2}))"', heard)
    assert link
    assert f'id="{link.group(2)}"' in client.get(link.group(1).split("#")[0]).text
    assert "t_load_calc" not in heard
    against = step(client, "t_load_calc", "positive")
    assert "does not agree" in words_of(against.split('id="heard"', 1)[1].split("</section>", 1)[0], "")


def test_tests_made_stay_with_what_came_of_them_and_those_barred_say_why(client: TestClient, knocking: str) -> None:
    page = step(client, "t_ask_operator", "positive", note="new well tied in", minutes="15")
    done = page.split('class="done"', 1)[1].split("</tr>", 1)[0]
    assert "new well tied in" in done
    client.post(f"{PAGE}/allowed", data={"can_run": "yes", "barred": "hot"})
    barred = client.get(PAGE).text
    assert "Not now, and why" in barred
    assert "not allowed now: hot" in barred
    assert "not be stopped" in words_of(barred)


def test_a_repair_that_failed_stays_and_one_that_cured_leads_to_closing(client: TestClient, knocking: str) -> None:
    failed = step(client, "r_gas_heavy", "fails")
    assert "still there" in words_of(failed.split('id="repairs"', 1)[1], "")
    cured = step(client, "r_rich_lean", "cured")
    assert "Next: close the case" in words_of(cured)
    closed = client.post(f"{PAGE}/close", data={"cause": "c_rich_lean", "confirmed": "cured", "part": "screw"})
    assert closed.headers["location"] == f"{PAGE}#closed"
    page = client.get(PAGE).text
    assert "Closed: Mixture" in words_of(page)
    assert 'class="next step"' not in page
    entry = re.search(r'id="closed".*?name="entry" value="([^"]+)"', page, re.S)
    assert entry
    client.post(f"{PAGE}/undo", data={"entry": entry.group(1)})
    assert "Next: close the case" in words_of(client.get(PAGE).text)


def test_a_case_without_a_cause_is_not_closed(records: Records, client: TestClient) -> None:
    step(client, "r_gas_heavy", "fails")
    before = len(records.entries(kind="trouble_closed"))
    answer = client.post(f"{PAGE}/close", data={"cause": "", "confirmed": "seen", "note": "gone"})
    assert answer.status_code == 422
    assert "Choose the cause" in words_of(answer.text, "")
    assert len(records.entries(kind="trouble_closed")) == before


def test_closed_cases_move_the_priors_are_shown_and_switched_off(records: Records, client: TestClient) -> None:
    """Another visit's closed case: what it moved stands with before and after, and is undone by one button."""
    say(client, "s_knock", "present")
    client.post(f"{PAGE}/close", data={"cause": "c_gas_heavy", "confirmed": "seen"})
    opened = client.post("/engines/A1/visits", data={"purpose": "knock"})
    there = f"{opened.headers['location'].split('#')[0]}/trouble"
    said = words_of(client.get(there).text.split('id="cases"', 1)[1], "")
    cases = re.search(r"(\d+) closed cases? in this home, (\d+) of them", said)
    assert cases
    moved = re.search(rf"heavier[^%]*? (\d+) of {cases.group(2)} ([\d.]+) % ([\d.]+) %", said)
    assert moved
    assert float(moved.group(3)) > float(moved.group(2)), "how common it is taken to be has grown"
    client.post(f"{there}/count", data={"count": "no"})
    left_out = client.get(there).text
    assert "They are left out" in left_out
    assert 'class="moved"' not in left_out
    client.post(f"{there}/count", data={"count": "yes"})
    assert moved.group(0) in words_of(client.get(there).text.split('id="cases"', 1)[1], "")


def test_a_cause_that_is_not_chosen_is_refused_and_what_was_typed_stays(client: TestClient, knocking: str) -> None:
    answer = client.post(f"{PAGE}/close", data={"cause": "c_gas_heavy", "confirmed": "hoped", "note": "felt so"})
    assert answer.status_code == 422
    assert "Not kept." in answer.text
    assert 'value="felt so"' in answer.text


def test_a_closed_visit_is_read_only(reader: TestClient) -> None:
    page = reader.get("/engines/A3/2032-03-15/trouble").text
    main = page.split("<main", 1)[1].split("</main>", 1)[0]
    assert {one.rsplit("/", 1)[1] for one in re.findall(r'action="([^"]+)"', main.split("<footer")[0])} <= {"count"}
    said = {"symptom": "s_knock", "says": "present"}
    assert reader.post("/engines/A3/2032-03-15/trouble/symptom", data=said).status_code == 409


def test_fault_codes_are_decoded_kept_and_taken_back(records: Records, client: TestClient) -> None:
    kept = client.post(f"{PAGE}/codes", data={"frames": ACTIVE, "source": "service port"})
    assert kept.status_code == 303
    page = client.get(f"{PAGE}/codes").text
    said = words_of(page)
    assert "SPN 356" in said
    assert "FMI 1" in said
    assert "5 times" in said
    assert "amber lamp on" in said.lower()
    assert "service port" in said
    assert "SPN 356" in words_of(client.get(PAGE).text.split('id="codes"', 1)[1], "")
    entry = [one for one in records.entries() if one.kind == "fault_codes"][-1]
    client.post(f"{PAGE}/undo", data={"entry": entry.id, "back": "read"})
    assert "SPN 356" not in client.get(f"{PAGE}/codes").text


def test_a_log_is_taken_as_a_file(client: TestClient) -> None:
    log = f"(1436509052.249713) can0 {ACTIVE}\n(1436509052.3) can0 18FEF200#FFFFFFFFFFFFFFFF\n"
    kept = client.post(f"{PAGE}/codes", files={"log": ("candump-2032.log", log.encode())}, data={"frames": ""})
    assert kept.status_code == 303
    assert "SPN 356" in client.get(f"{PAGE}/codes").text


def test_a_line_that_is_no_frame_is_named_with_what_to_do(client: TestClient) -> None:
    refused = client.post(f"{PAGE}/codes", data={"frames": f"{ACTIVE}\nfault 12 oil"})
    assert refused.status_code == 422
    assert "line 2" in words_of(refused.text)
    assert "fault 12 oil" in refused.text, "what was typed stays"
    assert 'aria-invalid="true"' in refused.text
    empty = client.post(f"{PAGE}/codes", data={"frames": ""})
    assert empty.status_code == 422
    assert "Paste them" in empty.text


def test_a_protection_found_off_becomes_a_finding(client: TestClient) -> None:
    client.post(f"{PAGE}/protection", data={"protection": "oil_pressure_low", "says": "off"})
    page = client.get(PAGE).text
    assert re.search(r'id="p-oil_pressure_low-off"[^>]*aria-pressed="true"', page)
    findings = client.get(f"{A2}/findings").text
    assert "TS-" in findings
    assert f'href="{PAGE}"' in findings.split("<main", 1)[1]


def test_programs_read_the_trouble_and_say_an_answer(client: TestClient) -> None:
    empty = client.get(API).json()
    assert empty["phase"] == "nothing_told"
    said = client.post(f"{API}/answers", json={"about": "s_knock", "says": "present"})
    assert said.status_code == 201
    body = said.json()
    assert body["urgent"] == ["s_knock"]
    assert sum(one["chance"] for one in body["causes"]) == pytest.approx(1.0)
    assert {one["about"] for one in body["told"]} >= {"s_knock"}
    tested = client.post(f"{API}/answers", json={"about": "t_gas_report", "says": "positive", "minutes": 12}).json()
    assert tested["causes"][0]["id"] == "c_gas_heavy"
    assert client.post(f"{API}/answers", json={"about": "s_knock", "says": "positive"}).status_code == 422
    assert client.post(f"{API}/answers", json={"about": "s_nothing", "says": "present"}).status_code == 404
    closed = client.post(f"{API}/close", json={"cause": "c_gas_heavy", "confirmed": "seen"}).json()
    assert closed["phase"] == "closed"
    codes = client.post(f"{API}/codes", json={"text": ACTIVE}).json()
    assert codes["fault_codes"][0]["messages"][0]["codes"][0]["spn"] == 356


def test_the_table_for_a_spreadsheet_holds_everything_told(client: TestClient, knocking: str) -> None:
    rows = client.get(f"{A2}/trouble.csv").text.splitlines()
    assert rows[0].startswith("what,id,title,says")
    assert any(one.startswith("symptom,s_knock,") and ",present," in one and "since 23 July" in one for one in rows)
    assert any(",absent," in one for one in rows)


def test_the_plan_is_that_of_the_room(client: TestClient, knocking: str) -> None:
    """The page decides nothing: its next step is the first of `decide` for the same belief."""
    trouble = client.app.state.house.view(view_id(client)).trouble  # type: ignore[attr-defined]
    assert trouble.decision is not None
    block = knocking.split('class="next step"', 1)[1].split("</section>", 1)[0]
    if trouble.decision.first.does != "call" and "decide whether" not in block:
        assert f'value="{trouble.decision.first.id}"' in block


def test_another_step_can_be_chosen_and_its_fork_and_cautions_are_shown(client: TestClient, knocking: str) -> None:
    client.post(f"{PAGE}/runs", data={"can_run": "yes"})
    link = re.findall(r'href="([^"]+\?step=(\w+)#next)"', client.get(PAGE).text)[-1]
    page = client.get(unescape(link[0])).text
    block = page.split('class="next step"', 1)[1].split("</section>", 1)[0]
    assert f'name="step" value="{link[1]}"' in block
    assert "The plan begins with" in block
    unknown = client.get(f"{PAGE}?step=t_nothing").text
    assert "The plan begins with" not in unknown


def test_the_page_stays_light(knocking: str) -> None:
    """All of it goes over the wire at each answer: a phone beside the engine waits for it."""
    assert len(knocking.encode()) < 300_000


def test_the_report_has_the_section_only_when_something_was_told(records: Records, client: TestClient) -> None:
    """Set as PDF/UA-1, which the typesetter refuses where a heading skips a level or a picture has no sentence."""
    assert paper(view(records, "A2/2032-07-08")) is None
    say(client, "s_knock", "present")
    step(client, "t_ask_operator", "positive", note="new well tied in")
    client.post(f"{PAGE}/codes", data={"frames": ACTIVE})
    client.post(f"{PAGE}/protection", data={"protection": "oil_pressure_low", "says": "bypassed"})
    seen = view(records, "A2/2032-07-08")
    section = paper(seen)
    assert section is not None
    assert {one["title"] for one in section["symptoms"]} == {"Detonation (knock) indicated or heard"}
    assert any("new well tied in" in one["aside"] for one in section["steps"])
    assert section["codes"][0]["rows"][0]["number"] == "SPN 356, FMI 1"
    assert section["protections"][0]["says"] == "Bypassed"
    assert section["next"] is not None
    assert visit_report(seen, proof=False).startswith(b"%PDF")
    client.post(f"{PAGE}/close", data={"cause": "other", "confirmed": "believed"})
    closed = paper(view(records, "A2/2032-07-08"))
    assert closed is not None
    assert closed["closed"]["how"] == "Believed, not proved"
    assert closed["next"] is None


def test_each_test_and_repair_of_the_lists_names_what_can_hurt(client: TestClient, knocking: str) -> None:
    assert knocking
    say(client, "s_misfire_one", "present")
    page = client.get(PAGE).text
    tests, repairs = page.split('id="tests"', 1)[1].split('id="repairs"', 1)
    assert "Mind: hot surfaces" in words_of(tests, "") or "noise, hot surfaces" in words_of(tests, "")
    coil = words_of(repairs, "").split("gnition coil")[1][:400]
    assert "isolation and locking" in coil
    assert "ignition voltage" in coil


def test_no_cause_leads_before_anything_was_told(reader: TestClient) -> None:
    causes = words_of(reader.get(PAGE).text.split('id="causes"', 1)[1].split("</section>")[0], "")
    assert "Nothing was told, so none leads" in causes
    assert "most believed" not in causes
