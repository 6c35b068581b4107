"""Files that a company puts into the home, damaged or made to harm: pages and the HTTP door say it, and go on."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.web.app import create_app

FILES = ("troubleshooting.yaml", "fault_codes.csv", "tasks.yaml", "upgrade.yaml", "case.yaml", "limits.csv")
CONTENTS = {
    "no text": b"\xff\xfe\x00\x01" * 50,
    "empty": b"",
    "another kind": b"[1, 2, 3]",
    "a number without end": b"a: " + b"9" * 100_000,
    "deep": b"{a: " * 5_000,
    "laughs": b"a: &a [x, x]\nb: &b [*a, *a]\nc: [*b, *b]\n",
    "words of a page": b"<script>alert(1)</script>: <img src=x onerror=alert(1)>\n",
    "half a sign": b"source: \xed\xa0\x80\n",
}
VISIT = "/engines/A2/2032-07-08"
PATHS = (
    "/", VISIT, f"{VISIT}/trouble", f"{VISIT}/findings", f"{VISIT}/exhaust", "/engines/A2", "/engines/A2/due",
    "/engines/A2/upgrade", "/engines/A2/rules", "/due", "/api/due", "/api/engines/A2/due", "/api/engines/A2/upgrade",
    "/api/visits/A2/2032-07-08", "/api/visits/A2/2032-07-08/trouble",
)  # fmt: skip


@pytest.mark.slow
@pytest.mark.parametrize("what", CONTENTS)
def test_a_bad_file_in_the_home_breaks_no_page(home: Path, what: str) -> None:
    for name in FILES:
        (home / name).write_bytes(CONTENTS[what])
    with Records.open(home) as opened:
        app = create_app(opened, who="tester")
        with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
            for path in PATHS:
                answer = client.get(path)
                assert answer.status_code < 500, (path, answer.text[:500])
                assert "json" in answer.headers["content-type"] or "<script>alert" not in answer.text


@pytest.mark.slow
@pytest.mark.parametrize("what", CONTENTS)
def test_a_bad_catalogue_breaks_no_page(home: Path, what: str) -> None:
    folder = home / "catalogue"
    folder.mkdir()
    (folder / "own.yaml").write_bytes(CONTENTS[what])
    with Records.open(home) as opened:
        opened.home.change(catalogue=str(folder))
        app = create_app(opened, who="tester")
        with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as client:
            for path in (*PATHS, f"{VISIT}/fitted", "/api/visits/A2/2032-07-08/identification"):
                answer = client.get(path)
                assert answer.status_code < 500, (path, answer.text[:500])
                assert "json" in answer.headers["content-type"] or "<script>alert" not in answer.text


@pytest.mark.slow
@pytest.mark.parametrize("what", CONTENTS)
@pytest.mark.parametrize("name", ["gas.csv", "gas.xlsx", "gas.txt"])
def test_a_bad_gas_analysis_is_refused_on_its_page(client: TestClient, what: str, name: str) -> None:
    page = client.get(f"{VISIT}/gas").text
    token = page.split('name="token" value="')[1].split('"')[0] if 'name="token" value="' in page else ""
    answer = client.post(
        f"{VISIT}/gas", data={"token": token}, files={"file": (name, CONTENTS[what], "application/octet-stream")}
    )
    assert answer.status_code < 500
