"""What is remembered is counted in bytes: sheets that two values share once, and the longest unused goes first."""

from __future__ import annotations

import gc
import weakref
from types import SimpleNamespace

import numpy as np

from asfound.records import remember
from asfound.records.demo import make_demo_home
from asfound.records.remember import Remembered, weights
from asfound.records.store import Records
from asfound.records.visit import view


def sheet(kilobytes: int) -> SimpleNamespace:
    return SimpleNamespace(results=[SimpleNamespace(array=np.zeros(128 * kilobytes))], readings=())


def test_the_longest_unused_goes_when_all_weighs_too_much():
    kept = Remembered(most=1_000_000)
    for name in "abcde":
        kept.ask(name, 1, lambda: sheet(300), 99)
        kept.ask("a", 1, lambda: sheet(300), 99)
    assert kept.holds("a")
    assert not kept.holds("b")
    assert kept.bytes <= 1_000_000


def test_what_is_asked_for_is_kept_however_large_and_computed_once():
    kept, made = Remembered(most=1_000), []
    for _ in range(3):
        kept.ask("large", 1, lambda: made.append(1) or sheet(300), 99)
    assert len(made) == 1


def test_a_sheet_in_two_values_counts_once_and_stays_counted_until_both_are_gone():
    kept, worked = Remembered(), sheet(500)
    kept.ask("worked", 1, lambda: (worked, ()), 99)
    alone = kept.bytes
    kept.ask("view", 1, lambda: SimpleNamespace(worked=worked, previous=None), 99)
    assert kept.bytes - alone < 100_000
    kept.ask("worked", 2, lambda: None, 99)
    assert kept.bytes > 500_000
    kept.ask("view", 2, lambda: None, 99)
    assert kept.bytes < 100_000


def test_a_visit_weighs_its_own_sheet_and_the_one_before():
    view = SimpleNamespace(worked=sheet(100), previous=SimpleNamespace(worked=sheet(200)))
    assert 300_000 < sum(weights(view).values()) < 500_000


def test_another_key_takes_the_place_of_the_old_value():
    kept = Remembered()
    assert kept.ask("slot", 1, lambda: "old", 99) == "old"
    assert kept.ask("slot", 2, lambda: "new", 99) == "new"
    assert kept.ask("slot", 2, lambda: "never", 99) == "new"


def test_memory_is_given_back_after_much_was_dropped_and_only_then(monkeypatch):
    given = []
    monkeypatch.setattr(remember, "give_back", lambda: given.append(1))
    monkeypatch.setattr(remember, "DROPPED", 1_000_000)
    kept = Remembered(most=400_000)
    for at in range(3):
        kept.ask(at, 1, lambda: sheet(300), 99)
    assert given == []
    for at in range(3, 12):
        kept.ask(at, 1, lambda: sheet(300), 99)
    assert len(given) == 2


def test_giving_back_is_possible_anywhere():
    remember.give_back()


def test_a_view_that_is_dropped_is_gone_at_once(tmp_path):
    """It hangs in no circle, which would hold it until garbage is looked for."""
    with Records.open(make_demo_home(tmp_path / "home").folder) as records:
        gone = weakref.ref(view(records, "A2/2032-07-08"))
        gc.collect()
        gc.disable()
        try:
            records._remembered._kept.clear()
            assert gone() is None
        finally:
            gc.enable()
