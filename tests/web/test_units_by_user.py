"""Units are a choice of who reads: on pages and papers, of one browser, before the home's; programs see none of it."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from asfound.language import Reader, reading_as
from asfound.records.store import Records
from asfound.records.unit_system import units_stamp
from asfound.records.visit import view
from asfound.report.content import report_content

A2 = "/engines/A2/2032-07-08"


def text_of(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


@pytest.mark.parametrize(
    ("chosen", "shown"),
    [
        ("units=si", "kPa"),
        ("units=bar", "bar"),
        ("units=us", "psi"),
        ("units=us; own_units=pressure:bar", "bar"),
        ("units=si; own_units=pressure:inhg", "inHg"),
    ],
)
def test_a_page_is_in_the_units_of_its_browser(reader: TestClient, chosen: str, shown: str) -> None:
    page = reader.get(f"{A2}/load", headers={"cookie": chosen}).text
    row = page[page.index("Intake manifold pressure") :][:6000]
    assert re.search(rf">\s*{shown}( g| abs|g|a)?\s*<", row), row[:600]


def test_two_readers_of_one_page_do_not_get_each_others_units(reader: TestClient) -> None:
    mine = {"cookie": "units=si; own_units=power:hp_metric"}
    first = text_of(reader.get(f"{A2}/load", headers=mine).text)
    other = text_of(reader.get(f"{A2}/load", headers={"cookie": "units=si"}).text)
    again = text_of(reader.get(f"{A2}/load", headers=mine).text)
    assert "hp(metric)" in first
    assert re.search(r"Engine power [\d,]+ kW", other) or " kW " in other
    assert re.sub(r"\d\d:\d\d", "", first) == re.sub(r"\d\d:\d\d", "", again)


def test_findings_are_worked_out_in_the_units_of_who_reads(reader: TestClient) -> None:
    address = f"{A2}/findings"
    si = text_of(reader.get(address, headers={"cookie": "units=si"}).text)
    us = text_of(reader.get(address, headers={"cookie": "units=us"}).text)
    assert "g/kWh" in si
    assert "g/hp-h" in us
    own = text_of(reader.get(address, headers={"cookie": "units=us; own_units=emission:g_kwh"}).text)
    assert "g/kWh" in own


@pytest.mark.parametrize("wrong", ["own_units=pressure:furlong", "units=imperial", "own_units=" + "x" * 900])
def test_a_cookie_that_holds_something_else_counts_as_none(reader: TestClient, wrong: str) -> None:
    answer = reader.get(f"{A2}/load", headers={"cookie": wrong})
    assert answer.status_code == 200
    assert "furlong" not in answer.text


def test_programs_get_the_same_whatever_a_browser_chose(reader: TestClient) -> None:
    chosen = {"cookie": "units=us; own_units=pressure:mbar.power:hp_metric"}
    for address in ("/api/quantities", "/api/engines", f"{A2}/readings.csv"):
        assert reader.get(address, headers=chosen).text == reader.get(address).text, address


def test_the_choice_is_kept_and_taken_back(client: TestClient) -> None:
    answer = client.post(
        "/settings", data={"units": "bar", "own_units:gas": "at_15", "own_units:power": ""}, follow_redirects=False
    )
    assert answer.status_code == 303
    cookies = answer.headers.get_list("set-cookie")
    assert any(one.startswith("units=bar") for one in cookies)
    assert any("own_units=" in one and "gas:at_15" in one for one in cookies)
    page = client.get("/settings").text
    assert re.search(r'value="at_15" selected', page)
    client.post("/settings", data={"units": "si", "own_units:gas": ""})
    assert not re.search(r'value="at_15" selected', client.get("/settings").text)
    refused = client.post("/settings", data={"own_units:gas": "barrels"})
    assert refused.status_code == 422


def test_a_paper_is_in_the_units_of_its_reader(demo: Path) -> None:
    records = Records.open(demo)
    one = next(one for one in records.visits() if one.name.startswith("A2"))
    said = {}
    for reads in (Reader(units="si"), Reader(units="bar"), Reader(units="us", own_units="pressure:mbar")):
        with reading_as(reads):
            content = report_content(view(records, one.id), proof=False)
            said[units_stamp(records)] = json.dumps(
                {name: part for name, part in content.items() if name != "readings"}, ensure_ascii=False
            )
    si, in_bar, own = said.values()
    assert "g/kWh" in si
    assert "psia" not in si
    assert "bar abs" in in_bar or "bar g" in in_bar
    assert "mbar" in own
    assert "g/hp-h" in own
