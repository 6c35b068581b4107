"""Two or three laptops write on the same engines and hand bundles to each other: the order changes nothing.

``ASFOUND_EXAMPLES=explore`` runs 10,000 random histories; the suite runs a few, the same each time.
"""

from __future__ import annotations

import contextlib
import io
import os
import random
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from functools import wraps
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from hypothesis import HealthCheck, event, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule
from sqlalchemy import event as on

from asfound.errors import RecordError
from asfound.records.bones import Bones
from asfound.records.bundle import bundle_bytes
from asfound.records.bundle_in import take_in
from asfound.records.conflicts import clashes, settle
from asfound.records.entries import Entry, make_id, sha256
from asfound.records.export import computed_part
from asfound.records.home import Settings
from asfound.records.readings import kept, latest
from asfound.records.rows import Rows
from asfound.records.seal import seal, verify
from asfound.records.store import Merged, Records
from asfound.records.visit import view

EXPLORING = os.environ.get("ASFOUND_EXAMPLES") == "explore"
MEMORY = "/dev/shm" if Path("/dev/shm").is_dir() else None
BEGAN = datetime(2032, 7, 8, 14, 25, tzinfo=UTC)
WHICH = st.integers(0, 2)
KEYS = [("exhaust_oxygen_dry", "stack", 0.09), ("barometric_pressure", "site", 1e5), ("engine_power", "engine", 1e6)]


REACHED = Counter[str]()
"""How often each rule and each kind of settlement was reached, for ``python -m benchmarks.merges``."""


def happened(what: str) -> None:
    event(what)
    REACHED[what] += 1


def counted(step: Callable[..., None]) -> Callable[..., None]:
    """Count how often a rule is reached."""

    @wraps(step)
    def counting(*given: Any, **named: Any) -> None:
        REACHED[step.__name__] += 1
        step(*given, **named)

    return counting


class Clock:
    """A laptop's own clock: it may be set back or run ahead."""

    def __init__(self) -> None:
        self.time = BEGAN

    def now(self) -> datetime:
        self.time += timedelta(seconds=1)
        return self.time


@pytest.fixture(scope="module")
def _empty_home():
    """An empty home made once; every laptop begins as a copy of it."""
    folder = Path(tempfile.mkdtemp(dir=MEMORY))
    Records.open(folder / "home").close()
    (folder / "home" / "settings.json").unlink()
    Laptops.empty = folder / "home"
    yield
    shutil.rmtree(folder)


class DictFiles(dict):
    """Contents by digest."""

    def put(self, content: bytes) -> str:
        self[sha256(content)] = content
        return sha256(content)

    def get(self, digest: str) -> bytes:  # type: ignore[override]
        return self[digest]

    def digests(self) -> frozenset[str]:
        return frozenset(self)


def visits_of(laptop: Any) -> set[str]:
    """Return the identifiers of the visits that a laptop knows of."""
    return {one.id for one in laptop.entries(kind="visit_opened")}


class ListedRows(Rows):
    """The questions to the table, answered from a list."""

    def __init__(self) -> None:
        self.known: dict[str, Entry] = {}

    def newest_id(self) -> str | None:
        return max(self.known, default=None)

    def newest_of(self, engine: str | None) -> tuple[int, str]:
        return sum(one.engine == engine for one in self.known.values()), ""

    def one(self, identifier: str) -> Entry | None:
        return self.known.get(identifier)

    def group(self, engine: str | None, visit: str | None) -> list[Entry]:
        return [one for one in self.known.values() if (one.engine, one.visit) == (engine, visit)]

    def of_engine(self, engine: str) -> list[Entry]:
        return [one for one in self.known.values() if one.engine == engine]

    def of_kind(self, kind: str) -> list[Entry]:
        return [one for one in self.known.values() if one.kind == kind]

    def every(self, _newest: Any = None) -> Any:
        return iter(sorted(self.known.values(), key=lambda one: one.id))

    def identifiers(self) -> frozenset[str]:
        return frozenset(self.known)

    def is_visit(self, identifier: str) -> bool:
        return any(one.visit == identifier for one in self.known.values())

    def clash_places(self) -> frozenset[tuple[str | None, str | None]]:
        return frozenset((one.engine, one.visit) for one in self.known.values())

    def bones(self, _kinds: Any, engines: Any = None) -> list[Entry]:
        return [one for one in self.known.values() if engines is None or one.engine in engines]

    def holding(self, engines: Any, *_: Any) -> list[Entry]:
        return self.bones((), engines)


class InMemory(Records):
    """The record with all its own rules and without the database, of which 10,000 histories would ask for hours."""

    def __init__(self, number: int, clock: Clock) -> None:
        home = SimpleNamespace(
            settings=lambda: Settings(person=f"person {number}", device=f"device {number}", zone="+00:00"),
            key=Path("no key"),
            folder=Path("no folder"),
        )
        super().__init__(None, DictFiles(), home, clock, random.Random(number).getrandbits)  # type: ignore[arg-type]
        self.rows = ListedRows()
        self._bones = Bones(self.rows)
        self._newest = 0

    def _refresh(self, *_: Any, **__: Any) -> None:
        """Everything is known already."""

    def write(self, build: Any) -> None:
        last, made = max(self.rows.known, default=None), []
        while True:
            now = self.clock.now()
            last = make_id(int(now.timestamp() * 1000), last, randbits=self._randbits)
            entry = build(None, last, now.isoformat(timespec="milliseconds"))
            if entry is None:
                break
            made.append(entry)
        for one in made:
            self.rows.known[one.id] = one
            self._learn(one)

    def contradicts(self, entries: Any) -> None:
        assert all(self.rows.known.get(one.id, one) == one for one in entries)

    def merge(self, entries: Any) -> int:
        new = [one for one in entries if one.id not in self.rows.known]
        for one in new:
            self.rows.known[one.id] = one
            self._learn(one)
        return len(new)

    def merge_parts(self, parts: Any) -> Merged:
        new = [one for part in parts for one in part if one.id not in self.rows.known]
        self.merge(new)
        named = [tuple(dict.fromkeys(filter(None, (getattr(one, of) for one in new)))) for of in ("engine", "visit")]
        return Merged(len(new), *named)

    def stored(self, visit: str) -> tuple[Entry, ...]:
        return self.entries(visit=visit)

    def stored_ones(self, identifiers: Any) -> dict[str, Entry]:
        return {one: self.rows.known[one] for one in identifiers if one in self.rows.known}

    def close(self) -> None:
        """Nothing is open."""


def opened(folder: Path, number: int, clock: Clock) -> Records:
    """Open a laptop's home; nothing is pulled out here, so it need not wait for the disk."""
    shutil.copytree(Laptops.empty, folder / str(number))
    records = Records.open(folder / str(number), clock=clock, randbits=random.Random(number).getrandbits)
    on.listen(records.database.engine, "connect", lambda raw, _: raw.execute("PRAGMA synchronous=OFF"))
    records.database.close()
    records.home.change(person=f"person {number}", zone="+00:00")
    return records


def state_of(records: Records) -> dict[str, Any]:
    """Return what a home says, without anything that is its own."""
    said: dict[str, Any] = {
        "sites": records.sites(),
        "instruments": records.instruments(),
        "engines": records.engines(),
        "visits": records.visits(),
        "clashes": clashes(records),
    }
    for engine in records.engines():
        said[engine.id] = records.fold(engine.id)
    for visit in records.visits():
        folded = records.fold(visit.engine, visit.id)
        said[visit.id] = folded, latest(kept(folded, records.instruments()))
        said["seal", visit.id] = [one for one in verify(records, visit.id).faults if one.what != "chain"]
    return said


class Laptops(RuleBasedStateMachine):
    """Random histories on three laptops."""

    empty: Path
    views = False

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp(dir=MEMORY))
        self.clocks = [Clock() for _ in range(3)]
        self.laptops = [self.opened(number, clock) for number, clock in enumerate(self.clocks)]
        first = self.laptops[0]
        site = first.append("site", {"name": "Ashgrebe"})
        meter = first.append("instrument", {"name": "analyser", "serial": "7"})
        engine = first.append(
            "engine", {"tag": "A2", "family": "HM9", "layout": {"form": "inline", "cylinders": 9}, "site": site.id}
        )
        first.append("visit_opened", {"began": "2032-07-08T14:00:00Z"}, engine=engine.id)
        self.instrument = meter.id
        for one in self.laptops[1:]:
            take_in(one, io.BytesIO(bundle_bytes(first)))

    def opened(self, number: int, clock: Clock) -> Records:
        return opened(self.folder, number, clock)

    def some(self, number: int, data: st.DataObject, kinds: tuple[str, ...]) -> Any:
        """Draw one entry of these kinds that stands on a laptop; None where there is none."""
        found = [one for kind in kinds for one in self.laptops[number].entries(kind=kind)]
        return data.draw(st.sampled_from(found)) if found else None

    def visit(self, number: int, data: st.DataObject) -> str:
        return data.draw(st.sampled_from(sorted(visits_of(self.laptops[number]))))

    @rule(number=WHICH, key=st.sampled_from(KEYS), times=st.sampled_from([1.0, 1.01]), data=st.data())
    @counted
    def read(self, number: int, key: tuple[str, str, float], times: float, data: st.DataObject) -> None:
        quantity, place, value = key
        content = {
            "quantity": quantity, "place": place, "state": "as_found", "time": "2032-07-08T15:00:00Z",
            "as_typed": f"{value * times:g}", "value": value * times, "instrument": self.instrument,
        }  # fmt: skip
        self.keep(number, "reading", content, visit=self.visit(number, data))

    @rule(number=WHICH, text=st.sampled_from("ab"), data=st.data())
    @counted
    def note(self, number: int, text: str, data: st.DataObject) -> None:
        self.keep(number, "note", {"text": text, "time": "2032-07-08T15:00:00Z"}, visit=self.visit(number, data))

    @rule(number=WHICH, data=st.data())
    @counted
    def photo(self, number: int, data: st.DataObject) -> None:
        digest = self.laptops[number].attach(data.draw(st.sampled_from([b"one", b"two"])), "a.png", "image/png")
        content = {"digest": digest, "filename": "a.png", "media_type": "image/png", "size": 3}
        self.keep(number, "photo", content | {"time": "2032-07-08T15:00:00Z"}, visit=self.visit(number, data))

    @rule(number=WHICH, data=st.data())
    @counted
    def correct(self, number: int, data: st.DataObject) -> None:
        of = self.some(number, data, ("reading", "note", "site", "instrument", "engine"))
        if of is not None:
            change = {"reading": "note", "note": "text", "site": "climate", "instrument": "serial"}.get(of.kind, "tag")
            text = data.draw(st.sampled_from(["p", "q"]))
            self.keep(number, of.kind, {**of.content, change: text}, corrects=of.id)

    @rule(number=WHICH, data=st.data())
    @counted
    def undo(self, number: int, data: st.DataObject) -> None:
        of = self.some(number, data, ("reading", "note", "withdrawn", "resolution"))
        if of is not None:
            self.keep(number, "withdrawn", {"why": ""}, corrects=of.id)

    @rule(number=WHICH)
    @counted
    def open_visit(self, number: int) -> None:
        laptop = self.laptops[number]
        if len(visits_of(laptop)) < 4:
            laptop.append("visit_opened", {"began": "2032-07-08T14:00:00Z"}, engine=laptop.engines()[0].id)

    @rule(number=WHICH, data=st.data())
    @counted
    def close_visit(self, number: int, data: st.DataObject) -> None:
        try:
            seal(self.laptops[number], self.visit(number, data))
        except RecordError:  # sealed already, or something in it clashes
            return

    @rule(number=WHICH, data=st.data())
    @counted
    def settle_one(self, number: int, data: st.DataObject) -> None:
        laptop = self.laptops[number]
        found = clashes(laptop)
        if not found:
            return
        one = data.draw(st.sampled_from(found))
        names = [side.entry.id for side in one.sides]
        chosen = data.draw(st.lists(st.sampled_from(names), min_size=1, unique=True))
        settle(laptop, one.about.id, chosen, why="looked again")
        happened(f"settled {one.kind}")
        assert one.about.id not in {left.about.id for left in clashes(laptop) if left.kind == one.kind}

    @rule(giver=WHICH, taker=WHICH, part=st.booleans(), data=st.data())
    @counted
    def hand_over(self, giver: int, taker: int, part: bool, data: st.DataObject) -> None:
        names = [self.visit(giver, data)] if part else []
        file = bundle_bytes(self.laptops[giver], names)
        take_in(self.laptops[taker], io.BytesIO(file))
        assert take_in(self.laptops[taker], io.BytesIO(file)).new == 0

    @rule(number=WHICH, hours=st.sampled_from([-2, 2]))
    @counted
    def set_the_clock(self, number: int, hours: int) -> None:
        self.clocks[number].time += timedelta(hours=hours)

    def keep(self, number: int, kind: str, content: dict[str, Any], **where: Any) -> None:
        with contextlib.suppress(RecordError):  # the visit is sealed
            self.laptops[number].append(kind, content, **where)

    def teardown(self) -> None:
        """All bundles go to two empty homes in opposite orders, and to each other: all say the same."""
        if not hasattr(self, "laptops"):
            return
        files = [bundle_bytes(one) for one in self.laptops]
        homes = [self.opened(number, Clock()) for number in (3, 4)]
        for home, order in zip(homes, (files, files[::-1]), strict=True):
            for one in order:
                take_in(home, io.BytesIO(one))
        for number, home in enumerate(self.laptops):
            for one in (*files[:number], *files[number + 1 :]):
                take_in(home, io.BytesIO(one))
        every = [*homes, *self.laptops]
        assert len({bundle_bytes(one) for one in every}) == 1
        states = []
        for one in every:
            with one.steady():
                states.append(state_of(one))
        assert all(one == states[0] for one in states)
        for one in clashes(every[0]):
            happened(f"ends with {one.kind}")
        if self.views:
            for visit in every[0].visits():
                seen = [computed_part(view(one, visit.id)) for one in (every[0], every[1])]
                assert seen[0] == seen[1]
        self.settle_apart(*homes)
        for one in every:
            one.close()
        shutil.rmtree(self.folder)

    def settle_apart(self, first: Records, second: Records) -> None:
        """Two people settle everything apart, each as they like, and exchange it; then one settles what is left."""
        choice = random.Random(len(first.entries()))
        for home in (first, second):
            self.settle_all(home, lambda names: choice.sample(names, choice.randint(1, len(names))), "apart")
        for giver, taker in ((first, second), (second, first)):
            take_in(taker, io.BytesIO(bundle_bytes(giver)))
        assert bundle_bytes(first) == bundle_bytes(second)
        assert state_of(first) == state_of(second)
        self.settle_all(first, lambda names: names[:1], "again")

    def settle_all(self, home: Records, choose: Callable[[list[str]], list[str]], when: str) -> None:
        """Settle until nothing is left. A reading that was put right twice may, settled, clash with another reading."""
        asked = set()
        while found := clashes(home):
            for clash in found:
                assert (clash.kind, clash.about.id) not in asked, "what was settled is asked again"
                asked.add((clash.kind, clash.about.id))
                settle(home, clash.about.id, choose([side.entry.id for side in clash.sides]))
                happened(f"settled {when} {clash.kind}")


class Views(Laptops):
    """The same, with all that is worked out from the entries."""

    views = True


class Many(Laptops):
    """The same without the database."""

    def opened(self, number: int, clock: Clock) -> Records:
        return InMemory(number, clock)


pytestmark = pytest.mark.usefixtures("_empty_home")
TestMerge = Laptops.TestCase
TestMerge.settings = settings(
    max_examples=300 if EXPLORING else 15, stateful_step_count=20, deadline=None,
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
TestViews = Views.TestCase
TestViews.settings = settings(TestMerge.settings, max_examples=30 if EXPLORING else 2)
TestMany = Many.TestCase
TestMany.settings = settings(TestMerge.settings, max_examples=10_000 if EXPLORING else 60)


def test_what_was_set_aside_stays_so_when_a_third_correction_comes_in(records, begin):
    """Settled between two, then a third comes from another laptop: only what stood and the new one are asked about."""
    first = records.append("site", {"name": "Ashgrebe"})
    two = [records.append("site", {"name": "Ashgrebe", "owner": who}, corrects=first.id) for who in "ab"]
    settle(records, first.id, [two[0].id])
    third = records.append("site", {"name": "Ashgrebe", "owner": "c"}, corrects=first.id)
    (clash,) = clashes(records)
    assert [one.entry.id for one in clash.sides] == [two[0].id, third.id]
    settle(records, first.id, [two[0].id, third.id])
    assert clashes(records) == ()
    assert records.fold().standing(first.id) == (two[0].id, third.id)
