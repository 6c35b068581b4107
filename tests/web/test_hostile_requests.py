"""Requests that no page makes: odd words in queries and headers, deep JSON, huge forms, paths that lead out: no 5xx."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from asfound.records.store import Records

from .conftest import A2

OURS = {"origin": "http://127.0.0.1:8720", "sec-fetch-site": "same-origin"}
ODD = [
    "",
    "<script>alert(1)</script>",
    "../../etc/passwd",
    "\x00",
    "%00",
    "'; DROP TABLE entries; --",
    "NaN",
    "-1e999",
    "9" * 5000,
    "𝔘\u202e",
    "as_found\r\nset-cookie: a=b",
    "{{7*7}}",
    "=1+1",
    "de-DE-x",
    "__class__",
    "١٢",
]
ASKED = [
    ("/", "language", "page", "find"),
    ("/find", "q"),
    ("/engines/A2", "language"),
    (f"{A2}", "language"),
    (f"{A2}/fitted", "place", "again"),
    (f"{A2}/exhaust", "state", "language"),
    (f"{A2}/report", "units", "language"),
    (f"{A2}/whatif", "ignition_timing", "gas", "state", "back", "to", "fit", "rates", "decimal", "only"),
    (f"{A2}/history", "channel", "from", "to", "against"),
    (f"{A2}/due", "language"),
    (f"{A2}/trouble", "case", "plan"),
    (f"{A2}/report/for/operator", "language"),
    ("/fleet", "sort", "site"),
    ("/calculate", "sheet"),
    ("/settle", "at"),
    ("/engines/A2/due/upgrade", "target"),
    (f"{A2}/crosscheck", "without"),
]
DOWNLOADS = [
    "/photos/{}",
    "/static/{}",
    "/static/css/{}",
    "/engines/{}",
    "/engines/A2/{}",
    "/engines/A2/2032-07-08/report/for/{}",
    "/engines/A2/2032-07-08/report/for/{}.csv",
    "/engines/A2/2032-07-08/gas/{}",
    "/engines/A2/due/{}",
    "/sources/{}",
    "/worksheets/{}",
    "/findings/{}",
    "/api/engines/{}",
    "/api/v1/engines/{}",
    "/engines/A2/history/import/{}",
]
PATHS = [
    "..",
    "../../../../etc/passwd",
    "..%2f..%2f..%2fetc%2fpasswd",
    "%2e%2e/%2e%2e/settings.json",
    "..\\..\\settings.json",
    "%00",
    "C:%5cWindows%5cwin.ini",
    "....//....//settings.json",
    "/etc/passwd",
    "a" * 5000,
    "record.sqlite",
]


@pytest.fixture
def brave(client: TestClient) -> TestClient:
    """A client that reports a fault of the program as its answer, not as an exception."""
    return TestClient(
        client.app, base_url="http://127.0.0.1:8720", raise_server_exceptions=False, follow_redirects=False
    )


@pytest.mark.parametrize("asked", ASKED, ids=lambda one: one[0])
def test_odd_words_in_a_query(brave: TestClient, asked: tuple[str, ...]) -> None:
    path, *names = asked
    for word in ODD:
        for name in names:
            answer = brave.get(path, params={name: word})
            assert answer.status_code < 500, (path, name, word[:40])
            assert "<script>alert" not in answer.text
            assert "set-cookie: a=b" not in str(answer.headers)


@pytest.mark.parametrize("path", DOWNLOADS)
def test_no_path_leads_out_of_what_is_served(brave: TestClient, path: str) -> None:
    for word in PATHS:
        answer = brave.get(path.format(word))
        assert answer.status_code < 500, (path, word[:40])
        assert not re.search(r"root:x:0|\"clock_offset\"|SQLite format 3|\[fonts\]", answer.text), (path, word)


@pytest.mark.parametrize(
    "headers",
    [
        {"x-asfound-waited": "nan"},
        {"x-asfound-waited": "1e400"},
        {"x-asfound-waited": "-5"},
        {"x-asfound-entry": "x" * 300},
        {"x-asfound-column": "as_nothing"},
        {"x-asfound-page": "https://elsewhere.example/"},
        {"accept-language": "de;q=x,,"},
        {"cookie": "column=as_%00; language=<b>; light=" + "x" * 3000},
        {"range": "bytes=9-1"},
        {"if-none-match": '"' * 99},
        {"content-type": "multipart/form-data; boundary="},
        {"content-type": "application/x-www-form-urlencoded; charset=utf-7"},
        {"accept": "x" * 4000},
        {"x-forwarded-host": "elsewhere.example"},
        {"transfer-encoding": "identity"},
    ],
    ids=lambda one: next(iter(one)),
)
def test_odd_headers(brave: TestClient, headers: dict[str, str]) -> None:
    for answer in (
        brave.get(A2, headers=headers),
        brave.post(
            f"{A2}/notes",
            content=b"text=seen",
            headers={"content-type": "application/x-www-form-urlencoded", **OURS, **headers},
        ),
    ):
        assert answer.status_code < 500
        assert "elsewhere.example" not in answer.headers.get("location", "")


def test_a_form_of_ten_megabytes_and_of_many_fields(brave: TestClient, records: Records) -> None:
    before = len(records.entries())
    for body in (b"text=" + b"x" * 10_000_000, b"&".join(b"a%d=1" % n for n in range(50_000)), b"text=" + b"%00" * 10):
        answer = brave.post(
            f"{A2}/notes", content=body, headers={"content-type": "application/x-www-form-urlencoded", **OURS}
        )
        assert 300 <= answer.status_code < 500
    assert len(records.entries()) <= before + 1


@pytest.mark.parametrize(
    "body",
    [
        b"[" * 100_000,
        b'{"a":' * 50_000,
        b"{",
        b"\xff\xfe",
        b'{"value": 1e999}',
        b'{"value": NaN}',
        b"null",
        b'"x"',
        b"[]",
        json.dumps({"text": "x" * 3_000_000}).encode(),
        b'{"text": "\\ud800"}',
        b'{"text": "a", "text": "b"}',
    ],
    ids=lambda one: one[:12].decode("latin-1"),
)
def test_odd_json_at_every_door_of_the_interface(brave: TestClient, body: bytes) -> None:
    for path, method in posting(brave.app):
        answer = brave.request(method, path, content=body, headers={"content-type": "application/json", **OURS})
        assert answer.status_code < 500, (path, body[:20])


def posting(app: Any) -> list[tuple[str, str]]:
    """Return the addresses of the interface that take something, with a visit of the demo in them."""
    told = TestClient(app, base_url="http://127.0.0.1:8720").get("/api/openapi.json").json()
    found = []
    for path, ways in told["paths"].items():
        at = path.replace("{engine}", "A2").replace("{day}", "2032-07-08").replace("{visit}", "2032-07-08")
        found += [
            (re.sub(r"\{\w+\}", "x", at), way.upper()) for way in ways if way in {"post", "put", "patch", "delete"}
        ]
    assert len(found) > 5
    return found


def test_a_page_of_another_site_posts_nowhere(brave: TestClient, records: Records) -> None:
    """Each form of the visit, from a foreign origin, from none with a foreign host, and across sites."""
    before = len(records.entries())
    for path in (
        "notes",
        "events",
        "whatif/keep",
        "due/done",
        "trouble/symptom",
        "report/hours",
        "report/close",
        "fitted",
    ):
        for headers in (
            {"origin": "https://elsewhere.example"},
            {"origin": "null"},
            {"sec-fetch-site": "cross-site"},
            {"host": "elsewhere.example", **OURS},
            {"origin": "http://127.0.0.1:9999"},
        ):
            answer = brave.post(f"{A2}/{path}", data={"text": "x"}, headers=headers)
            assert 400 <= answer.status_code < 500, (path, headers)
    assert len(records.entries()) == before
