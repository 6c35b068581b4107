"""A home with its own clock and its own, repeatable randomness."""

from __future__ import annotations

import random
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

import pytest

from asfound.records.store import Records

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

BEGAN = datetime(2032, 7, 8, 14, 25, tzinfo=UTC)


class TestClock:
    """Goes on by a second each time it is asked; can be set."""

    __test__ = False

    def __init__(self, start: datetime = BEGAN) -> None:
        self.time = start

    def now(self) -> datetime:
        self.time += timedelta(seconds=1)
        return self.time


@pytest.fixture
def clock() -> TestClock:
    return TestClock()


@pytest.fixture
def open_home(tmp_path: Path) -> Iterator[Callable[..., Records]]:
    """Open homes by name under the test's folder; close them afterwards."""
    opened: list[Records] = []

    def opener(name: str = "home", **options: Any) -> Records:
        options.setdefault("clock", TestClock())
        options.setdefault("randbits", random.Random(name).getrandbits)
        records = Records.open(tmp_path / name, **options)
        if not records.settings.person:
            records.home.change(person="R. Tester", zone="+00:00")
        opened.append(records)
        return records

    yield opener
    for one in opened:
        one.close()


@pytest.fixture
def records(open_home: Callable[..., Records], clock: TestClock) -> Records:
    return open_home(clock=clock)


ENGINE: dict[str, Any] = {
    "tag": "A2",
    "family": "HM9",
    "driven": "compressor",
    "layout": {"form": "inline", "cylinders": 9},
    "turbochargers": {"count": 1, "end": "free_end"},
    "bearings": 10,
}


@pytest.fixture
def begin() -> Callable[..., tuple[str, str]]:
    """Begin an engine and a visit; return their identifiers."""

    def made(records: Records, **engine: Any) -> tuple[str, str]:
        began = records.append("engine", {**ENGINE, **engine})
        opened = records.append("visit_opened", {"began": "2032-07-08T14:25:00Z", "purpose": "test"}, engine=began.id)
        return began.id, opened.id

    return made


@pytest.fixture
def reading() -> Callable[..., dict[str, Any]]:
    """Return the content of a reading, as found, of the engine."""

    def made(quantity: str, value: float | None, as_typed: str, **more: Any) -> dict[str, Any]:
        content = {
            "quantity": quantity, "place": "engine", "state": "as_found", "time": "2032-07-08T15:00:00Z",
            "as_typed": as_typed, "value": value,
        }  # fmt: skip
        return {**content, **more}

    return made
