"""What the local server refuses, and what goes out with every answer."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from urllib.parse import unquote

import anyio
import pytest
from starlette.testclient import TestClient

from asfound.errors import InputError
from asfound.records.store import Records
from asfound.web.app import create_app
from asfound.web.security import PHOTO_LIMIT, is_loopback
from asfound.web.serve import listening_socket

from .conftest import A2

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; "
    "font-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "10.0.0.7", "asfound.local:80"])
def test_foreign_host_is_refused(reader: TestClient, host: str) -> None:
    assert reader.get("/", headers={"host": host}).status_code == 400


@pytest.mark.parametrize("host", ["localhost:8720", "127.0.0.1:8720", "[::1]:8720"])
def test_loopback_names_are_answered(reader: TestClient, host: str) -> None:
    assert reader.get("/settings", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},  # another port of this machine is another program
        {"origin": "http://evil.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "null"},
    ],
)
def test_post_from_another_site_is_refused_and_keeps_nothing(
    client: TestClient, records: Records, headers: dict[str, str]
) -> None:
    before = len(records.entries())
    answer = client.post(f"{A2}/notes", data={"text": "smuggled"}, headers=headers)
    assert answer.status_code == 403
    assert len(records.entries()) == before


@pytest.mark.parametrize("headers", [{"sec-fetch-site": "same-origin"}, {"origin": "http://127.0.0.1"}, {}])
def test_post_from_our_own_page_is_kept(client: TestClient, records: Records, headers: dict[str, str]) -> None:
    answer = client.post(f"{A2}/notes", data={"text": "from here"}, headers=headers)
    assert answer.status_code == 303
    assert records.entries()[-1].content["text"] == "from here"


@pytest.mark.parametrize("path", ["/", "/nowhere", "/static/asfound.js", "/api/openapi.json", "/static/none.css"])
def test_headers_go_out_with_every_answer(reader: TestClient, path: str) -> None:
    headers = reader.get(path).headers
    assert headers["content-security-policy"] == POLICY
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static/%2e%2e%5capp.py",
        "/static/a%00.css",
        "//evil.example/",
        "/static/..\\app.py",
        "/photos/..%2f..%2frecord.sqlite",
    ],
)
def test_path_tricks_are_refused(reader: TestClient, path: str) -> None:
    # httpx would tidy the path up, so the scope is made by hand
    async def ask() -> int:
        sent: list[dict[str, object]] = []

        async def receive() -> dict[str, object]:
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message: dict[str, object]) -> None:
            sent.append(message)

        scope = {
            "type": "http", "asgi": {"version": "3.0"}, "http_version": "1.1", "method": "GET", "scheme": "http",
            "path": unquote(path), "raw_path": path.encode(), "query_string": b"", "root_path": "",
            "headers": [(b"host", b"127.0.0.1")], "server": ("127.0.0.1", 80), "client": ("127.0.0.1", 1), "state": {},
        }  # fmt: skip
        await reader.app(scope, receive, send)  # type: ignore[arg-type]
        return int(sent[0]["status"])  # type: ignore[call-overload]

    # in a thread of its own: a browser's tests leave a loop running in this one
    with ThreadPoolExecutor(1) as threads:
        assert threads.submit(anyio.run, ask).result() == 400


def test_a_body_that_is_too_large_is_refused(client: TestClient) -> None:
    assert client.post(f"{A2}/notes", data={"text": "x" * (3 * 1024 * 1024)}).status_code == 413
    photo = client.post(f"{A2}/photos", files={"photo": ("big.jpg", b"x" * (PHOTO_LIMIT + 200_000), "image/jpeg")})
    assert photo.status_code == 413


def test_token_is_asked_for_and_leaves_the_address(records: Records) -> None:
    app = create_app(records, token="a-long-secret")
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as client:
        assert client.get("/").status_code == 401
        assert client.get("/?token=wrong").status_code == 401
        shown = client.get("/", headers={"accept": "text/html"})
        assert (shown.status_code, shown.headers["content-type"]) == (401, "text/html; charset=utf-8")
        assert '<html lang="en">' in shown.text
        assert "carries the token" in shown.text
        admitted = client.get("/settings?token=a-long-secret&x=1")
        assert (admitted.status_code, admitted.headers["location"]) == (303, "/settings?x=1")
        assert "HttpOnly" in admitted.headers["set-cookie"]
        assert client.get("/settings").status_code == 200
    with TestClient(app, base_url="http://127.0.0.1") as fresh:
        assert fresh.get("/api/quantities", headers={"authorization": "Bearer a-long-secret"}).status_code == 200


@pytest.mark.parametrize("host", ["0.0.0.0", "::", "192.168.1.4", "laptop.example"])
def test_refuses_to_listen_beyond_this_machine(host: str) -> None:
    assert not is_loopback(host)
    with pytest.raises(InputError, match="can be reached by others"):
        listening_socket(host, 0)


def test_finds_a_free_port_and_says_when_one_is_taken() -> None:
    with listening_socket("127.0.0.1", None) as first:
        first.listen()
        with listening_socket("127.0.0.1", None) as second:
            assert first.getsockname()[1] != second.getsockname()[1]
        with pytest.raises(InputError, match="is taken"):
            listening_socket("127.0.0.1", first.getsockname()[1])


def test_back_leads_nowhere_else(client: TestClient) -> None:
    for back in ("http://evil.example/", "//evil.example", "/\\evil.example", "javascript:alert(1)"):
        answer = client.post("/settings/light", data={"light": "sun", "back": back})
        assert answer.headers["location"] == "/"
