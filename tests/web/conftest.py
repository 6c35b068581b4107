"""A demo home made once and copied for each test that writes, an application on it, and a browser if there is one."""

from __future__ import annotations

import shutil
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, expect
from starlette.applications import Starlette
from starlette.testclient import TestClient

from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.web.app import create_app

A2 = "/engines/A2/2032-07-08"


expect.set_options(timeout=20_000)  # a machine that does other work besides is slow, not wrong


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the demo home as it was made; nobody writes to it."""
    folder = tmp_path_factory.mktemp("web") / "demo"
    make_demo_home(folder)
    return folder


@pytest.fixture
def home(demo: Path, tmp_path: Path) -> Path:
    """Return a copy of the demo home to write to."""
    folder = tmp_path / "home"
    shutil.copytree(demo, folder)
    return folder


@pytest.fixture
def records(home: Path) -> Iterator[Records]:
    with Records.open(home) as opened:
        yield opened


@pytest.fixture
def app(records: Records) -> Starlette:
    return create_app(records, who="tester", debug=True)


@pytest.fixture
def client(app: Starlette) -> Iterator[TestClient]:
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as made:
        yield made


@pytest.fixture(scope="session")
def reader(demo: Path) -> Iterator[TestClient]:
    """Return a client that only reads, on the home that is made once."""
    with Records.open(demo) as opened:
        app = create_app(opened, who="tester", debug=True)
        with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as made:
            yield made


# ---------------------------------------------------------------------- a real server and a real browser


@pytest.fixture(scope="session")
def browser(browser: Browser) -> Browser:
    """Return a browser whose pages are waited for as long as a busy machine needs."""
    plain = browser.new_context

    def patient(*given: Any, **named: Any) -> BrowserContext:
        made = plain(*given, **named)
        made.set_default_timeout(60_000)
        made.set_default_navigation_timeout(120_000)
        return made

    browser.new_context = patient  # type: ignore[method-assign]
    return browser


def start(app: Starlette) -> tuple[uvicorn.Server, threading.Thread, str]:
    """Start a server on a free port and return it with its address."""
    listening = socket.socket()
    listening.bind(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    until = time.monotonic() + 10
    while not server.started and time.monotonic() < until:
        time.sleep(0.01)
    return server, thread, f"http://127.0.0.1:{listening.getsockname()[1]}"


@pytest.fixture
def address(home: Path) -> Iterator[str]:
    """Return the address of a server on a home of its own."""
    with Records.open(home) as opened:
        server, thread, where = start(create_app(opened, who="tester"))
        yield where
        server.should_exit = True
        thread.join(10)


@pytest.fixture(scope="session")
def reading_address(demo: Path) -> Iterator[str]:
    """Return the address of a server for tests that only look."""
    with Records.open(demo) as opened:
        server, thread, where = start(create_app(opened, who="tester"))
        yield where
        server.should_exit = True
        thread.join(10)
