"""The page of what-if: an answer of full size, the question in its address, bounds beside the field, what lacks."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser
from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.records.visit import view

from .conftest import A2

PAGE = f"{A2}/whatif"
API = "/api/visits/A2/2032-07-08/what-if"
ASKED = f"{PAGE}?state=as_found&mixture=1.74"


def words_of(html: str) -> str:
    """Return the text of a page's main part."""
    main = html.split("<main", 1)[1].split("</main>", 1)[0]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", main))


def test_without_a_question_the_model_stands_beside_the_readings(reader: TestClient) -> None:
    page = reader.get(f"{PAGE}?state=as_found")
    said = words_of(page.text)
    assert "The model agrees with the engine as found" in said
    assert "Change a part of the setting" in said
    for title in ("Power", "Fuel flow", "Exhaust temperature at the ports", "NOx, dry", "Oxygen, dry"):
        assert title in said
    assert "What such a model can and cannot say" in said
    assert "Nothing here moves a setting" in said
    assert "Misfire" in said
    assert "a factor of 2 to 3" in said


def test_the_answer_is_a_sentence_with_its_numbers_permit_and_knock(reader: TestClient) -> None:
    page = reader.get(ASKED)
    said = words_of(page.text)
    assert re.search(r'class="read2">NOx falls by \d+ % \(\d+ to \d+\); the permit is kept', page.text)
    assert "Mixture, lambda 1.74" in said
    assert "power held as read" in said
    assert "fewer than 1 in 1,000" in said
    assert "the build needs 70" in said
    assert "CO per energy" in said, "a limit that the model says nothing of is named"
    assert "Take it" in said, "a reading that would narrow the answer leads to its field"
    assert page.text.count("<svg") > 9


def test_the_question_stands_in_the_fields_and_in_both_units(reader: TestClient) -> None:
    text = reader.get(f"{PAGE}?state=as_found&charge=140+%C2%B0F&timing=by+-2").text
    assert 'value="140 °F"' in text
    assert 'value="by -2"' in text
    said = words_of(text)
    assert "140 °F (60" in said
    assert "16.5 deg" in said


def test_beyond_the_bounds_the_range_stands_beside_the_field_and_nothing_typed_is_lost(reader: TestClient) -> None:
    page = reader.get(f"{PAGE}?state=as_found&timing=60&mixture=lots")
    assert page.status_code == 200
    assert 'value="60"' in page.text
    assert 'value="lots"' in page.text
    assert page.text.count('aria-invalid="true"') == 2
    said = words_of(page.text)
    assert "Allowed: 10.5 to 26.5 deg" in said
    assert "does not begin with a number" in said


def test_a_missing_reading_is_named_and_leads_to_its_field(reader: TestClient) -> None:
    page = reader.get("/engines/A3/2032-06-28/whatif")
    said = words_of(page.text)
    assert "the model cannot be fitted yet" in said
    assert "Ignition timing" in said
    assert "usual values can stand for the gas and intake manifold temperature" in said
    assert "/engines/A3/2032-06-28/load" in page.text
    assert "What such a model can and cannot say" in said


def test_behind_a_catalyst_the_permit_is_not_judged(reader: TestClient) -> None:
    said = words_of(reader.get("/engines/D1/2032-06-20/whatif?timing=18").text)
    assert "NOx was read behind a catalyst" in said


def test_another_gas_of_the_record_and_a_share_of_methane(reader: TestClient) -> None:
    text = reader.get(f"{PAGE}?state=as_found").text
    name = re.search(r'<option value="(A\d/[0-9-]+)"', text)
    assert name is not None
    other = words_of(reader.get(f"{PAGE}?state=as_found&gas={name[1]}&timing=18").text)
    assert "gas: A" in other
    said = words_of(reader.get(f"{PAGE}?state=as_found&gas=methane&methane=98").text)
    assert "gas: methane 98 %" in said


def test_a_wanted_change_is_traced_back(reader: TestClient) -> None:
    page = reader.get(f"{PAGE}?state=as_found&back=nox&to=70+%25")
    said = words_of(page.text)
    assert "NOx, dry to 70 %" in said
    assert page.text.count("Ask this") == 3
    refused = words_of(reader.get(f"{PAGE}?state=as_found&back=knock&to=3+bar").text)
    assert "knock 80 %" in refused


def test_a_question_is_kept_as_proposed_and_taken_back(client: TestClient, records: Records) -> None:
    kept = client.post(f"{PAGE}/keep", data={"state": "as_found", "timing": "by -2", "why": "for the permit"})
    assert kept.status_code == 303
    entry = [one for one in view(records, "A2/2032-07-08").entries if one.kind == "proposed_setting"][-1]
    assert entry.content["changes"]["timing"]["value"] == pytest.approx(0.28798, abs=1e-4)
    assert entry.content["changes"]["timing"]["as_typed"] == "16.5 deg"
    page = client.get(kept.headers["location"]).text
    assert "for the permit" in page
    assert "16.5 deg" in page
    assert client.post(f"{PAGE}/undo", data={"entry": entry.id}).status_code == 303
    left = view(records, "A2/2032-07-08").entries
    assert entry.id not in [one.id for one in left]


def test_nothing_is_kept_beyond_the_bounds(client: TestClient, records: Records) -> None:
    before = len(view(records, "A2/2032-07-08").entries)
    assert client.post(f"{PAGE}/keep", data={"state": "as_found", "timing": "60"}).status_code in (400, 422)
    assert len(view(records, "A2/2032-07-08").entries) == before


def test_programs_get_plain_data_in_si(reader: TestClient) -> None:
    data = reader.get(f"{API}?mixture=1.74&map=yes").json()
    assert data["modelled"]
    assert data["asked"] == {"mixture": 1.74}
    low, middle, high = data["numbers"]["nox_dry"]["then"]
    assert 0.0 < low < middle < high < data["numbers"]["nox_dry"]["now"][1]
    assert data["permit"][0]["chance_beyond_then"] <= data["permit"][0]["chance_beyond_now"]
    assert len(data["map"]["nox_dry"]) == 7
    refused = reader.get(f"{API}?timing=60")
    assert refused.status_code in (400, 422)
    assert "10.5 to 26.5 deg" in refused.text


def test_a_part_of_the_page_has_few_draws_while_a_slider_moves_and_says_so(reader: TestClient) -> None:
    part = reader.get(f"{ASKED}&draws=few", headers={"X-Asfound-Part": "1"}).text
    assert "40 draws, a first answer while the slider moves" in part
    assert "wi-map" not in part
    whole = reader.get(ASKED, headers={"X-Asfound-Part": "1"}).text
    assert "200 draws" in whole
    assert "wi-map" in whole


@pytest.mark.browser
def test_a_slider_asks_at_once_and_the_question_goes_into_the_address(browser: Browser, reading_address: str) -> None:
    page = browser.new_page(base_url=reading_address)
    faults: list[str] = []
    page.on("pageerror", lambda fault: faults.append(str(fault)))
    page.goto(f"{PAGE}?state=as_found")
    slider = page.locator("#s-mixture")
    slider.focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.wait_for_selector(".read2:has-text('NOx falls')", timeout=20000)
    page.wait_for_url("**mixture=1.7*", timeout=20000)
    assert float(page.input_value("#f-mixture")) == 1.7
    page.fill("#f-timing", "60")
    page.locator("#f-timing").blur()
    page.wait_for_selector("#e-timing", timeout=20000)
    assert page.get_attribute("#f-timing", "aria-invalid") == "true"
    assert page.input_value("#f-timing") == "60"
    assert faults == []
    page.close()


def test_a_hotter_day_can_be_asked_with_less_power(reader: TestClient) -> None:
    """80 % of the power at 40 °C: one question; a day that no cooler was found on is refused beside its field."""
    page = reader.get(f"{PAGE}?state=as_found&power=80+%25&air=104+%C2%B0F")
    assert page.status_code == 200
    assert "Air outside 104 °F; power 1,388 hp" in words_of(page.text)
    refused = words_of(reader.get(f"{PAGE}?state=as_found&air=160+%C2%B0F").text)
    assert "beyond what the model may be asked: cooler and radiator were found on a day of their own" in refused


def test_the_indicator_diagram_stands_on_plain_axes_and_on_logarithms_without_script(reader: TestClient) -> None:
    plain, logs = (reader.get(f"{ASKED}{more}").text for more in ("", "&axes=log"))
    for text in (plain, logs):
        assert "Indicator diagram" in text
        assert "volume of one cylinder, cubic inches" in text
        assert "gas exchange simplified" in text
        for line in ("as found", "as left", "proposed"):
            assert line in text
    assert "both as logarithms" in logs
    assert "both as logarithms" not in plain
    assert "axes=log#pv" in plain


def test_an_optimum_keeps_the_limits_that_are_typed_and_says_which(reader: TestClient) -> None:
    said = words_of(reader.get(f"{PAGE}?state=as_found&most_exhaust=1100+F&most_knock=1.1&most_peak=2400+psia").text)
    assert "keep the permit, exhaust temperature, peak pressure and nearness to knock" in said or (
        "keeps the permit, exhaust temperature, peak pressure and nearness to knock" in said
    )
    none = words_of(reader.get(f"{PAGE}?state=as_found&most_exhaust=700+F").text)
    assert "No setting of this map keeps" in none
    for bad in ("most_exhaust=soon", "most_knock=9", "most_peak=12+kg"):
        page = reader.get(f"{PAGE}?state=as_found&{bad}")
        assert page.status_code == 200
        assert 'class="err"' in page.text


def test_what_the_model_was_fitted_to_is_said_and_can_be_chosen(reader: TestClient) -> None:
    both, alone = (words_of(reader.get(f"{PAGE}?state=as_found{more}").text) for more in ("", "&fit=alone"))
    assert "Fitted to what was read as found, and as left." in both
    assert "Fitted to what was read as found." in alone
    assert "is not confirmed by it" in both
    data = reader.get(f"{API}?state=as_found&fit=all&rates=hanson_salimian_1984").json()
    assert data["rates"] == "hanson_salimian_1984"
    assert len(data["fitted_to"]) >= 2
    for path in (API, PAGE):
        assert 400 <= reader.get(f"{path}?state=as_found&fit=never").status_code < 500


def test_the_other_state_stands_in_the_table_by_the_model_where_it_was_not_read(reader: TestClient) -> None:
    data = words_of(reader.get(f"{PAGE}?state=as_found").text)
    assert data.count("by the model") >= 3  # exhaust temperature as left, peak pressures of both


@pytest.mark.parametrize(
    ("name", "value", "place", "says"),
    [
        ("manifold_pressure", 9e6, "engine", "is none that the model can be asked at"),
        ("engine_speed", 0.0, "engine", "is none that the model can be asked at"),
        ("exhaust_oxygen_dry", 0.205, "stack", "is none that the model can be asked at"),
        ("ignition_timing", 1.57, "engine", "is none that the model can be asked at"),
        ("compression_ratio", 1.0, "engine", "is none of a gas engine"),
        ("exhaust_nox_dry", 0.0, "stack", "The model agrees with the engine"),
        ("engine_power", 0.0, "engine", "What if"),
    ],
)
def test_an_absurd_reading_is_told_and_breaks_no_page(
    client: TestClient, records: Records, name: str, value: float, place: str, says: str
) -> None:
    engine = next(one for one in records.engines() if one.tag == "A2")
    content = {"quantity": name, "place": place, "state": "as_found", "time": "2032-07-08T23:30:00Z",
               "as_typed": f"{value:g}", "value": value}  # fmt: skip
    records.append("reading", content, visit=records.visits(engine.id)[-1].id, who="tester")
    for path in (f"{PAGE}?state=as_found&fit=alone", f"{API}?state=as_found&fit=alone"):
        assert client.get(path).status_code < 500
    page = client.get(f"{PAGE}?state=as_found&fit=alone")
    assert page.status_code == 200
    assert says in words_of(page.text)


@pytest.mark.parametrize(
    "typed",
    [
        "timing=1e308",
        "timing=nan",
        "timing=-inf",
        "mixture=0",
        "mixture=%00",
        "power=0",
        "power=0+%25",
        "charge=-300",
        "humidity=1000",
        "gas=nothing",
        "gas=methane+200+%25",
        "methane=0",
        "back=knock&to=nine",
        "back=nox&to=-5+%25",
        "axes=polar",
        "rates=none",
        "fit=2032",
        "most_knock=1e9",
        "most_peak=nan",
        "mixture=" + "9" * 500,
        "state=both",
    ],
)
def test_hostile_questions_are_answered_in_words(reader: TestClient, typed: str) -> None:
    for path in (f"{PAGE}?state=as_found&{typed}", f"{API}?state=as_found&{typed}"):
        answer = reader.get(path)
        assert answer.status_code < 500, path
        assert "Traceback" not in answer.text


def test_the_number_now_has_the_chance_that_the_exhaust_page_gives_it(reader: TestClient) -> None:
    """Two pages, one number: 0.944 g/hp-h and 6 in 100 to be over, not what some hundred draws make of it."""
    assert "6 in 100" in reader.get(f"{A2}/exhaust").text
    page = " ".join(reader.get(f"{A2}/whatif?state=as_found").text.split())
    assert "As found 0.944 g/hp-h, 0.878 to 1.016: 6 in 100 to be beyond it." in page
