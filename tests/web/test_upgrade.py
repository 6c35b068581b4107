"""Upgrade gap and money: page, choice kept with its assumptions, what cannot be, PDF, data, command."""

from __future__ import annotations

import io
import re

import pytest
from playwright.sync_api import Browser, expect
from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.records.upgrade_of_engine import keep_plan, upgrade_of

A1 = "/engines/A1/due/upgrade"
VISIT = "/engines/A1/2032-05-03/due/upgrade"


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


def test_targets_stand_in_one_table_and_one_in_full(reader: TestClient) -> None:
    said = text_of(reader.get(A1).text)
    for words in (
        "Vorunice, spark rails left on their odd brackets",
        "33,580",
        "Look first: Temperature inputs",
        "Knock sensor at each cylinder",
        "no way costs less than",
        "Documents that no longer hold",
        "Skills that are wanted",
        "over 8 years at the best values",
        "Every number that the sum rests on",
        "Safety: a condition, not a sum.",
    ):
        assert words in said, words


def test_another_target_is_looked_at_without_being_chosen(reader: TestClient) -> None:
    said = text_of(reader.get(f"{A1}?target=in_order").text)
    assert "The assumptions were written for another target." in said
    assert "The way to Bramquell with the Yarnolt set, put in order" in said


def test_where_no_target_can_be_reached_that_is_said_first(reader: TestClient) -> None:
    """A2 wears another build than the one from which the changes of the file start."""
    said = text_of(reader.get("/engines/A2/due/upgrade").text)
    assert "no target of this file can be reached" in said
    assert said.index("no target of this file") < said.index("No way.")
    assert "square or square, beside the dome" in said
    assert "no target of this file" not in text_of(reader.get(A1).text)


def test_an_engine_that_no_file_is_about_says_so(reader: TestClient) -> None:
    said = text_of(reader.get("/engines/N1/due/upgrade").text)
    assert "No study can be drawn up." in said
    assert "upgrade.yaml" in said
    assert reader.get("/engines/N1/due/upgrade.pdf").status_code == 409


def test_no_way_names_the_rules_that_bar_it(reader: TestClient) -> None:
    said = text_of(reader.get("/engines/A2/2032-07-08/due/upgrade?target=full").text)
    assert "No way to Vorunice, whole" in said


def test_a_choice_is_kept_and_moves_the_sum(client: TestClient, records: Records) -> None:
    before = upgrade_of(records, records.engine("A1"))
    assert before.inputs is not None
    assert before.case is not None
    form = {f"a:{one.name}": f"{one.best:g}" for one in before.inputs.assumptions}
    form |= {"target": "full", "a:fuel_price": "7,5", "why": "new contract", "add": "residual", "add_value": "1000"}
    assert client.post(A1, data=form).status_code == 303
    entry = records.entries(kind="upgrade_plan")[-1]
    assert entry.content["target"] == "full"
    kept = dict(entry.content["assumptions"])
    assert kept["fuel_price"] == 7.5
    assert kept["residual"] == 1000.0
    assert "power" not in kept, "what was not changed follows the file"
    said = text_of(client.get(A1).text)
    assert "Chosen: new contract" in said
    assert "The way to Vorunice, whole" in said


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"target": "full", "a:efficiency_now": "3"}, "efficiency_now"),
        ({"target": "full", "a:efficiency_now": "much"}, "efficiency_now"),
        ({"target": "moon"}, "moon"),
    ],
)
def test_what_cannot_be_is_said(client: TestClient, records: Records, form: dict[str, str], says: str) -> None:
    number = len(records.entries(kind="upgrade_plan"))
    answer = client.post(A1, data=form)
    assert answer.status_code == 422
    assert says in answer.text
    assert len(records.entries(kind="upgrade_plan")) == number


def test_pages_of_a_visit_and_data_for_programs(reader: TestClient) -> None:
    page = reader.get(VISIT).text
    assert "Upgrade gap and money" in page
    assert "Choose this target" not in page, "the visit is closed"
    data = reader.get("/api/engines/A1/upgrade").json()
    assert data["chosen"] == "full_odd_brackets"
    assert data["study"]["targets"][0]["id"] == "in_order"
    assert data["case"]["spread"]["draws"] == 10_000


def test_one_page_for_the_manager(reader: TestClient) -> None:
    from pypdf import PdfReader

    pdf = PdfReader(io.BytesIO(reader.get(f"{A1}.pdf").content))
    assert len(pdf.pages) == 1
    assert pdf.trailer["/Root"]["/MarkInfo"]["/Marked"]
    said = re.sub(r"\s+", " ", pdf.pages[0].extract_text())
    for words in ("Targets compared", "Assumptions", "Not given, so counted as none", "Turns round alone", "33,580"):
        assert words in said, words


def test_the_program_keeps_a_plan_for_an_unknown_engine_file_out(records: Records) -> None:
    with pytest.raises(Exception, match="cannot be chosen"):
        keep_plan(records, records.engine("N1"), "full", {}, who="tester")


@pytest.mark.browser
def test_without_script_a_person_chooses_a_target(browser: Browser, address: str) -> None:
    context = browser.new_context(base_url=address, java_script_enabled=False, viewport={"width": 390, "height": 844})
    page = context.new_page()
    page.goto(A1)
    page.locator("#a-margin").fill("200")
    page.get_by_role("button", name="Choose this target with these values").click()
    expect(page.locator("#a-margin")).to_have_value("200")
    page.wait_for_load_state("load")
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth") is True
    context.close()
