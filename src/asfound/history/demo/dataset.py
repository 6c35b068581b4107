"""The whole demo data set in a folder: logs, alarm lists, papers, and the truth beside them."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from asfound.errors import UnknownNameError
from asfound.history.demo import papers
from asfound.history.demo.calendar import iso
from asfound.history.demo.files import write_log
from asfound.history.demo.fleet import ENGINES
from asfound.history.demo.log import SEED, DemoLog, generate

TRUTH = "truth.json"
ABOUT = """Logs of seven invented engines over 30 months. No name, number or place in them is real.

logs/<engine>/     the log as its logger wrote it: other dialects, units, clocks and heads by site
alarms/            alarm lists
papers/            portable analyser, oil samples, work orders; one trend of N1 by the second
truth.json         what was planted: faults of engines and sensors, states, damaged lines. Not to be looked at first.
"""


def write_demo_logs(
    folder: Path | str,
    *,
    seed: int = SEED,
    engines: Iterable[str] = ENGINES,
    progress: Callable[[str], None] | None = None,
) -> dict[str, Any]:
    """Write the data set; the same seed gives the same bytes (but for the Parquet files, whose writer may change).

    Parameters
    ----------
    folder : path
        Made when it is not there.
    seed : int
        48 gives the set that the documents speak of.
    engines : iterable of str
        Tags.
    progress : function, optional
        Told each file or step when it is done.

    Returns
    -------
    dict
        What ``truth.json`` holds.
    """
    chosen = tuple(engines)
    for tag in chosen:
        if tag not in ENGINES:
            raise UnknownNameError("engine of the demo world", tag, ENGINES)
    top = Path(folder)
    for name in ("logs", "alarms", "papers"):
        (top / name).mkdir(parents=True, exist_ok=True)
    tell = progress or (lambda _: None)
    kept: dict[str, list[dict[str, object]]] = {name: [] for name in papers.PAPERS}
    truth: dict[str, Any] = {"seed": seed, "engines": {}, "planted": [], "files": []}
    for tag in chosen:
        log = generate(tag, seed)
        truth["files"] += [one.as_dict(tag) for one in write_log(log, top / "logs" / tag, seed, tell)]
        papers.write_rows(top / "alarms" / f"{tag}_alarms.csv", papers.alarm_rows(log))
        for name, rows_of in papers.PAPERS.items():
            kept[name] += rows_of(log, seed)
        truth["engines"][tag] = _about(log)
        truth["planted"] += [one.as_dict() for one in log.truth]
        tell(tag)
    for name, rows in kept.items():
        papers.write_rows(top / "papers" / name, rows)
    if "N1" in chosen:
        papers.write_rows(top / "papers" / "N1_trend_by_the_second.csv", papers.fast_rows(seed))
    (top / "ABOUT.txt").write_text(ABOUT, encoding="utf-8")
    (top / TRUTH).write_text(json.dumps(truth, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return truth


def _about(log: DemoLog) -> dict[str, Any]:
    return {
        "site": log.spec.site_name,
        "rows": len(log.channels),
        "channels": list(log.channels.values),
        "states": [
            {"from": iso(one.start), "to": iso(one.end), "state": one.state, "why": one.why} for one in log.states
        ],
    }


def number_of_steps(engines: Iterable[str] = ENGINES) -> int:
    """Return about how often ``progress`` is called, for a bar."""
    files = {"A1": 10, "A2": 6, "A3": 31, "N1": 11, "N2": 3, "D1": 3, "D2": 5}
    return sum(files[tag] + 1 for tag in engines)
