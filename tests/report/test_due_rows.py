"""A line of upkeep for each engine: what the full list says, kept, and made anew where anything of it changed."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.records.upkeep_of_engine import TASK_FILE, fleet
from asfound.report import due_rows as module
from asfound.report.content_due import due_shown
from asfound.report.due_rows import DueRow, due_rows

DAY = date(2032, 7, 20)


def full(records: Records, day: date = DAY) -> list[tuple[str, DueRow]]:
    """Return the lines by way of everything that a page shows of each engine."""
    made = []
    for engine, due in fleet(records, day):
        shown = due_shown(due)
        first = next((one for one in shown.tasks if one.day is not None), None)
        stop = shown.stops[0] if shown.stops else None
        made.append((engine.tag, DueRow(
            hours=shown.hours, head=shown.head, first=f"{first.title}: {first.when}" if first else "",
            stop=f"{stop.day} ({len(stop.tasks)} tasks)" if stop else "",
        )))  # fmt: skip
    return made


def lines(records: Records, day: date = DAY) -> list[tuple[str, DueRow]]:
    return [(engine.tag, row) for engine, row in due_rows(records, day)]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("rows") / "home"
    make_demo_home(folder)
    return folder


def test_lines_say_what_the_lists_say_and_again_from_what_was_kept(home: Path, monkeypatch: pytest.MonkeyPatch):
    with Records.open(home) as records:
        wanted = full(records)
        assert lines(records) == wanted
        assert any(row.first and row.stop and row.hours for _, row in wanted)
    with Records.open(home) as records:
        monkeypatch.setattr(module, "due_row", lambda _due: pytest.fail("worked out again"))
        assert lines(records) == wanted


def test_an_entry_makes_the_line_of_its_engine_anew_and_no_other(home: Path, monkeypatch: pytest.MonkeyPatch):
    with Records.open(home) as records:
        lines(records)
        engine = records.engine("D1")
        content = {"date": "2032-07-19", "task": "oil_change", "hours": 30000.0}
        records.append("task_done", content, engine=engine.id, who="A. Person")
        made: list[str] = []
        real = module.due_row
        monkeypatch.setattr(module, "due_row", lambda due: (made.append(due.tag), real(due))[1])
        assert lines(records) == full(records)
        assert made == ["D1"]


def test_another_day_and_another_list_of_tasks_make_all_anew(home: Path):
    with Records.open(home) as records:
        lines(records)
        later = date(2033, 1, 2)
        assert lines(records, later) == full(records, later) != full(records)
        (home / TASK_FILE).write_text(
            "source: own_calculation\ntasks:\n  - id: look_round\n    title: Look round\n    interval: every 10 h\n"
        )
        try:
            assert lines(records) == full(records)
        finally:
            (home / TASK_FILE).unlink()
