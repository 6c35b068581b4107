"""From the report page: papers, data files, closing, addenda, checking the seal, taking in."""

from __future__ import annotations

import io
import json
import re
import sqlite3
from pathlib import Path

import pytest
from pypdf import PdfReader
from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.web.app import create_app

from .conftest import A2


def test_a_paper_comes_on_the_sheet_of_the_reader(client: TestClient, records: Records) -> None:
    def width(address: str, cookie: str = "") -> float:
        pdf = client.get(address, headers={"cookie": cookie} if cookie else {}).content
        return float(PdfReader(io.BytesIO(pdf)).pages[0].mediabox.width)

    at = f"{A2}/report/for/office.pdf"
    assert width(at) == pytest.approx(595.3, abs=0.1)
    assert width(f"{at}?paper=letter") == 612
    assert width(at, "paper=letter") == 612
    assert width(at, "paper=foolscap") == pytest.approx(595.3, abs=0.1)
    assert client.post("/settings", data={"paper": "letter"}).status_code == 303
    assert records.home.settings().paper == "letter"
    assert client.post("/settings", data={"paper": "foolscap"}).status_code == 422


def test_papers_and_data_files(reader: TestClient) -> None:
    pdf = reader.get(f"{A2}/report.pdf")
    assert pdf.content.startswith(b"%PDF-")
    assert 'filename="A2-2032-07-08.pdf"' in pdf.headers["content-disposition"]
    assert reader.get(f"{A2}/shift.pdf").content.startswith(b"%PDF-")
    record = json.loads(reader.get(f"{A2}/record.json").text)
    assert "entries" in record
    assert reader.get("/record.schema.json").json()["$schema"]
    for table in ("readings", "results", "looks", "differences", "trouble"):
        assert reader.get(f"{A2}/{table}.csv").headers["content-type"].startswith("text/csv")
    assert reader.get(f"{A2}/secrets.csv").status_code == 404


def test_the_report_is_set_once_while_nothing_changes(reader: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    closed = "/engines/D2/2032-06-21"
    first = reader.get(f"{closed}/report.pdf").content
    monkeypatch.setattr("asfound.report.kept_paper._set", lambda *_, **__: b"%PDF-another")
    assert reader.get(f"{closed}/report.pdf").content == first
    assert reader.get(f"{closed}/report.pdf?full").content == b"%PDF-another"


def test_closing_then_adding_then_checking(client: TestClient, records: Records) -> None:
    assert client.post(f"{A2}/report/close", data={"statement": "as described"}).status_code == 303
    page = client.get(f"{A2}/report").text
    assert "Digest" in page
    assert client.post(f"{A2}/report/addenda", data={"says": "certificate 12-7 found"}).status_code == 303
    assert "certificate 12-7 found" in client.get(f"{A2}/report").text
    assert "The seal holds" in client.post(f"{A2}/report/check").text
    exhaust = client.get(f"{A2}/exhaust").text
    assert "read, not changed" in exhaust
    assert not re.search(r'<form class="state"', exhaust)
    refused = client.post(f"{A2}/exhaust", data={"v:as_left/stack/exhaust_co_dry": "395 ppm"})
    assert refused.status_code == 409
    assert "is sealed" in refused.text
    twice = client.post(f"{A2}/report/close")
    assert twice.status_code == 409


def test_a_changed_byte_is_found_and_named(home: Path) -> None:
    with Records.open(home) as records:
        client = TestClient(create_app(records, who="tester"), base_url="http://127.0.0.1", follow_redirects=False)
        client.post(f"{A2}/report/close")
    with sqlite3.connect(home / "record.sqlite") as database:
        changed = database.execute("update entries set content = replace(content, '149 ppm', '139 ppm')").rowcount
    assert changed
    with Records.open(home) as records:
        client = TestClient(create_app(records, who="tester"), base_url="http://127.0.0.1", follow_redirects=False)
        page = client.post(f"{A2}/report/check").text
    assert "The seal does not hold" in page


def test_a_visit_goes_to_another_home(reader: TestClient, tmp_path: Path) -> None:
    record = reader.get("/engines/A1/2032-05-03/record.json?files").content
    with Records.open(tmp_path / "other") as records:
        client = TestClient(
            create_app(records, who="tester", debug=True), base_url="http://127.0.0.1", follow_redirects=False
        )
        taken = client.post("/take-in", files={"file": ("a1.json", record, "application/json")})
        assert taken.status_code == 303
        assert client.get(taken.headers["location"]).status_code == 200
        assert client.post("/take-in", files={"file": ("x.json", b"{", "application/json")}).status_code == 422
        assert client.post("/take-in").status_code == 422


def test_the_page_does_not_wait_for_every_published_value(reader: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    """They are recomputed for the paper, which prints them; the page shows none of them."""

    def recomputed() -> None:
        raise AssertionError("the page recomputes what it does not show")

    monkeypatch.setattr("asfound.report.content_sources.proof", recomputed)
    assert reader.get(f"{A2}/report").status_code == 200


def test_each_reader_is_listed_with_what_is_missing_and_has_its_files(reader: TestClient) -> None:
    page = reader.get(f"{A2}/report").text
    from asfound.report.readers import readers
    from asfound.report.readers.files import FORMS, forms_of

    for one in readers().values():
        assert f'href="{A2}/report/for/{one.name}"' in page
        shown = reader.get(f"{A2}/report/for/{one.name}")
        assert shown.status_code == 200
        assert "What this record does not hold" in shown.text or one.name == "operator"
        for form in FORMS.values():
            if form.name == "pdf" and one.name == "next_engineer":
                continue
            given = reader.get(f"{A2}/report/for/{one.name}{form.ending}")
            there = form in forms_of(one)
            assert given.status_code == (200 if there else 404)
            if there:
                assert given.headers["content-type"] == form.media_type
                assert (
                    f'filename="A2-2032-07-08-{one.name.replace("_", "-")}{form.ending}"'
                    in given.headers["content-disposition"]
                )
    assert "things are missing" in page
    assert reader.get(f"{A2}/report/for/boss").status_code == 404
    assert reader.get(f"{A2}/report/for/boss.pdf").status_code == 404
    assert reader.get(f"{A2}/report/for/parts.exe").status_code == 404


def test_a_program_gets_the_readers_and_their_documents(reader: TestClient) -> None:
    at = "/api/visits/A2/2032-07-08/readers"
    rows = reader.get(at).json()
    assert [row["name"] for row in rows][:2] == ["operator", "site_manager"]
    data = reader.get(f"{at}/compliance").json()
    assert data["rows"]
    assert data["facts"]["limits"]
    assert len(data["content_sha256"]) == 64
    assert reader.get(f"{at}/parts?form=csv").text.startswith("\ufeffengine,")
    refused = reader.get(f"{at}/operator?form=csv")
    assert refused.status_code == 422
    assert "pdf, text, json" in refused.text
    assert reader.get(f"{at}/boss").status_code == 404


def test_hours_are_typed_and_taken_back(client: TestClient) -> None:
    office = f"{A2}/report/for/office"
    assert "Travel: nobody typed it" in client.get(office).text
    wrong = client.post(f"{A2}/report/hours", data={"what": "travel", "length": "far", "note": "<b>x</b>"})
    assert wrong.status_code == 422
    assert "is no length of time" in wrong.text
    assert "&lt;b&gt;x&lt;/b&gt;" in wrong.text
    kept = client.post(f"{A2}/report/hours", data={"what": "travel", "length": "2 h 30", "warranty": "asked"})
    assert kept.status_code == 303
    page = client.get(office).text
    assert "2 h 30 min" in page
    assert "Travel: nobody typed it" not in page
    entry = re.search(r'name="entry" value="([0-9a-f-]+)"', page)
    assert entry is not None
    assert client.post(f"{A2}/report/hours/back", data={"entry": entry[1]}).status_code == 303
    assert "Travel: nobody typed it" in client.get(office).text
