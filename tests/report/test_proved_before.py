"""The count of published values that were recomputed: kept for the same program and machine, and for no other."""

from __future__ import annotations

import json

import pytest

from asfound.report import proved_before
from asfound.sources.prove import checks_of


@pytest.fixture(autouse=True)
def own_folder(tmp_path, monkeypatch):
    monkeypatch.setattr(proved_before, "_path", lambda: tmp_path / "cache" / "proved.json")
    proved_before.proved.cache_clear()
    yield tmp_path / "cache" / "proved.json"
    proved_before.proved.cache_clear()


def test_the_count_is_that_of_recomputing_and_is_kept(own_folder, monkeypatch):
    count, missed = proved_before.proved("cylinders")
    assert (count, missed) == (len(list(checks_of("cylinders"))), ())
    proved_before.proved.cache_clear()
    monkeypatch.setattr("asfound.sources.prove.checks_of", lambda room: pytest.fail(f"{room} recomputed"))
    assert proved_before.proved("cylinders") == (count, ())


@pytest.mark.parametrize("kept", ["", "[]", '{"of": "another program", "rooms": {"cylinders": 1}}', '{"of": 1}'])
def test_what_another_program_kept_or_nobody_can_read_counts_for_nothing(own_folder, kept):
    own_folder.parent.mkdir()
    own_folder.write_text(kept)
    assert proved_before.proved("cylinders")[0] == len(list(checks_of("cylinders")))


def test_a_miss_is_never_kept(own_folder, monkeypatch):
    from types import SimpleNamespace

    monkeypatch.setattr("asfound.sources.prove.checks_of", lambda _: [SimpleNamespace(holds=False, check="one")])
    assert proved_before.proved("cylinders") == (1, ("one",))
    assert not own_folder.exists() or "cylinders" not in json.loads(own_folder.read_text())["rooms"]
