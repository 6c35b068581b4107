"""An import that breaks off, a file that comes twice, a file that grew: nothing is lost, nothing stands there twice."""

from __future__ import annotations

import contextlib
import json

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.history.importing import MemorySink, import_files
from asfound.history.ledger import read_ledger
from asfound.history.log_form import Column, LogForm
from asfound.history.mapping import ColumnIs, Mapping
from asfound.history.sink import StoreSink
from asfound.history.store import Store

FORM = LogForm(
    delimiter=";", order="ymd", zone="UTC", step=60, header_line=1, first_row=2,
    columns=(Column(head="Time", role="time"), Column(head="Speed", unit="rpm"), Column(head="State", role="text")),
)  # fmt: skip
MAPPING = Mapping(source="panel", columns=(ColumnIs(head="Speed", unit="rpm", quantity="engine_speed"),))


class BreaksOffError(Exception):
    """The power goes."""


class Fragile(MemorySink):
    """Breaks off after so many calls; what was not committed is lost, as it would be."""

    __slots__ = ("calls",)

    def __init__(self, calls: int) -> None:
        super().__init__()
        self.calls = calls

    def _count(self) -> None:
        self.calls -= 1
        if self.calls == 0:
            self.held = []
            raise BreaksOffError

    def add(self, block):
        self._count()
        super().add(block)

    def commit(self):
        self._count()
        super().commit()


def rows(count: int, start: int = 0, odd: bool = True) -> str:
    lines = []
    for at in range(start, start + count):
        lines.append(f"2032-01-{1 + at // 1440:02d} {at // 60 % 24:02d}:{at % 60:02d}:00;{900 + at % 9};RUN")
        if odd and at % 50 == 7:
            lines.append("torn row")
        if odd and at % 70 == 9:
            lines.append(lines[-1])
    return "\n".join(lines) + "\n"


def run(path, sink, state, **given):
    return import_files([path], sink, source="panel", form=FORM, mapping=MAPPING, state=state, **given)


@pytest.fixture(autouse=True)
def small_blocks(monkeypatch):
    monkeypatch.setattr("asfound.history.bytes_in.BLOCK", 2000)
    monkeypatch.setattr("asfound.history.reading.lines_of.__kwdefaults__", {"position": 0, "line": 1, "block": 2000},
                        raising=False)  # fmt: skip


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=15)
@given(breaks=st.lists(st.integers(1, 12), max_size=6), commit_rows=st.sampled_from([1, 100, 10_000]))
def test_broken_off_anywhere_it_ends_as_if_it_had_not(tmp_path_factory, breaks, commit_rows):
    folder = tmp_path_factory.mktemp("resume")
    path = folder / "log.csv"
    path.write_text("Time;Speed;State\n" + rows(900))
    whole = MemorySink()
    report = run(path, whole, folder / "whole")
    kept = MemorySink()
    for calls in breaks:
        fragile = Fragile(calls)
        fragile.blocks = kept.blocks
        with contextlib.suppress(BreaksOffError):
            run(path, fragile, folder / "broken", commit_rows=commit_rows)
        kept.blocks = fragile.blocks
    again = run(path, kept, folder / "broken", commit_rows=commit_rows)
    assert again.adds_up
    one, other = whole.rows(), kept.rows()
    np.testing.assert_array_equal(one.time, other.time)
    np.testing.assert_array_equal(one.values["engine_speed@engine"], other.values["engine_speed@engine"])
    counts = json.loads((folder / "broken" / "panel.json").read_text())["files"][0]["counts"]
    assert counts["read"] == report.read
    assert counts["refused"] == report.refused
    torn = [one.line for one in read_ledger(folder / "broken" / "panel.refused.jsonl") if one.kind == "row"]
    assert torn == [one.line for one in read_ledger(folder / "whole" / "panel.refused.jsonl") if one.kind == "row"]


def test_the_same_file_twice_changes_nothing(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("Time;Speed;State\n" + rows(300))
    sink = MemorySink()
    first = run(path, sink, tmp_path / "state")
    before = {file.name: file.read_bytes() for file in (tmp_path / "state").iterdir()}
    renamed = path.rename(tmp_path / "copy of log.csv")
    second = run(renamed, sink, tmp_path / "state")
    assert (second.read, second.kept, second.files[0].what) == (0, 0, "same")
    assert "has been imported before" in second.notes[0]
    assert len(sink.rows()) == first.kept
    assert {file.name: file.read_bytes() for file in (tmp_path / "state").iterdir()} == before


def test_a_file_that_grew_is_taken_from_where_it_stopped(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("Time;Speed;State\n" + rows(300))
    sink = MemorySink()
    first = run(path, sink, tmp_path / "state")
    with path.open("a") as file:
        file.write(rows(200, 300))
    second = run(path, sink, tmp_path / "state")
    assert second.files[0].what == "grown"
    assert (first.kept, second.kept) == (300, 200)
    lines = path.read_text().splitlines()
    for one in second.refusals:
        assert lines[one.line - 1] == one.text


def test_a_last_line_that_is_being_written_waits(tmp_path):
    path = tmp_path / "log.csv"
    text = "Time;Speed;State\n" + rows(10, odd=False)
    path.write_text(text + "2032-01-01 00:10:00;9")
    sink = MemorySink()
    report = run(path, sink, tmp_path / "state", growing=True)
    assert (report.kept, report.files[0].held) == (10, 1)
    path.write_text(text + "2032-01-01 00:10:00;905;RUN\n")
    assert run(path, sink, tmp_path / "state", growing=True).kept == 1
    assert sink.rows().values["engine_speed@engine"][-1] == pytest.approx(905 * np.pi / 30)


def test_a_state_that_is_damaged_is_said(tmp_path):
    path = tmp_path / "log.csv"
    path.write_text("Time;Speed;State\n" + rows(10))
    run(path, MemorySink(), tmp_path / "state")
    (tmp_path / "state" / "panel.json").write_text("{")
    with pytest.raises(InputError, match="is damaged"):
        run(path, MemorySink(), tmp_path / "state")


def test_into_the_store_twice_and_after_a_lost_state(tmp_path):
    """The store and the import together: rows that come again, without any state, are duplicates."""
    path = tmp_path / "log.csv"
    path.write_text("Time;Speed;State\n" + rows(500))
    store = Store(tmp_path / "logs")
    first = run(path, StoreSink(store, "A1", "panel"), tmp_path / "state")
    second = run(path, StoreSink(store, "A1", "panel"), None)
    assert first.kept == 500
    assert (second.kept, second.conflicts) == (0, 0)
    assert second.duplicates == first.kept + first.duplicates
    assert len(store.read("A1")) == 500
