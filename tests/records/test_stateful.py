"""Any sequence of keeping, correcting, undoing, merging, sealing and opening again: nothing is lost, nothing raises."""

from __future__ import annotations

import random
import shutil
import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import Bundle, RuleBasedStateMachine, initialize, invariant, rule

from asfound.errors import AsFoundError, RecordError, UnknownNameError
from asfound.quantities.register import quantities
from asfound.records.entries import Entry
from asfound.records.export import as_json, take_over, visit_record
from asfound.records.seal import seal, verify
from asfound.records.store import Records
from asfound.records.tables_csv import looks_csv, readings_csv
from asfound.records.visit import view

TEXTS = st.sampled_from(
    ["x", "=1+1", "\x1b[2J", "<b>", '#read("x")', "$x$", "\u202eab", "é\u0301", "word" * 100, "a\nb", "𝔘"]
)
TIMES = st.sampled_from(["2032-07-08T15:00:00Z", "2032-07-08T09:00-06:00", "0001-01-01T00:00Z", "9999-12-31T23:59:59Z"])
STATES = st.sampled_from(["as_found", "as_left"])
KINDS = st.sampled_from(["reading", "reading", "look", "note", "visit_state"])
NUMBER = st.integers(0, 1)


@st.composite
def contents(draw: st.DrawFn, kind: str) -> dict[str, Any]:
    """Draw what a valid entry of a kind may hold, odd as it may be."""
    common = {"time": draw(TIMES)}
    if kind == "note":
        return common | {"text": draw(TEXTS)}
    if kind == "look":
        slot, character = draw(st.sampled_from([("coil", "kind"), ("temperature_inputs", "count"), ("no_such", "x")]))
        return common | {
            "slot": slot, "character": character, "state": draw(STATES), "label": draw(TEXTS),
            "states": draw(st.lists(TEXTS | st.just("something_else"), max_size=2)),
            "answer": draw(st.sampled_from(["seen", "not_there", "not_judged"])),
        }  # fmt: skip
    if kind == "visit_state":
        return common | {
            "event": draw(st.sampled_from(["stopped", "running", "isolated", "left"])),
            "says": draw(TEXTS),
        }
    about = quantities()[draw(st.sampled_from(sorted(quantities())))]
    low, high = about.plausible
    content = common | {
        "quantity": about.name, "place": draw(st.sampled_from(["engine", "site", "stack", "cylinder_1", "zz"])),
        "state": draw(STATES), "as_typed": draw(TEXTS), "gauge": draw(st.booleans()), "note": draw(TEXTS),
    }  # fmt: skip
    form = draw(st.sampled_from(["plain", "odd", "bound", "missing"]))
    if form == "bound":
        return content | {"censored": "above", "bound": high}
    if form == "missing":
        return content | {"missing": True}
    odd = st.sampled_from([0.0, -1.0, 1e-300, 1e300])
    return content | {
        "value": draw(odd if form == "odd" else st.floats(low, high)),
        "standard_uncertainty": draw(st.sampled_from([0.0, 1e-3, 1e300])),
    }


class Clock:
    """Goes on by a second, and is set back now and then."""

    def __init__(self) -> None:
        self.time = datetime(2032, 7, 8, 14, 25, tzinfo=UTC)

    def now(self) -> datetime:
        self.time += timedelta(seconds=1)
        return self.time


class Laptops(RuleBasedStateMachine):
    """Two laptops that write on visits of one engine and exchange them."""

    entries = Bundle("entries")

    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.clock = Clock()
        self.homes = [self.opened(0), self.opened(1)]
        first = self.homes[0]
        engine = first.append("engine", {"tag": "A2", "family": "HM9", "layout": {"form": "inline", "cylinders": 9}})
        self.visits = [
            first.append("visit_opened", {"began": f"2032-07-08T{hour}:00:00Z"}, engine=engine.id).id
            for hour in (14, 19)
        ]
        self.kept: list[dict[str, Entry]] = [{one.id: one for one in first.entries()}, {}]

    def opened(self, number: int) -> Records:
        folder = self.folder / str(number)
        records = Records.open(folder, clock=self.clock, randbits=random.Random(number).getrandbits)
        if not records.settings.person:
            records.home.change(person="R. Tester", zone="+00:00")
        return records

    def keep(self, number: int, kind: str, content: dict[str, Any], **where: Any) -> Entry | None:
        """Append, or be refused because the visit is sealed or not here; anything else is a fault."""
        visit = where.get("visit")
        try:
            entry = self.homes[number].append(kind, content, **where)
        except (RecordError, UnknownNameError):
            sealed = any(one.kind == "sealed" for one in self.homes[number].entries(visit=visit or ""))
            assert visit is None or visit not in self.kept[number] or sealed
            return None
        self.kept[number][entry.id] = entry
        return entry

    @rule(target=entries, number=NUMBER, visit=NUMBER, kind=KINDS, data=st.data())
    def write(self, number: int, visit: int, kind: str, data: st.DataObject) -> Entry | None:
        return self.keep(number, kind, data.draw(contents(kind)), visit=self.visits[visit])

    @rule(target=entries, number=NUMBER, of=entries, data=st.data())
    def correct(self, number: int, of: Entry | None, data: st.DataObject) -> Entry | None:
        if of is None or of.kind == "withdrawn":
            return None
        return self.keep(number, of.kind, data.draw(contents(of.kind)), corrects=of.id)

    @rule(target=entries, number=NUMBER, of=entries)
    def undo(self, number: int, of: Entry | None) -> Entry | None:
        return None if of is None else self.keep(number, "withdrawn", {"why": ""}, corrects=of.id)

    @rule(giver=NUMBER, visit=NUMBER)
    def exchange(self, giver: int, visit: int) -> None:
        if self.visits[visit] not in self.kept[giver]:
            return  # nobody can give what they do not hold
        text = as_json(visit_record(self.homes[giver], self.visits[visit], computed=False))
        taker = self.homes[1 - giver]
        take_over(taker, text)
        assert take_over(taker, text).new == 0
        given = json_ids(text)
        assert {one.id for one in taker.entries()} == set(self.kept[1 - giver]) | given
        self.kept[1 - giver] |= {name: self.kept[giver][name] for name in given}

    @rule(number=NUMBER, visit=NUMBER)
    def close_visit(self, number: int, visit: int) -> None:
        try:
            made = seal(self.homes[number], self.visits[visit])
        except AsFoundError:  # closed already, two corrections that clash, or not here
            return
        self.kept[number][made.id] = made

    @rule(number=NUMBER)
    def open_again(self, number: int) -> None:
        self.homes[number].close()
        self.homes[number] = self.opened(number)

    @rule()
    def set_the_clock_back(self) -> None:
        self.clock.time -= timedelta(hours=1)

    @invariant()
    def nothing_is_lost_or_changed(self) -> None:
        for home, kept in zip(self.homes, self.kept, strict=True):
            assert {one.id: one for one in home.entries()} == kept

    def teardown(self) -> None:
        """At the end every visit is shown, exported and verified on both."""
        if not hasattr(self, "homes"):
            return
        for home in self.homes:
            for found in home.visits():
                seen = view(home, found.id)
                assert seen.next_thing.says or seen.sealed
                visit_record(home, found.id)
                readings_csv(seen)
                looks_csv(seen)
                seals = [one for one in seen.entries_all if one.kind == "sealed"]
                if seals:
                    said = verify(home, found.id)  # what came in by a merge after the seal is named, and nothing else
                    assert {one.id for one in said.faults} == {one.id for one in (*seals[1:], *seen.late)}
                    assert {one.what for one in said.faults} <= {"added"}
                    assert any("closed 2 times" in one for one in seen.problems) == (len(seals) == 2)
            home.close()
        shutil.rmtree(self.folder)


def json_ids(text: str) -> set[str]:
    """Return the identifiers of all entries of an exported record."""
    import json

    record = json.loads(text)
    return {one["id"] for one in (*record["context"], *record["entries"])}


TestLaptops = pytest.mark.slow(Laptops.TestCase)
TestLaptops.settings = settings(
    max_examples=5, stateful_step_count=15, deadline=None, suppress_health_check=list(HealthCheck)
)
