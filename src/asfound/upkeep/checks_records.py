"""Rules of failure and work records, on records that are right or wrong."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from asfound.sources.prove import Check
from asfound.upkeep.failure_records import check_failure, check_work
from asfound.upkeep.published import cases


def checks() -> Iterator[Check]:
    """Yield each record with what is found wrong with it now."""
    yield from cases(
        "records",
        {
            "failure_record": lambda record: _told(check_failure(record)),
            "maintenance_record": lambda record: _told(check_work(record)),
        },
    )


def _told(found: tuple[str, ...]) -> dict[str, Any]:
    return {"findings": "; ".join(found)}
