"""Homes to begin with: the invented demo world, or an empty one.

The demo home holds three sites, seven engines and a visit to each, a second one to A3, and a quarterly check of A2
before the one that is open; all others are closed. Its clock stands at the moment of the story when it is made, and
runs on. A home of a later day holds what came after: A2's visit to its end, the visits of the year after, oil and work
orders between them. Identifiers and device are seeded, so the same program makes the same record each time.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.errors import RecordError
from asfound.records import demo_upkeep, demo_visit
from asfound.records.home import Home
from asfound.records.kinds import OF_AN_ENGINE
from asfound.records.seal import seal
from asfound.records.store import Draft, Records
from asfound.sources.tables import load_yaml, read_text

if TYPE_CHECKING:
    import os

STORY_NOW = datetime.fromisoformat("2032-07-08T11:52:00-06:00")
"""When the demo's clock starts: after the last entry of its story."""
VISITS = (
    "a2_april", "n1", "n2", "a3", "a1", "d1", "d2", "a3_coil", "a2",
    "a1_august", "n1_november", "n2_january", "d1_march", "d2_march",
)  # fmt: skip
LAST_DAY = date(2033, 6, 29)
"""Of the story and of its logs."""
PERSON = "R. Imber"
DEVICE = "demo00laptop"
SEED = 48


class StoryClock:
    """Tells the moments of the story in order, one each time it is asked, then stays at the last."""

    def __init__(self, moment: datetime) -> None:
        self.moment = moment
        self.coming: list[datetime] = []

    def now(self) -> datetime:
        """Return the next moment."""
        if self.coming:
            self.moment = self.coming.pop(0)
        return self.moment


def make_demo_home(path: str | os.PathLike[str], *, until: date | None = None) -> Home:
    """Make the demo home in a folder and return it.

    Parameters
    ----------
    until : date, optional
        Last day that is told; the clock then stands on the morning after it. The day of A2's open visit without one,
        and for an earlier day.

    Raises
    ------
    RecordError
        There is a record in that folder already.
    """
    home = _new(path)
    now = clock_after(until)
    zone = now.strftime("%z")
    home.change(
        person=PERSON,
        device=DEVICE,
        demo=True,
        zone=f"{zone[:3]}:{zone[3:]}",
        clock_offset=(now - datetime.now(UTC)).total_seconds(),
    )
    clock = StoryClock(now)
    with Records.open(home.folder, clock=clock, randbits=random.Random(SEED).getrandbits) as records:
        world = load_yaml("asfound.records", "data/demo/world.yaml")
        names = _world(records, clock, world)
        actions = [one for visit in VISITS for one in demo_visit.actions(visit, names, now)]
        actions += demo_upkeep.actions(names, f"{STORY_NOW:%Y-%m-%d}")
        if now > STORY_NOW:
            from asfound.records import demo_papers  # makes the logs that the papers go with: NumPy at work

            actions += demo_papers.actions(names, STORY_NOW.date(), now.date())
        _play(records, clock, sorted(actions, key=lambda one: one.time))
        clock.moment = now
    return home


def clock_after(until: date | None) -> datetime:
    """Return where the demo's clock stands when its last day is over; on the day of A2's open visit in its midst."""
    if until is None or until <= STORY_NOW.date():
        return STORY_NOW
    return datetime.combine(until + timedelta(days=1), time(8), STORY_NOW.tzinfo)


def make_empty_home(path: str | os.PathLike[str], *, person: str = "") -> Home:
    """Make an empty home in a folder and return it.

    Raises
    ------
    RecordError
        There is a record in that folder already.
    """
    home = _new(path)
    home.change(person=person)
    Records.open(home.folder).close()
    return home


def _new(path: str | os.PathLike[str]) -> Home:
    """Return a home that is not there yet."""
    home = Home(Path(path))
    if home.exists:
        raise RecordError(f"There is a record in {home.folder} already; it was not touched. Name another folder.")
    return home


def _world(records: Records, clock: StoryClock, world: dict[str, Any]) -> demo_visit.Names:
    """Write sites, instruments, engines and limits; return their identifiers."""
    clock.moment = datetime.fromisoformat(str(world["written"]["at"]).replace("Z", "+00:00"))
    who = world["written"]["who"]
    drafts = [Draft(kind="site", content=content, who=who) for content in world["sites"].values()]
    drafts += [
        Draft(kind="instrument", content=demo_visit.instrument(content), who=who)
        for content in world["instruments"].values()
    ]
    written = iter(records.append_many(drafts))
    tables = read_text("asfound.power", "data/demo_derate.yaml").encode()
    records.attach(tables, "derating.yaml", "application/yaml")
    sites = {name: next(written).id for name in world["sites"]}
    instruments = {name: next(written).id for name in world["instruments"]}
    drafts = [
        Draft(kind="engine", content=demo_visit.engine(tag, given, sites), who=who)
        for tag, given in world["engines"].items()
    ]
    engines = {tag: one.id for tag, one in zip(world["engines"], records.append_many(drafts), strict=True)}
    records.append_many(
        [
            Draft(kind="limit", content=demo_visit.limit(tag, text), engine=engines[tag], who=who)
            for tag, given in world["engines"].items()
            for text in given["limits"]
        ]
    )
    zones = {tag: world["sites"][given["site"]]["zone"] for tag, given in world["engines"].items()}
    return demo_visit.Names(sites=sites, engines=engines, instruments=instruments, zones=zones)


def _play(records: Records, clock: StoryClock, actions: list[demo_visit.Action]) -> None:
    """Write everything in the order in which it happened: many at a time, up to each seal."""
    written: dict[str, str] = {}
    waiting: list[demo_visit.Action] = []
    for action in actions:
        if action.what == "seal":
            _write(records, clock, waiting, written)
            waiting = []
            clock.moment = action.time
            seal(records, written[action.visit], who=action.who, statement=action.statement)
        else:
            waiting.append(action)
    _write(records, clock, waiting, written)


def _write(records: Records, clock: StoryClock, actions: list[demo_visit.Action], written: dict[str, str]) -> None:
    """Write entries in one transaction; ``written`` gets the identifiers that later entries refer to by name."""
    here: dict[str, str] = {}
    drafts: list[Draft] = []
    for action in actions:
        for content, name, media_type in action.files:
            records.attach(content, name, media_type)
        draft = action.draft
        assert draft is not None
        links: dict[str, Any] = {}
        if draft.kind not in ("visit_opened", *OF_AN_ENGINE):
            links["visit"] = here.get(action.visit) or written[action.visit]
        if draft.corrects is not None:
            links["corrects"] = here.get(draft.corrects) or written.get(draft.corrects, draft.corrects)
        if draft.kind == "point_done":
            draft = replace(draft, content={**draft.content, "point": written[draft.content["point"]]})
        name = action.visit if draft.kind == "visit_opened" else action.name
        if name:
            here[name] = f"#{len(drafts)}"
        drafts.append(replace(draft, who=action.who, **links))
    clock.coming = [action.time for action in actions]
    entries = records.append_many(drafts)
    written |= {name: entries[int(place[1:])].id for name, place in here.items()}
