"""`asfound log-check`: whether the files of the logs are what was written, and going on without those that are not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.cli import DONE, NO
from asfound.cli.answer import answer, coloured, working
from asfound.cli.find import opened
from asfound.cli.options import Home

if TYPE_CHECKING:
    from collections.abc import Iterator


def log_check(engine: str = "", /, *, set_aside: bool = False, where: Home = Home()) -> int:
    """Read every file of the logs and compare it with what was written; name the damaged ones.

    Parameters
    ----------
    engine
        Tag of the engine; without it all.
    set_aside
        Go on without the damaged files: they get another name, the rest is counted anew, and it is said which sources
        to take in again.
    """
    from asfound.records.logs_of_engine import has_logs, logs, stored_as

    records = opened(where)
    name = None
    if engine:
        name = stored_as(records, records.engine(engine))
    there = has_logs(records) and not (engine and name is None)
    with working("Reading the logs"):
        damaged = logs(records).verify(name) if there else ()
    lost: list[dict[str, Any]] = []
    if set_aside:
        store = logs(records)
        for of, month in sorted({_month(one) for one in damaged}):
            lost += [
                {"engine": of, "month": month, "rows": part.rows, "sources": dict(part.sources)}
                for part in store.set_aside(of, month)
            ]
    data = {"damaged": list(damaged), "set_aside": lost, "checked": there}

    def told() -> Iterator[str]:
        if not there:
            yield "There are no logs here."
        elif not damaged:
            yield "Every file of the logs is what was written."
        for one in damaged:
            yield coloured(f"damaged: {one}", "over")
        if damaged and not set_aside:
            yield "Keep a copy of the home, then: asfound log-check --set-aside; take what it names in again."
        for row in lost:
            named = ", ".join(f"'{source}' ({rows:,} rows)" for source, rows in row["sources"].items())
            yield f"{row['engine']}, {row['month']}: {row['rows']:,} rows set aside. Take in again: {named}"

    answer(where, data, told)
    return NO if damaged and not set_aside else DONE


def _month(path: str) -> tuple[str, str]:
    from asfound.history.manifest import engine_of_path

    parts = path.replace("\\", "/").split("/")
    return engine_of_path(parts[-3]), parts[-2]
