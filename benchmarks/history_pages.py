"""What one view of a log costs: pages of History and the fleet of a demo home with logs, by processor time and clock.

    python -m benchmarks.history_pages HOME

HOME is made by `asfound demo HOME --logs`. Every view is asked for twice and the second counts; the first is shown
beside it. On a busy machine the processor time tells, not the clock.
"""

from __future__ import annotations

import statistics
import sys
import time
from pathlib import Path

from starlette.testclient import TestClient

from asfound.records.store import Records
from asfound.web.app import create_app

SPANS = ("all", "year", "month", "week", "day")
AIM = 200.0
"""[ms]"""


def timed(client: TestClient, path: str) -> tuple[float, float, float, int]:
    """Return first clock, second clock, second processor time [ms], and bytes."""
    took = []
    for _ in range(2):
        clock, processor = time.perf_counter(), time.process_time()
        answer = client.get(path)
        took.append((1e3 * (time.perf_counter() - clock), 1e3 * (time.process_time() - processor)))
        assert answer.status_code == 200, (path, answer.status_code)
    return took[0][0], took[1][0], took[1][1], len(answer.content)


def main(words: list[str]) -> int:
    if not words:
        print(__doc__)
        return 2
    rows: list[tuple[str, float, float, float, int]] = []
    with Records.open(Path(words[0])) as records:
        tags = [one.tag for one in records.engines()]
        with TestClient(create_app(records, who="benchmark"), base_url="http://127.0.0.1") as client:
            rows.append(("/fleet", *timed(client, "/fleet")))
            for tag in tags:
                rows.append((f"{tag} page", *timed(client, f"/engines/{tag}/history")))
                for span in SPANS:
                    path = f"/engines/{tag}/history/part?span={span}&only=900"
                    rows.append((f"{tag} {span}", *timed(client, path)))
    print("| view | first, ms | again, ms | processor, ms | kB |\n|---|---|---|---|---|")
    for name, first, again, processor, size in rows:
        print(f"| {name} | {first:.0f} | {again:.0f} | {processor:.0f} | {size / 1e3:.0f} |")
    parts = [row for row in rows if row[0].split()[-1] in SPANS]
    over = [row[0] for row in parts if row[3] > AIM]
    print(
        f"\n{len(parts)} views: processor time in the middle {statistics.median(row[3] for row in parts):.0f} ms, "
        f"largest {max(row[3] for row in parts):.0f} ms; over {AIM:.0f} ms: {', '.join(over) or 'none'}."
    )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
