"""The server as a process: it prints its address, stops cleanly, and what it kept outlives being killed."""

from __future__ import annotations

import os
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import httpx2 as httpx
import pytest

from asfound.records.store import Records
from asfound.web.serve import bound

from .conftest import A2

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals are POSIX")


def begin(home: Path) -> tuple[subprocess.Popen[str], str]:
    """Start `serve` in a process of its own and return it with the address that it printed."""
    code = "import sys; from asfound.web.serve import serve; serve(sys.argv[1], 0, False, who='tester')"
    process = subprocess.Popen([sys.executable, "-c", code, str(home)], stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    said = re.search(r"http://127\.0\.0\.1:\d+", process.stdout.readline())
    assert said
    until = time.monotonic() + 15
    while time.monotonic() < until:
        try:
            httpx.get(said.group(0) + "/settings")
            break
        except httpx.TransportError:
            time.sleep(0.05)
    return process, said.group(0)


@pytest.fixture
def served(home: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    process, where = begin(home)
    yield process, where
    if process.poll() is None:
        process.kill()
    process.wait(10)
    if process.stdout:
        process.stdout.close()


def test_what_was_answered_outlives_a_killed_process(served: tuple[subprocess.Popen[str], str], home: Path) -> None:
    process, where = served
    kept = []
    for n in range(12):
        data = {"v:as_left/stack/exhaust_co_dry": f"{390 + n} ppm"}
        if (
            httpx.post(f"{where}{A2}/exhaust", data=data, headers={"x-asfound-part": "1"}, timeout=30).status_code
            == 200
        ):
            kept.append(f"{390 + n} ppm")
    process.send_signal(signal.SIGKILL)
    process.wait(10)
    with Records.open(home) as records:
        typed = [one.content.get("as_typed") for one in records.entries(visit=records.visit("A2").id, kind="reading")]
    assert len(kept) == 12
    assert typed[-12:] == kept


def test_stops_cleanly_when_interrupted(served: tuple[subprocess.Popen[str], str]) -> None:
    process, _ = served
    process.send_signal(signal.SIGINT)
    assert process.wait(10) == 0


def test_starting_it_loads_nothing_heavy() -> None:
    code = (
        "import sys; import asfound.web.app, asfound.web.serve; "
        "print([m for m in ('scipy', 'duckdb', 'typst', 'alembic', 'PIL') if m in sys.modules])"
    )
    said = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=dict(os.environ)
    )
    assert said.stdout.strip() == "[]"


def test_no_part_of_an_answer_waits_for_the_other_side():
    """The event loop turns off the waiting for more (Nagle) only for sockets that say that they are TCP."""
    with bound("127.0.0.1", 0, 0) as listening:
        assert listening.proto == socket.IPPROTO_TCP
