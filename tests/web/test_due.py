"""The page of what is due: by its client, in Chromium, without script; its forms, files and door for programs."""

from __future__ import annotations

import re

import pytest
from icalendar import Calendar
from playwright.sync_api import Browser, Page, expect
from starlette.testclient import TestClient

from asfound.records.store import Records

from .conftest import A2

D1, N1 = "/engines/D1/due", "/engines/N1/due"
PHONE = {"width": 390, "height": 844}


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_the_page_says_what_presses_and_what_a_stop_serves(reader: TestClient) -> None:
    said = text_of(reader.get(D1).text)
    for words in (
        "Next: stop now for oil and filter",
        "A second sample before the stop confirms it.",
        "by condition: acid number 4.1, limit 3.7 mg KOH/g",
        "Stop 1: now",
        "Serves 6 tasks",
        "cylinder head set",
        "Confirm by a second sample",
        "it has bent towards it",
        "the rules of the site, its permit and the law of the place come first",
    ):
        assert words in said, words


def test_an_exchanged_meter_is_told(reader: TestClient) -> None:
    said = text_of(reader.get(N1).text)
    assert "exchanged 4 December 2030 at 41,230 h, new one from 0 h" in said
    assert "49,502 h" in said


def test_the_page_of_a_visit_and_of_its_engine_say_the_same(reader: TestClient) -> None:
    of_visit, of_engine = reader.get(f"{A2}/due"), reader.get("/engines/A2/due")
    assert of_visit.status_code == of_engine.status_code == 200
    for one in ("stop on 24 July for oil and filter", "41,873 h"):
        assert one in text_of(of_visit.text)
        assert one in text_of(of_engine.text)
    assert 'href="/engines/A2/2032-07-08/due" aria-current="page"' in of_visit.text


def test_a_closed_visit_shows_its_own_day_and_no_forms(reader: TestClient) -> None:
    page = reader.get("/engines/D1/2032-06-20/due").text
    assert "20 June 2032" in page
    assert "/due/done" not in page
    assert "Take back" not in page


def test_an_engine_without_hours_says_what_is_needed(client: TestClient, records: Records) -> None:
    records.append("engine", {"tag": "X9"}, who="tester")
    said = text_of(client.get("/engines/X9/due").text)
    assert "Next: read the hour meter" in said
    assert "No sample of the oil is on the record" in said


def test_work_said_as_done_moves_the_list_and_can_be_taken_back(client: TestClient, records: Records) -> None:
    answer = client.post(f"{D1}/done", data={"task": "oil_change", "hours": "24 290", "note": "<b>drained</b>"})
    assert answer.status_code == 303
    page = client.get(D1).text
    assert "Next: stop now for oil and filter" not in page
    assert "&lt;b&gt;drained&lt;/b&gt;" in page
    entry = records.entries(kind="task_done")[-1]
    assert entry.visit is None
    assert client.post(f"{D1}/undo", data={"entry": entry.id}).status_code == 303
    assert "Next: stop now for oil and filter" in client.get(D1).text


def test_endless_numbers_are_refused_beside_their_field(client: TestClient) -> None:
    for field in ("grace_days", "hours", "sump"):
        answer = client.post(f"{D1}/plan", data={"task": "oil_change", field: "1e999", "why": "try"})
        assert answer.status_code == 422, field
        assert "is no number" in text_of(answer.text), field


def test_what_cannot_be_is_said_beside_its_field_and_not_kept(client: TestClient, records: Records) -> None:
    before = len(records.entries())
    for form, typed, words in (
        ("done", {"task": "zzz", "hours": "24290"}, "no task is called 'zzz'"),
        ("plan", {"task": "oil_change", "calendar": "P999999999Y", "why": "try"}, "P1D (a day) to P100Y"),
        ("plan", {"task": "oil_change", "calendar": "P0D", "why": "try"}, "is no interval of work"),
        ("plan", {"task": "oil_change", "calendar": "yearly", "why": "try"}, "as P1Y, P6M, P2W or P30D"),
        ("plan", {"task": "oil_change", "hours": "0.001", "why": "try"}, "1 h or more"),
        ("oil", {"acid_number": "-5", "hours_on_oil": "3"}, "0 to 100 mg KOH/g"),
        ("oil", {"water": "250", "hours_on_oil": "3"}, "0 to 100 % (volume)"),
        ("limit", {"property": "iron", "low": "50", "high": "3", "source": "me"}, "is not below the highest value"),
    ):
        answer = client.post(f"{D1}/{form}", data=typed)
        assert answer.status_code == 422, typed
        assert words in text_of(answer.text).replace("&#39;", "'"), typed
        assert 'class="err"' in answer.text, typed
    assert len(records.entries()) == before


def test_a_sample_typed_twice_is_one(client: TestClient, records: Records) -> None:
    typed = {"acid_number": "4.2", "hours_on_oil": "820", "hours": "24290"}
    assert client.post(f"{D1}/oil", data=typed).status_code == 303
    again = client.post(f"{D1}/oil", data=typed)
    assert again.status_code == 422
    assert "has the same entry already" in text_of(again.text)


def test_an_interval_beyond_the_calendar_from_elsewhere_leaves_the_page_open(
    client: TestClient, records: Records
) -> None:
    engine = records.engine("D1")
    wrong = {"task": "oil_change", "calendar": "P999999999Y"}
    records.append("upkeep_plan", wrong, engine=engine.id, who="elsewhere")
    page = client.get(D1)
    assert page.status_code == 200
    assert "is no interval of work" in text_of(page.text)


def test_what_needs_no_stop_is_said_in_whole_sentences(reader: TestClient) -> None:
    assert "Since 4 July. No stop is needed." in text_of(reader.get("/engines/A1/due").text)


def test_from_a_visit_the_entry_names_it(client: TestClient, records: Records) -> None:
    client.post(f"{A2}/due/done", data={"task": "oxygen_sensor", "hours": "41873"})
    entry = records.entries(kind="task_done")[-1]
    assert entry.content["visit"] == records.visit("A2").id


@pytest.mark.parametrize(
    ("form", "data", "says"),
    [
        ("done", {"task": "plugs", "hours": "23000"}, "The hour meter falls"),
        ("done", {"task": "plugs", "hours": ""}, "hours: &#39;&#39; is missing"),
        ("meter", {"last_of_old": "x"}, "last_of_old"),
        ("oil", {"hours_on_oil": "5"}, "Fill in at least one"),
        ("order", {"number": "1", "text": ""}, "text: &#39;&#39; is missing"),
        ("failure", {"text": "x", "date": "2099-01-01"}, "lies in the future"),
        ("plan", {"task": "plugs", "applies": "no"}, "Say why"),
        ("plan", {"task": "plugs", "hours": "100", "calendar": "yearly"}, "calendar"),
        ("limit", {"property": "iron", "source": "x"}, "Give a highest"),
    ],
)
def test_what_cannot_be_kept_stays_in_its_form(client: TestClient, form: str, data: dict[str, str], says: str) -> None:
    answer = client.post(f"{D1}/{form}", data=data)
    assert answer.status_code == 422
    assert says in answer.text
    assert f'id="say-{form}" open' in answer.text
    for value in data.values():
        assert value in answer.text


def test_nothing_of_another_engine_is_taken_back(client: TestClient, records: Records) -> None:
    entry = records.entries(records.engine("D1").id, kind="task_done")[-1]
    assert client.post(f"{N1}/undo", data={"entry": entry.id}).status_code == 404
    limit = records.entries(records.engine("D1").id, kind="limit")[-1]
    assert client.post(f"{D1}/undo", data={"entry": limit.id}).status_code == 404
    assert client.post(f"{D1}/nothing", data={}).status_code == 404


def test_files(reader: TestClient) -> None:
    pdf = reader.get(f"{D1}.pdf")
    assert pdf.headers["content-type"] == "application/pdf"
    assert pdf.content.startswith(b"%PDF")
    for path in (f"{D1}.ics", "/due.ics"):
        answer = reader.get(path)
        assert answer.headers["content-type"].startswith("text/calendar")
        assert Calendar.from_ical(answer.content).walk("VEVENT")
    assert reader.get("/due.ics?kind=other").status_code == 422
    assert reader.get(f"{D1}.csv").text.startswith("\ufeffengine,site,task")
    assert len(reader.get("/due.csv").text.splitlines()) > 100


def test_the_door_for_programs(client: TestClient) -> None:
    assert len(client.get("/api/due").json()) == 7
    before = client.get("/api/engines/D1/due").json()
    assert before["tasks"][0]["task"] == "oil_change"
    body = {"kind": "task_done", "fields": {"task": "oil_change", "hours": "24290"}}
    assert client.post("/api/engines/D1/upkeep", json=body).status_code == 201
    after = client.get("/api/engines/D1/due").json()
    assert after["tasks"][0]["task"] != "oil_change"
    wrong = {"kind": "task_done", "fields": {"task": "oil_change", "hours": "1"}}
    assert client.post("/api/engines/D1/upkeep", json=wrong).status_code == 422
    assert client.post("/api/engines/D1/upkeep", json={"kind": "note", "fields": {}}).status_code == 422


def test_the_home_page_has_stops_on_its_ruler(reader: TestClient) -> None:
    page = reader.get("/").text
    assert "stop: oil and filter and 5 more" in page
    assert "portable emission check" in page
    assert 'href="/engines/D1/due"' in page


# ---------------------------------------------------------------------- in a browser


@pytest.mark.browser
@pytest.mark.parametrize("script", [True, False])
def test_a_person_says_that_the_oil_was_changed(browser: Browser, address: str, script: bool) -> None:
    context = browser.new_context(
        base_url=address, viewport={"width": 1440, "height": 1000}, java_script_enabled=script
    )
    page: Page = context.new_page()
    page.goto("/")
    page.get_by_role("link", name=re.compile("What is due on D1")).click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Due and upgrade")
    expect(page.get_by_role("heading", name="Next: stop now for oil and filter")).to_be_visible()
    page.locator("#say-done > summary").click()
    form = page.locator("#say-done form")
    form.get_by_label("Task", exact=True).select_option("oil_change")
    form.get_by_label("Hours on the meter, h").fill("2429")
    form.get_by_role("button", name="Keep").click()
    expect(page.locator("#e-f-done-hours")).to_contain_text("The hour meter falls")
    page.locator("#f-done-hours").fill("24290")
    page.locator("#say-done form").get_by_role("button", name="Keep").click()
    expect(page.get_by_role("heading", name="Next: stop now for oil and filter")).to_have_count(0)
    expect(page.locator("#work")).to_contain_text("24,290 h")
    context.close()


@pytest.mark.browser
def test_nothing_runs_out_of_a_phone(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    for path in (D1, N1, f"{A2}/due"):
        page.goto(path)
        for one in page.locator("details").all():
            one.evaluate("node => { node.open = true }")
        assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth"), path
    context.close()
