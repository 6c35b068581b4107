"""Pages and entries: processor time of a page with a warm view, of a reading and of a look sent by the page.

python -m benchmarks web
"""

from __future__ import annotations

import statistics
import tempfile
import time
from collections.abc import Callable
from itertools import cycle
from pathlib import Path

from starlette.testclient import TestClient

from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.web.app import create_app

VISIT = "/engines/A2/2032-07-08"
PART = {"x-asfound-part": "1"}
PAGE, ENTRY = 0.050, 0.100  # seconds: the aims of the pages
RUNS = 15


def times(ask: Callable[[], object]) -> list[float]:
    """Return the processor time of each run after one that warms up. [s]"""
    ask()
    found = []
    for _ in range(RUNS):
        began = time.process_time()
        ask()
        found.append(time.process_time() - began)
    return found


def main() -> int:
    """Print the table; 1 when the least of a row is over its aim."""
    missed = 0
    with tempfile.TemporaryDirectory() as folder:
        make_demo_home(Path(folder) / "home")
        with Records.open(Path(folder) / "home") as records:
            app = create_app(records, who="bench", debug=True)
            with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as client:
                values, hows = iter(range(380, 480)), cycle(("at_part", "from_3m", "in_hand", "photo"))

                def enter() -> None:
                    data = {"v:as_left/stack/exhaust_co_dry": f"{next(values)} ppm"}
                    assert client.post(f"{VISIT}/exhaust", data=data, headers=PART).status_code == 200

                def look() -> None:
                    data = {"slot": "service_port", "answer": "not_there", "how": next(hows)}
                    assert client.post(f"{VISIT}/fitted", data=data, headers=PART).status_code == 200

                rows: list[tuple[str, Callable[[], object], float]] = [
                    (f"page {path or '/'}", lambda path=path: client.get(VISIT + path), PAGE)  # type: ignore[misc]
                    for path in ("", "/exhaust", "/fitted", "/findings")
                ]
                rows += [("a reading sent", enter, ENTRY), ("a look sent", look, ENTRY)]
                print("| what | least ms | median ms | aim ms |\n| --- | ---: | ---: | ---: |")
                for name, ask, aim in rows:
                    found = times(ask)
                    missed += min(found) > aim
                    print(
                        f"| {name} | {1e3 * min(found):.0f} | {1e3 * statistics.median(found):.0f} | {1e3 * aim:.0f} |"
                    )
    return int(missed > 0)


if __name__ == "__main__":
    raise SystemExit(main())
