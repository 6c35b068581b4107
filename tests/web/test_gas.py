"""A gas analysis on the page: pasted or a file, seen as understood, kept as one, put right, taken back; a new well."""

from __future__ import annotations

import html
import io
import re
import zipfile

import pytest
from playwright.sync_api import Browser
from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.records.visit import view

from .conftest import A2
from .test_accessibility import axe_script, violations

GAS, MIX = f"{A2}/gas", f"{A2}/gas/mix"
REPORT = """Component              Mol %
Methane               88.20
Ethane                 6.60
Propane                2.55
n-Butane               0.60
Hexanes +              0.05
Nitrogen               1.10
Carbon Dioxide         0.90
"""
SPLIT = {"heavier": "60/30/10"}


@pytest.fixture
def as_left(client: TestClient) -> TestClient:
    """Write into the column as left, where the demo has no analysis yet."""
    client.post(f"{A2}/column", data={"column": "as_left", "back": GAS})
    return client


def understood(page: str) -> list[tuple[str, ...]]:
    """Return the rows of the table: line, understood as, amount."""
    table = re.search(r'<table class="understood">.*?</table>', page, re.S)
    assert table
    rows = re.findall(r"<tr><td.*?</tr>", table.group(0), re.S)
    cells = [re.findall(r"<t[dh][^>]*>(.*?)</t[dh]>", row, re.S) for row in rows]
    return [tuple(html.unescape(re.sub(r"<[^>]+>", " ", cell)).strip() for cell in row) for row in cells]


def keys_left(records: Records) -> dict[str, float | None]:
    return {key: one.value for key, one in view(records, records.visit("A2").id).readings.items()}


def test_the_page_is_reached_from_the_gas(reader: TestClient) -> None:
    assert f'href="{GAS}"' in reader.get(f"{A2}/fuel").text
    page = reader.get(GAS)
    assert page.status_code == 200
    assert "laboratory, sample of 2 May (gas G1)" in page.text  # whose analysis lies there now


def test_what_the_report_leaves_open_is_asked_and_nothing_is_kept(client: TestClient, records: Records) -> None:
    before = len(records.entries())
    answer = client.post(GAS, data={"text": REPORT.replace("Mol %", ""), "do": "keep"})
    assert answer.status_code == 422
    assert "mole, volume or mass" in answer.text
    answer = client.post(GAS, data={"text": REPORT, "do": "keep"})
    assert "split is not stated" in answer.text
    assert len(records.entries()) == before
    assert "Methane               88.20" in html.unescape(answer.text)  # what was typed is still there


def test_each_line_is_shown_as_it_was_understood(client: TestClient) -> None:
    page = client.post(GAS, data={"text": REPORT + "Unobtainium 0.1\n", "do": "read", **SPLIT})
    assert page.status_code == 422
    rows = understood(page.text)
    assert rows[0][:3] == ("2", "methane (CH4)", "88.2 %")
    assert "refused" in rows[-1][1]
    assert "Unobtainium" in rows[-1][3]
    assert 'value="keep"' not in page.text
    page = client.post(GAS, data={"text": REPORT, "do": "read", **SPLIT})
    assert page.status_code == 200
    assert 'value="keep"' in page.text
    assert "Methane number" in page.text
    assert "heptane" in page.text  # what a visit counts as what


def test_an_analysis_is_kept_as_one_and_taken_back_as_one(as_left: TestClient, records: Records) -> None:
    data = {"text": REPORT, "do": "keep", "sampled": "2032-07-01", "laboratory": "Ashgrebe", "report": "4812", **SPLIT}
    answer = as_left.post(GAS, data=data)
    assert (answer.status_code, answer.headers["location"]) == (303, f"{A2}/fuel")
    for path in ("", "/fuel", "/exhaust", "/findings", "/report"):  # a file among the photos, a mean carbon number
        assert as_left.get(A2 + path).status_code == 200, path
    kept = keys_left(records)
    assert kept["as_left/fuel/fuel_methane"] == pytest.approx(0.882)
    assert kept["as_left/fuel/fuel_analysis_age"] == pytest.approx(7 * 86_400)
    assert kept["as_left/fuel/fuel_isobutane"] == 0.0  # the gas as found had it
    assert kept["as_found/fuel/fuel_methane"] == pytest.approx(0.912)
    page = as_left.get(GAS).text
    assert "Ashgrebe, report 4812, sampled 2032-07-01" in page
    paper = re.search(r'href="(/photos/[0-9a-f]{64})">gas_analysis.txt', page)
    assert paper
    assert as_left.get(paper.group(1)).text.splitlines()[0].startswith("Component")
    right = as_left.post(GAS, data=data | {"text": REPORT.replace("88.20", "88.00"), "correct": "yes", "scale": "yes"})
    assert right.status_code == 303
    assert keys_left(records)["as_left/fuel/fuel_methane"] == pytest.approx(0.88 / 0.998)
    for _ in range(2):  # the correction, then what it put right
        assert as_left.post(f"{GAS}/undo", data={"state": "as_left"}).status_code == 303
    assert "as_left/fuel/fuel_methane" not in keys_left(records)
    assert as_left.post(f"{GAS}/undo", data={"state": "as_left"}).status_code == 422
    assert as_left.post(f"{GAS}/undo", data={"state": "elsewhere"}).status_code == 422


def test_a_file_is_read_and_both_it_and_its_text_are_kept(as_left: TestClient, records: Records) -> None:
    content = REPORT.replace("  ", ";").encode()
    first = as_left.post(GAS, data={"do": "read", **SPLIT}, files={"file": ("r.csv", content, "text/csv")})
    assert first.status_code == 200
    hidden = dict(re.findall(r'<input type="hidden" name="(filename|digest)" value="([^"]*)"', first.text))
    assert hidden["filename"] == "r.csv"
    area = re.search(r"<textarea[^>]*>(.*?)</textarea>", first.text, re.S)
    assert area
    text = html.unescape(area.group(1))
    answer = as_left.post(GAS, data={"text": text, "do": "keep", **hidden, **SPLIT})
    assert answer.status_code == 303
    papers = [one.content for one in records.entries(kind="photo") if one.content.get("place") == "fuel"]
    assert [one["filename"] for one in papers] == ["r.csv", "gas_analysis.txt"]
    assert records.attachment(papers[0]["digest"]) == content


def test_files_that_are_none_are_refused(client: TestClient, records: Records) -> None:
    before = len(records.entries())
    broken = io.BytesIO()
    with zipfile.ZipFile(broken, "w") as made:
        made.writestr("nothing.xml", "<a/>")
    for name, content in (("a.xlsx", b"PK"), ("b.xlsx", broken.getvalue()), ("c.csv", b""), ("d.txt", b"\xff\x00")):
        answer = client.post(GAS, data={"do": "keep"}, files={"file": (name, content, "application/octet-stream")})
        assert answer.status_code == 422, name
    assert client.post(GAS, data={"text": "x" * 100_001, "do": "read"}).status_code == 422
    assert client.post(GAS, data={"text": REPORT, "sampled": "soon", "do": "read"}).status_code == 422
    assert client.post(GAS, data={"text": REPORT, "digest": "0" * 64, "do": "keep", **SPLIT}).status_code in (404, 422)
    assert len(records.entries()) == before


def test_what_is_pasted_is_shown_as_text(client: TestClient) -> None:
    answer = client.post(GAS, data={"text": "<script>alert(1)</script> 5\n" + REPORT, "do": "read", **SPLIT})
    assert "<script>alert(1)" not in answer.text


def test_a_closed_visit_shows_its_gas_and_takes_none(client: TestClient) -> None:
    page = client.get("/engines/A1/2032-05-03/gas")
    assert page.status_code == 200
    assert "<textarea" not in page.text
    answer = client.post("/engines/A1/2032-05-03/gas", data={"text": REPORT, "do": "keep", **SPLIT})
    assert answer.status_code >= 400


def test_a_new_well_share_by_share_and_its_mixture_kept(as_left: TestClient, records: Records) -> None:
    assert as_left.get(MIX).status_code == 200
    data = {"text": REPORT, "least": "72", "wobbe": "", "share": "25", "name": "well 7", **SPLIT}
    page = as_left.post(MIX, data=data | {"do": "show"})
    assert page.status_code == 200
    assert re.search(r"Up to \d+ % of the second source may come", page.text)
    assert page.text.count('<th scope="row" class="r">') == 11
    assert as_left.post(MIX, data=data | {"do": "keep"}).status_code == 303
    assert keys_left(records)["as_left/fuel/fuel_methane"] == pytest.approx(0.75 * 0.912 + 0.25 * 0.882, abs=2e-4)
    assert as_left.post(MIX, data=data | {"share": "250"}).status_code == 422
    assert as_left.post(MIX, data=data | {"text": "Methane 5"}).status_code == 422
    assert as_left.post(MIX, data=data | {"least": "many"}).status_code == 422


def test_the_http_door_understands_and_keeps(client: TestClient, records: Records) -> None:
    body = {"text": REPORT + "Unobtainium 0.1\n", "heavier": "60/30/10"}
    answer = client.post("/api/gas", json=body)
    assert answer.status_code == 200
    assert answer.json()["gas"] is None
    assert [one["kind"] for one in answer.json()["lines"]].count("refused") == 1
    found = client.post("/api/gas", json=body | {"leave_refused": True}).json()
    assert found["gas"]["components"]["methane"]["fraction"] == pytest.approx(0.882)
    assert {one["name"] for one in found["properties"]} >= {"wobbe_gross", "methane_number"}
    before = len(records.entries())
    where = "/api/visits/A2/2032-07-08/gas"
    assert client.post(where, json=body | {"state": "as_left"}).status_code == 422
    assert client.post("/api/gas", json=body | {"volume_at": "the moon"}).status_code == 422
    assert client.post("/api/gas", json=body | {"sampled": "2032-06-31"}).status_code == 422
    assert len(records.entries()) == before
    kept = client.post(where, json=body | {"state": "as_left", "leave_refused": True, "sampled": "2032-07-01"})
    assert kept.status_code == 201
    assert keys_left(records)["as_left/fuel/fuel_methane"] == pytest.approx(0.882)
    assert keys_left(records)["as_left/fuel/fuel_hexanes_plus_carbon"] == pytest.approx(6.5)


@pytest.mark.browser
def test_axe_finds_nothing(browser: Browser, reading_address: str) -> None:
    for width in (1440, 390):
        context = browser.new_context(
            base_url=reading_address, viewport={"width": width, "height": 900}, bypass_csp=True
        )
        page, script = context.new_page(), axe_script()
        found = [one for path in (GAS, MIX, "/engines/A1/2032-05-03/gas") for one in violations(page, path, script)]
        wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        context.close()
        assert found == []
        assert wide <= 0
