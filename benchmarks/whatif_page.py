"""The page of what-if over loopback: what the answer to a moved slider takes, 200 draws and few, in one process.

The server runs in this process (uvicorn, a thread), the client asks over a socket: medians of answers to
questions never asked before. Target: 100 ms for all 200 draws with the drawings of one width, as the script asks.

python -m benchmarks whatif_page
"""

from __future__ import annotations

import http.client
import socket
import tempfile
import threading
import time
from pathlib import Path
from statistics import median

import uvicorn

from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.web.app import create_app

ASKED = 24
TARGET = 0.100
"""An answer of 200 draws, from the request sent to the last byte. [s]"""
PAGE = "/engines/A2/2032-07-08/whatif?state=as_found"


def main() -> int:
    """Print the table; 1 when the target is missed."""
    with tempfile.TemporaryDirectory() as folder:
        home = Path(folder) / "home"
        make_demo_home(home)
        with Records.open(home) as records:
            listening = socket.socket()
            listening.bind(("127.0.0.1", 0))
            port = listening.getsockname()[1]
            app = create_app(records, who="benchmark")
            server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
            thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
            thread.start()
            while not server.started:
                time.sleep(0.01)
            missed = _rows(port)
            server.should_exit = True
            thread.join(10)
    return missed


def _rows(port: int) -> int:
    first = _ask(port, "", {})
    again = _ask(port, "", {})
    part = {"X-Asfound-Part": "1"}
    whole = [_ask(port, f"&mixture={1.58 + 0.01 * at:.2f}&only=1", part) for at in range(ASKED)]
    load = [_ask(port, f"&power={95 - at}+%25&timing=by+-1&only=1", part) for at in range(ASKED)]
    few = [_ask(port, f"&mixture={1.58 + 0.01 * at:.2f}&charge=by+1&only=1&draws=few", part) for at in range(ASKED)]
    print("| over loopback, one process | processor, median ms | by the clock, median ms |\n| --- | ---: | ---: |")
    for name, times in (
        ("a mixture, 200 draws, target 100", whole), ("power and timing, 200 draws, target 100", load),
        ("while a slider moves, 40 draws", few),
    ):  # fmt: skip
        print(f"| {name} | {1e3 * _middle(times):.0f} | {1e3 * median(one[0] for one in times):.0f} |")
    for name, one in (("the page for the first time: view, fit to both states, map, table", first),
                      ("the page again", again)):  # fmt: skip
        print(f"| {name} | {1e3 * one[1]:.0f} | {1e3 * one[0]:.0f} |")
    return int(_middle(whole) > TARGET or _middle(load) > TARGET)


def _middle(times: list[tuple[float, float]]) -> float:
    """Return the median processor time: a neighbour on the machine does not count in it. [s]"""
    return median(one[1] for one in times)


def _ask(port: int, more: str, headers: dict[str, str]) -> tuple[float, float]:
    """Return how long an answer takes by the clock, and in processor time of server and client. [s]"""
    wire = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    began, busy = time.perf_counter(), time.process_time()
    wire.request("GET", PAGE + more, headers=headers)
    answer = wire.getresponse()
    text = answer.read()
    took = time.perf_counter() - began, time.process_time() - busy
    wire.close()
    if answer.status != 200 or (headers and b'class="err"' in text):
        raise RuntimeError(f"{answer.status} {more}")
    return took


if __name__ == "__main__":
    raise SystemExit(main())
