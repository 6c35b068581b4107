"""From the report page: papers, data files, closing, addenda, checking the seal, taking in."""

from __future__ import annotations

import json
import re
import sqlite3
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.web.app import create_app

from .conftest import A2


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
