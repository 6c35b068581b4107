"""What clashes in a home is found without reading all its visits: the same as by reading every one."""

from __future__ import annotations

import random
import shutil
import sqlite3
from collections.abc import Iterator
from dataclasses import replace

import pytest

from asfound.records import conflicts
from asfound.records.conflicts import Clash, clashes
from asfound.records.demo import make_demo_home
from asfound.records.entries import Entry, make_id
from asfound.records.store import Records

NOW = 1_972_000_000_000


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    folder = tmp_path_factory.mktemp("clashes") / "demo"
    make_demo_home(folder)
    return folder


def everywhere(records: Records) -> Iterator[Clash]:
    """Yield what clashes, by reading every visit."""
    yield from conflicts._corrections(records.fold(), None, None, records)
    for engine in records.engines():
        yield from conflicts._corrections(records.fold(engine.id), engine.id, None, records)
        for visit in records.visits(engine.id):
            yield from conflicts._of_visit(records, engine.id, visit.id)


class Written:
    """Entries as another laptop would write them."""

    def __init__(self, chance: random.Random) -> None:
        self.chance, self.last = chance, ""

    def again(self, entry: Entry, *, device: str = "other laptop", **changes) -> Entry:
        self.last = make_id(NOW, self.last or None, randbits=self.chance.getrandbits)
        content = {**entry.content, **changes.pop("content", {})}
        return replace(entry, id=self.last, device=device, content=content, **changes)


def corrected_twice(written, one: Entry) -> list[Entry]:
    return [written.again(one, device=device, corrects=one.id, content={"as_typed": "7 %", "value": 0.07})
            for device in ("this", "that")]  # fmt: skip


def changed(records: Records, chance: random.Random) -> tuple[list[Entry], list[str]]:
    """Return entries that another laptop brings, and identifiers of those that never came."""
    written, brought, missing = Written(chance), [], []
    for visit in records.visits():
        entries = records.entries(visit=visit.id)
        readings = [one for one in entries if one.kind == "reading" and one.content.get("value")]
        if not readings or chance.random() < 0.4:
            continue
        what = chance.choice(["corrections", "again", "late", "late for a missing one", "seal", "addendum", "undone"])
        one = chance.choice(readings)
        moved = {"value": float(one.content["value"]) * 1.01}
        if what == "corrections":
            brought += corrected_twice(written, one)
        elif what == "again":
            brought.append(written.again(one, content=moved))
        elif what.startswith("late"):
            brought.append(written.again(one, content=moved))
            missing += [one.id] if "missing" in what else []
        elif what == "seal" and visit.sealed:
            brought.append(written.again(visit.sealed, content=dict(visit.sealed.content)))
        elif what == "addendum" and visit.sealed:
            late = written.again(one, content=moved)
            told = {"says": "It came later.", "time": visit.sealed.at, "about": [late.id]}
            brought += [late, replace(written.again(one), kind="addendum", content=told)]
        elif what == "undone":
            twice = corrected_twice(written, one)
            gone = replace(written.again(one, corrects=twice[0].id), kind="withdrawn", content={"why": ""})
            brought += [*twice, gone]
    return brought, missing


@pytest.mark.parametrize("seed", range(12))
def test_the_same_clashes_as_by_reading_every_visit(demo, tmp_path, seed):
    home = shutil.copytree(demo, tmp_path / "home")
    with Records.open(home) as records:
        assert clashes(records) == tuple(everywhere(records)) == ()
        brought, missing = changed(records, random.Random(seed))
        records.merge(brought)
    with sqlite3.connect(home / "record.sqlite") as connection:
        connection.execute("PRAGMA foreign_keys = OFF")
        connection.executemany("DELETE FROM entries WHERE id = ?", [(one,) for one in missing])
        if seed % 3 == 0:
            connection.execute("UPDATE entries SET content = substr(content, 9) WHERE kind = 'sealed' AND seq % 2 = 0")
    with Records.open(home) as records:
        found = clashes(records)
        assert found == tuple(everywhere(records))
        assert found


def test_a_home_in_which_nothing_clashes_is_not_read(demo):
    with Records.open(demo) as records:
        assert records.rows.clash_places() == frozenset()
        assert clashes(records) == ()
        assert all(visit is None for _engine, visit in records._groups)
