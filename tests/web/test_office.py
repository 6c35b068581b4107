"""The pages of an office: nobody without a session, each in their own name, each within their role."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect
from starlette.applications import Starlette
from starlette.testclient import TestClient

from asfound.errors import InputError, RecordError
from asfound.records import people as module
from asfound.records.bundle import bundle_bytes
from asfound.records.people import People
from asfound.records.store import Records
from asfound.web.office import office_app, serve_office
from asfound.web.security import HEADERS

from .conftest import A2, start
from .test_accessibility import axe_script, violations

SECRET = "three plain words"
NAMES = {"reader": "R. Reader", "writer": "W. Writer", "keeper": "K. Keeper"}


@pytest.fixture
def office(records: Records, monkeypatch: pytest.MonkeyPatch) -> Starlette:
    monkeypatch.setattr(module, "COST", (1, 8, 1))
    people = People(records.database, records.clock)
    for role, name in NAMES.items():
        people.add(name, role, SECRET)
    return office_app(records, debug=True)


@pytest.fixture
def visitor(office: Starlette) -> Iterator[TestClient]:
    with TestClient(office, base_url="http://127.0.0.1", follow_redirects=False) as made:
        yield made


def signed_in(client: TestClient, role: str) -> TestClient:
    answer = client.post("/sign-in", data={"name": NAMES[role], "password": SECRET, "back": A2})
    assert answer.status_code == 303
    assert answer.headers["location"] == A2
    return client


def test_nobody_is_served_before_signing_in(visitor: TestClient) -> None:
    for path in ("/", A2, f"{A2}/record.json", "/hand-over.zip", "/people", "/api/engines", "/settings"):
        asked = visitor.get(path, headers={"accept": "text/html"})
        assert (asked.status_code, asked.headers["location"][:14]) == (303, "/sign-in?back=")
        assert visitor.get(path, headers={"accept": "application/json"}).status_code == 401
    assert visitor.post(f"{A2}/notes", data={"text": "x"}).status_code == 401
    page = visitor.get("/sign-in")
    assert page.status_code == 200
    assert "A2" not in page.text
    assert page.headers["content-security-policy"] == HEADERS["content-security-policy"]


def test_wrong_words_and_unknown_names_are_answered_alike(visitor: TestClient) -> None:
    said = [
        visitor.post("/sign-in", data={"name": name, "password": "something else"})
        for name in ("W. Writer", "N. Obody", "<b>x</b>")
    ]
    assert {one.status_code for one in said} == {422}
    assert all("Name or password is wrong" in one.text for one in said)
    assert "<b>x" not in said[2].text


def test_the_cookie_is_kept_from_script_and_other_sites(visitor: TestClient) -> None:
    answer = visitor.post("/sign-in", data={"name": NAMES["writer"], "password": SECRET})
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    cross = visitor.post("/sign-in", data={"name": "x", "password": "y"}, headers={"sec-fetch-site": "cross-site"})
    assert cross.status_code == 403
    away = visitor.post("/sign-in", data={"name": NAMES["writer"], "password": SECRET, "back": "//evil.example"})
    assert away.headers["location"] == "/"


def test_a_writer_writes_in_their_own_name(visitor: TestClient, records: Records) -> None:
    client = signed_in(visitor, "writer")
    assert NAMES["writer"] in client.get("/").text
    assert client.post(f"{A2}/notes", data={"text": "seen by the writer"}).status_code == 303
    note = records.entries(kind="note")[-1]
    assert (note.who, note.content["text"]) == (NAMES["writer"], "seen by the writer")


def test_a_reader_looks_and_changes_nothing(visitor: TestClient, records: Records) -> None:
    client, before = signed_in(visitor, "reader"), bundle_bytes(records)
    for path in ("/", A2, f"{A2}/report", "/settle", f"{A2}/record.json"):
        assert client.get(path).status_code == 200
    assert client.get("/people").status_code == 403
    refused = client.get("/people", headers={"accept": "text/html"})
    assert (refused.status_code, "<h1>Not allowed here</h1>" in refused.text) == (403, True)
    assert "Kept in the office" not in visitor.get("/sign-in").text
    posts = (
        f"{A2}/notes",
        f"{A2}/report/close",
        "/settings",
        "/take-in",
        "/settle",
        "/people",
        "/demo",
        "/engines/new",
    )
    for path in posts:
        assert client.post(path, data={"text": "x"}).status_code == 403, path
    assert client.put("/api/x", json={}).status_code == 403
    assert bundle_bytes(records) == before
    assert client.post("/settings/light", data={"light": "night"}).status_code == 303
    forbidden = [one for one in People(records.database, records.clock).doings() if one.what == "forbidden"]
    assert len(forbidden) == len(posts) + 3
    assert forbidden[0].name == NAMES["reader"]


def test_sealing_is_for_a_keeper(visitor: TestClient, records: Records) -> None:
    client = signed_in(visitor, "writer")
    refused = client.post(f"{A2}/report/close", data={"statement": "done"})
    assert "for a keeper" in refused.text
    assert records.visit("A2").sealed is None
    client.post("/sign-out")
    assert client.get("/", headers={"accept": "text/html"}).status_code == 303
    client = signed_in(visitor, "keeper")
    assert client.post(f"{A2}/report/close", data={"statement": "done"}).status_code == 303
    sealed = records.visit("A2").sealed
    assert sealed is not None
    assert sealed.who == NAMES["keeper"]


def test_taking_in_and_settling_are_for_a_keeper(visitor: TestClient, records: Records) -> None:
    file = {"file": ("a.zip", bundle_bytes(records))}
    assert signed_in(visitor, "writer").post("/take-in", files=file).status_code == 403
    visitor.post("/sign-out")
    assert signed_in(visitor, "keeper").post("/take-in", files=file).status_code == 200


def test_a_keeper_looks_after_the_list(visitor: TestClient, records: Records) -> None:
    client = signed_in(visitor, "keeper")
    added = {"do": "add", "name": "N. Ew", "role": "reader", "password": SECRET}
    assert client.post("/people", data=added).status_code == 303
    assert client.post("/people", data={**added, "name": "S. Hort", "password": "x"}).status_code == 422
    assert client.post("/people", data={"do": "role", "name": "N. Ew", "role": "writer"}).status_code == 303
    assert client.post("/people", data={"do": "bar", "name": "N. Ew"}).status_code == 303
    assert client.post("/people", data={"do": "bar", "name": NAMES["keeper"]}).status_code == 422
    page = client.get("/people").text
    for said in ("N. Ew", "signed in", "last keeper", "At the door"):
        assert said in page or said == "last keeper"
    found = {one.name: one for one in People(records.database, records.clock).listed()}
    assert found["N. Ew"].role == "writer"
    assert found["N. Ew"].barred


def test_beyond_this_machine_passwords_go_encrypted_or_not_at_all(records: Records) -> None:
    with pytest.raises(InputError, match="unencrypted"):
        serve_office(records, host="0.0.0.0", port=0)
    with pytest.raises(RecordError, match="Nobody may sign in yet"):
        office_app(records)


@pytest.mark.skipif(sys.platform == "win32", reason="signals are POSIX")
def test_an_office_over_tls_as_a_process(home: Path, tmp_path: Path) -> None:
    """A certificate made for the test; a password, a page, a session that outlives a restart of the server."""
    import httpx2 as httpx

    from asfound.web.authority import door_file

    pem = door_file(tmp_path, "127.0.0.1")
    environment = {**os.environ, "ASFOUND_HOME": str(home)}
    command = [sys.executable, "-m", "asfound"]
    subprocess.run(
        [*command, "people", "add", "K. Keeper", "--role", "keeper"], input=SECRET + "\n", text=True, check=True,
        env=environment, capture_output=True,
    )  # fmt: skip
    cookies: dict[str, str] = {}
    for _ in range(2):
        server = subprocess.Popen(
            [*command, "office", "--port", "0", "--certificate", str(pem), "--key", str(pem), "--json"],
            stdout=subprocess.PIPE, text=True, env=environment,
        )  # fmt: skip
        assert server.stdout is not None
        address = json.loads(server.stdout.readline())["address"]
        assert re.match(r"https://127\.0\.0\.1:\d+/", address)
        with httpx.Client(base_url=address, verify=False, timeout=60, cookies=cookies) as client:
            if not cookies:
                answer = client.post("/sign-in", data={"name": "K. Keeper", "password": SECRET})
                assert answer.status_code == 303
                assert "secure" in answer.headers["set-cookie"].lower()
                cookies = dict(client.cookies)
            assert "K. Keeper, keeper" in client.get("/settings").text
        server.send_signal(signal.SIGINT)
        assert server.wait(20) == 0
        server.stdout.close()


@pytest.mark.browser
def test_sign_in_and_people_in_a_browser(browser: Browser, office: Starlette) -> None:
    server, thread, where = start(office)
    script = axe_script()
    context = browser.new_context(base_url=where, viewport={"width": 820, "height": 1000}, bypass_csp=True)
    page = context.new_page()
    assert violations(page, "/sign-in", script) == []
    page.get_by_label("Name").fill(NAMES["keeper"])
    page.get_by_label("Password").fill(SECRET)
    page.get_by_role("button", name="Sign in").click()
    page.get_by_role("link", name="People").click()
    expect(page.get_by_role("heading", name="Who may do what")).to_be_visible()
    assert violations(page, "/people", script) == []
    page.get_by_role("button", name="Sign out").click()
    expect(page.get_by_role("heading", name="Sign in")).to_be_visible()
    context.close()
    server.should_exit = True
    thread.join(10)
