"""A store as a service office has it after some years: 500 engines on 40 sites, 5,000 visits, most of them closed.

Every engine is one of the invented demo world under another tag, every visit one of its visits on another day with
readings that differ a little; what was typed and its value belong together, seals are real and hold. Seeded: the same
numbers give the same entries. Made once into a temporary folder and found there again.

python -m benchmarks.big_store [FOLDER]
"""

from __future__ import annotations

import argparse
import json
import re
import shutil
import tempfile
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import Any

from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantity
from asfound.records.demo import make_demo_home
from asfound.records.entries import Entry, make_id
from asfound.records.home import Home
from asfound.records.seal import FORM, attachments, seal_digest
from asfound.records.store import Records

ENGINES, VISITS, SITES = 500, 5_000, 40
SEED = 8
FORM_OF_STORE = 3
"""Counts on with each change of this file that changes the entries."""
NEWEST = date(2032, 7, 6)
DEVICE = "bigstore0lap"
FIRST = ("Orvel", "Skarb", "Brenna", "Tolve", "Drumm", "Hesk", "Grann", "Vorl", "Pirr", "Ulmet")
LAST = ("grebe station", "mirrow works", "thwick power house", "orby compressors")
WHO = ("R. Imber", "M. Falk", "T. Ostrand", "J. Quill", "A. Vess")
MOVED = 0.01
"""Spread of a reading round that of the demo, as a share of it."""
EXACT = {"engine_starts", "required_methane_number", "active_faults", "stored_faults", "engine_hours", "engine_speed"}
FEWEST, MOST = 40, 90
_ID = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@dataclass(frozen=True, slots=True)
class Pattern:
    """What one engine of the demo gives to its likes."""

    tag: str
    own: tuple[Entry, ...]
    """Its entries outside visits; the first is the engine."""
    visits: tuple[tuple[Entry, ...], ...]
    hours: tuple[tuple[int, float], ...]
    """Day number and reading of its hour meter, in hours."""


def big_store(
    folder: Path | str | None = None, *, engines: int = ENGINES, visits: int = VISITS, sites: int = SITES
) -> Path:
    """Return the folder of the store, made where it is not there yet."""
    name = f"asfound-big-store-{FORM_OF_STORE}-{engines}-{visits}"
    where = Path(folder) if folder is not None else Path(tempfile.gettempdir()) / name
    if (where / "whole").exists():
        return where
    shutil.rmtree(where, ignore_errors=True)
    _make(where, engines, visits, sites)
    (where / "whole").write_text("made to its end\n")
    return where


def _make(where: Path, engines: int, visits: int, sites: int) -> None:
    shutil.rmtree(where.with_name(where.name + ".demo"), ignore_errors=True)
    make_demo_home(where.with_name(where.name + ".demo"))
    with Records.open(where.with_name(where.name + ".demo")) as demo:
        patterns = [_pattern(demo, one.id) for one in demo.engines()]
        of_home = demo.fold().current
        site_patterns = {one.id: one for one in of_home if one.kind == "site"}
        instruments = [one for one in of_home if one.kind == "instrument"]
        files = demo.home.files
        settings = demo.settings
    home = Home(where)
    Records.open(where).close()
    shutil.copytree(files, where / "files", dirs_exist_ok=True)
    home.change(person="R. Imber", device=DEVICE, zone=settings.zone, clock_offset=settings.clock_offset, demo=True)
    random = Random(SEED)
    ids = _Ids(random)
    at = datetime(2029, 1, 1, tzinfo=UTC)
    tools = [_again(one, ids, at, {}) for _ in range(8) for one in instruments]
    places = [_site(at, ids, nr, list(site_patterns.values())) for nr in range(sites)]
    with Records.open(where) as records:
        records.merge([*tools, *places])
        waiting: list[Entry] = []
        for nr in range(engines):
            many = visits * (nr + 1) // engines - visits * nr // engines
            pattern = patterns[nr % len(patterns)]
            place = places[nr * sites // engines]
            waiting += _engine(random, ids, pattern, instruments, tools, place, nr, many, where / "files")
            if len(waiting) > 20_000 or nr == engines - 1:
                records.merge(waiting)
                waiting = []
    shutil.rmtree(where.with_name(where.name + ".demo"), ignore_errors=True)


class _Ids:
    """Identifiers by the time of writing, each one once."""

    def __init__(self, random: Random) -> None:
        self.random = random

    def at(self, moment: datetime, after: str | None = None) -> str:
        return make_id(int(moment.timestamp() * 1000), after, randbits=self.random.getrandbits)


def _pattern(demo: Records, engine: str) -> Pattern:
    """Return what an engine of the demo gives to its likes: entries that stand, no corrections."""
    from asfound.records.upkeep_of_engine import upkeep_of

    record = demo.engine(engine)
    own = [one for one in demo.fold(engine).current if one.kind != "engine"]
    visits = []
    for visit in demo.visits(engine):
        kept = [one for one in demo.fold(engine, visit.id).current if one.kind not in ("sealed", "addendum")]
        visits.append(tuple(sorted((replace(one, corrects=None) for one in kept), key=_told)))
    seen = {one.day.toordinal(): one.true for one in upkeep_of(demo, record).readings}
    return Pattern(
        record.tag,
        (replace(record.entry, id=engine, corrects=None), *own),
        tuple(visits),
        tuple(sorted(seen.items())),
    )


def _told(entry: Entry) -> tuple[bool, str]:
    return entry.kind != "visit_opened", entry.id


def _site(at: datetime, ids: _Ids, nr: int, patterns: Sequence[Entry]) -> Entry:
    pattern = patterns[nr % len(patterns)]
    name = f"{FIRST[nr % len(FIRST)]}{LAST[nr // len(FIRST) % len(LAST)]}"
    made = _again(pattern, ids, at, {})
    return replace(made, content={**made.content, "name": name})


def _again(entry: Entry, ids: _Ids, at: datetime, known: dict[str, str], **links: Any) -> Entry:
    """Return an entry as written anew at another time; identifiers inside it follow ``known``."""
    identifier = ids.at(at)
    text = json.dumps(dict(entry.content))
    content = json.loads(_ID.sub(lambda found: known.get(found[0], found[0]), text))
    known[entry.id] = identifier
    return replace(
        entry, id=identifier, at=at.isoformat(timespec="milliseconds"), device=DEVICE, content=content, **links
    )


def _engine(
    random: Random,
    ids: _Ids,
    pattern: Pattern,
    instruments: Sequence[Entry],
    tools: Sequence[Entry],
    place: Entry,
    nr: int,
    many: int,
    files: Path,
) -> Iterator[Entry]:
    """Yield the entries of one engine and its visits, the older first."""
    known = {one.id: tools[len(instruments) * (nr % 8) + at].id for at, one in enumerate(instruments)}
    at = datetime(2029, 2, 1, tzinfo=UTC) + timedelta(hours=nr)
    first = _again(pattern.own[0], ids, at, known)
    content = {**first.content, "tag": _tag(pattern.tag, nr), "works_number": str(30_000 + nr), "site": place.id}
    first = replace(first, engine=first.id, content=content)
    yield first
    context = [first, place]
    for entry in pattern.own[1:]:
        # upkeep is written on the day that it tells of, the rest with the engine
        told = datetime.fromisoformat(str(entry.content.get("date") or "2031-01-02")).replace(hour=18, tzinfo=UTC)
        made = _again(entry, ids, max(at + timedelta(minutes=1), told), known, engine=first.id)
        if made.kind == "limit":
            context.append(made)
        yield made
    before: Entry | None = None
    days = sorted(random.sample(range(0, 900, 5), many), reverse=True)
    for turn, back in enumerate(days):
        day = NEWEST - timedelta(days=back)
        of_visit = pattern.visits[random.randrange(len(pattern.visits))]
        entries = _visit(random, ids, pattern, of_visit, dict(known), first.id, day)
        yield from entries
        if turn < many - 1 or random.random() < 0.7:
            before = _seal(ids, entries, context, tools, before, files)
            yield before


def _tag(pattern: str, nr: int) -> str:
    """Return a tag as a station gives it: what is driven, the station's number, the engine's."""
    letter = "K" if pattern.startswith("A") else "G"
    return f"{letter}{nr * SITES // ENGINES + 1:02d}{nr % 100:02d}"


def _visit(
    random: Random, ids: _Ids, pattern: Pattern, entries: Sequence[Entry], known: dict[str, str], engine: str, day: date
) -> list[Entry]:
    """Return the entries of one visit on another day."""
    began = date.fromisoformat(str(entries[0].content["began"])[:10])
    moved = day - began
    made: list[Entry] = []
    visit = ""
    last: str | None = None
    for entry in _enough(random, entries):
        at = datetime.fromisoformat(entry.at) + moved
        content = _days(entry.content, began, day)
        if entry.kind == "reading":
            content = _reading(random, content, pattern, day)
        identifier = ids.at(at, last if last and at.timestamp() * 1000 <= _ms(last) else None)
        last = identifier
        visit = visit or identifier
        known[entry.id] = identifier
        text = _ID.sub(lambda found: known.get(found[0], found[0]), json.dumps(content))
        made.append(
            replace(
                entry,
                id=identifier,
                at=at.isoformat(timespec="milliseconds"),
                device=DEVICE,
                engine=engine,
                visit=visit,
                content=json.loads(text),
            )
        )
    return made


def _ms(identifier: str) -> int:
    return int(identifier.replace("-", "")[:12], 16)


def _enough(random: Random, entries: Sequence[Entry]) -> list[Entry]:
    """Return the entries of a visit with 40 to 90 readings: taken again as left where the demo's are fewer."""
    readings = [one for one in entries if one.kind == "reading"]
    there = {(one.content["place"], one.content["quantity"]) for one in readings if one.content["state"] == "as_left"}
    again = [
        replace(one, id=f"left of {one.id}", content={**one.content, "state": "as_left"})
        for one in readings
        if one.content["state"] == "as_found"
        and not one.content.get("missing")
        and (one.content["place"], one.content["quantity"]) not in there
        and not str(one.content["quantity"]).startswith("fuel_")
    ]
    wanted = random.randint(FEWEST, 60) - len(readings)
    return [*entries, *again[: max(0, min(wanted, MOST - len(readings)))]]


def _days(content: Mapping[str, Any], began: date, day: date) -> dict[str, Any]:
    """Return content with the day of the visit in the place of the pattern's."""
    text: dict[str, Any] = json.loads(json.dumps(dict(content)).replace(began.isoformat(), day.isoformat()))
    return text


def _reading(random: Random, content: dict[str, Any], pattern: Pattern, day: date) -> dict[str, Any]:
    """Return a reading that differs a little; the gas and what is counted stay as they are, hours go with the day."""
    name = str(content["quantity"])
    if content.get("missing") or content.get("value") is None or content.get("censored"):
        return content
    typed = str(content["as_typed"])
    if name == "engine_hours":
        typed = f"{_hours(pattern, day):.0f} h"
    elif name not in EXACT and not name.startswith("fuel_"):
        number = _NUMBER.match(typed)
        if number is None:
            return content
        digits = len(number[0].partition(".")[2])
        typed = f"{float(number[0]) * (1.0 + MOVED * random.gauss(0.0, 1.0)):.{digits}f}{typed[number.end() :]}"
    return {**content, **_amount(typed, name)}


@lru_cache(maxsize=200_000)
def _parsed(typed: str, name: str) -> tuple[float | None, str, bool]:
    unit = "1" if quantity(name).si_unit == "1" else None
    amount = parse_amount(typed, quantity=name, decimal=".", default_unit=unit)
    return amount.value, amount.unit, amount.gauge


def _amount(typed: str, name: str) -> dict[str, Any]:
    value, unit, gauge = _parsed(typed, name)
    return {"as_typed": typed, "value": value, "unit": unit, "gauge": gauge}


def _hours(pattern: Pattern, day: date) -> float:
    """Return what the meter shows on a day, by what the pattern's showed."""
    points = pattern.hours or ((date(2031, 1, 1).toordinal(), 40_000.0),)
    at = day.toordinal()
    left = max((one for one in points if one[0] <= at), default=points[0])
    right = min((one for one in points if one[0] > at), default=None)
    if right is None or at < points[0][0]:
        return max(left[1] + 20.0 * (at - left[0]), 100.0)
    return left[1] + (right[1] - left[1]) * (at - left[0]) / (right[0] - left[0])


def _seal(
    ids: _Ids,
    entries: Sequence[Entry],
    context: Sequence[Entry],
    tools: Sequence[Entry],
    before: Entry | None,
    files: Path,
) -> Entry:
    """Return the seal that closes a visit, as `records.seal` writes it."""
    named = {one.content.get("instrument") for one in entries if one.kind == "reading"}
    stands_on = sorted([*context, *(one for one in tools if one.id in named)], key=lambda one: one.id)
    at = datetime.fromisoformat(entries[-1].at) + timedelta(minutes=20)
    identifier = ids.at(at, entries[-1].id)
    opened = entries[0]
    ordered = sorted(entries, key=lambda one: one.id)
    content: dict[str, Any] = {
        "seal": FORM,
        "id": identifier,
        "at": at.isoformat(timespec="milliseconds"),
        "who": opened.who,
        "device": DEVICE,
        "engine": opened.engine,
        "visit": opened.id,
        "context": [_line(one) for one in stands_on],
        "entries": [_line(one) for one in ordered],
        "attachments": [_size(one, files) for one in attachments([*ordered, *stands_on])],
        "statement": "",
    }
    if before is not None:
        content["previous"] = {"id": before.id, "visit": before.visit, "digest": before.content["digest"]}
    content["digest"] = seal_digest(content)
    return Entry(
        id=identifier, at=content["at"], who=opened.who, device=DEVICE, engine=opened.engine, visit=opened.id,
        kind="sealed", content=content,
    )  # fmt: skip


def _line(entry: Entry) -> dict[str, str]:
    return {"id": entry.id, "digest": entry.digest()}


@lru_cache(maxsize=1_000)
def _size_of(path: Path) -> int:
    return path.stat().st_size


def _size(digest: str, files: Path) -> dict[str, Any]:
    return {"digest": digest, "size": _size_of(files / digest[:2] / digest)}


def main() -> int:
    """Make the store and say what it holds."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("folder", nargs="?", help="where it is made; else in the folder of temporary files")
    folder = asked.parse_args().folder
    began = time.perf_counter()
    where = big_store(folder)
    print(f"{where}: {time.perf_counter() - began:.0f} s")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
