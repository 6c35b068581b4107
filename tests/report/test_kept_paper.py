"""A report that is kept: the bytes that were set, and set anew whenever what it rests on changed."""

from __future__ import annotations

import pytest

from asfound.language import Reader, reading_as
from asfound.records.demo import make_demo_home
from asfound.records.kept_store import NAME
from asfound.records.store import Records
from asfound.report import kept_paper
from asfound.report.kept_paper import report_of

CLOSED, OPEN = "D2/2032-06-21", "A2/2032-07-08"


@pytest.fixture
def home(tmp_path):
    make_demo_home(tmp_path / "home")
    return tmp_path / "home"


@pytest.fixture
def times(monkeypatch):
    """How often a report was set; setting itself is not what is tested here."""
    found: list[str] = []

    def set_(_records, visit, system, *, full):
        found.append(visit.name)
        return f"{visit.name} {system} {full} {len(found)}".encode()

    monkeypatch.setattr(kept_paper, "_set", set_)
    return found


def of(home, name: str, **asked) -> bytes:
    with Records.open(home) as records:
        return report_of(records, records.visit(name), **asked)


def test_the_report_of_a_closed_visit_is_set_once(home, times):
    first = of(home, CLOSED)
    assert of(home, CLOSED) == first
    assert times == [CLOSED]


@pytest.mark.parametrize("asked", [{"full": True}, {"system": "us"}, {"system": "si"}])
def test_another_paper_is_another(home, times, asked):
    assert of(home, CLOSED) != of(home, CLOSED, **asked)
    assert len(times) == 2
    of(home, CLOSED)
    of(home, CLOSED, **asked)
    assert len(times) == 2


def test_each_reader_has_his_own(home, times):
    of(home, CLOSED)
    with reading_as(Reader(language="de")):
        of(home, CLOSED)
    assert len(times) == 2


def test_what_is_written_later_sets_it_anew(home, times):
    of(home, CLOSED)
    with Records.open(home) as records:
        seen = records.visit(CLOSED)
        told = {"says": "The hour meter was read again.", "time": records.clock.now().isoformat(timespec="seconds")}
        records.append("addendum", told, visit=seen.id, who="R. Imber")
    of(home, CLOSED)
    assert len(times) == 2


def test_a_file_of_the_home_and_a_setting_set_it_anew(home, times):
    of(home, CLOSED)
    (home / "tasks.yaml").write_text("tasks: []\n")
    of(home, CLOSED)
    with Records.open(home) as records:
        records.home.change(units="si")
    of(home, CLOSED)
    assert len(times) == 3


def test_the_report_of_an_open_visit_goes_on_with_the_clock(home, times):
    with Records.open(home) as records:
        opened = records.visit(OPEN)
        assert not opened.sealed
        clock = records.clock
        now = clock.now().replace(second=1)
        records.clock = type("Still", (), {"now": lambda _self: now})()
        first = report_of(records, opened)
        assert report_of(records, opened) == first
        now = now.replace(minute=(now.minute + 1) % 60)
        assert report_of(records, opened) != first
    assert len(times) == 2


def test_a_spoiled_store_only_costs_time(home, times):
    first = of(home, CLOSED)
    (home / NAME).write_bytes(b"no database")
    assert of(home, CLOSED) != first
    assert len(times) == 2


def test_what_is_set_is_a_paper_and_the_same_when_kept(home):
    first = of(home, CLOSED)
    assert first.startswith(b"%PDF")
    assert of(home, CLOSED) == first
