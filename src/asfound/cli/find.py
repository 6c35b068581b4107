"""From the words of the command line to the things of the record."""

from __future__ import annotations

import getpass
import re
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal

from asfound.errors import InputError, RecordError, UnknownNameError

if TYPE_CHECKING:
    from asfound.cli.options import Hand, Home
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import EngineRecord, Thing, VisitRecord
    from asfound.records.visit import VisitView

State = Literal["as_found", "as_left"]
_STATE_WORDS: dict[str, State] = {
    "as_found": "as_found", "as-found": "as_found", "found": "as_found",
    "as_left": "as_left", "as-left": "as_left", "left": "as_left",
}  # fmt: skip
_CLOCK = re.compile(r"(\d{1,2})[:.](\d{2})(?:[:.](\d{2}))?")


def opened(where: Home, *, begin: bool = False) -> Records:
    """Return the record; one that was never begun is not begun by looking at it.

    Raises
    ------
    RecordError
        There is none, and ``begin`` is false.
    """
    from asfound.records.home import Home as Folder
    from asfound.records.store import Records

    if "://" not in where.home:
        folder = Folder(where.home or None)
        if not begin and not folder.exists:
            raise RecordError(
                f"There is no record in {folder.folder} yet. Make one with `asfound demo FOLDER` or "
                "`asfound engine add`, or name another folder with --home."
            )
    return Records.open(where.home or None)


def writer(hand: Hand, records: Records) -> str:
    """Return who writes: as said, else as set in the home, else the name of this user on this machine."""
    return hand.who or records.settings.person or getpass.getuser()


def visit_of(records: Records, name: str) -> VisitRecord:
    """Return a visit by tag (the open one, else the latest), by tag/date, or by the beginning of its identifier."""
    of_engine = [one for one in records.engines() if one.tag.casefold() == name.casefold()]
    if len(of_engine) == 1:
        visits = records.visits(of_engine[0].id)
        if not visits:
            raise RecordError(f"{of_engine[0].tag} has had no visit. Open one: asfound visit open {of_engine[0].tag}")
        return ([one for one in visits if one.sealed is None] or list(visits))[-1]
    if re.fullmatch(r"[0-9a-f-]{6,36}", name):
        found = [one for one in records.visits() if one.id.startswith(name)]
        if len(found) == 1:
            return found[0]
    try:
        return records.visit(name)
    except UnknownNameError:
        known = [one.tag for one in records.engines()] + [one.name for one in records.visits()]
        raise UnknownNameError("engine or visit", name, known) from None


def view_of(records: Records, name: str) -> VisitView:
    """Return what the entries of a visit add up to."""
    from asfound.records.visit import view

    return view(records, visit_of(records, name).id)


def entry_of(records: Records, name: str, visit: str | None = None) -> Entry:
    """Return an entry by its identifier or by enough of its beginning or end to be the only one."""
    found = [one for one in records.entries(visit=visit) if one.id.startswith(name) or one.id.endswith(name)]
    if len(found) > 1:
        raise InputError(
            "entry", name, f"is the beginning or end of {len(found)} identifiers", try_next="Give more of it."
        )
    if not found or len(name) < 4:
        raise UnknownNameError("entry", name, [one.id for one in records.entries(visit=visit)])
    return found[0]


def instrument_of(records: Records, name: str) -> Thing:
    """Return an instrument by name, serial or identifier."""
    every = list(records.instruments().values())

    def words(one: Thing) -> tuple[str, ...]:
        return one.id, str(one.content["name"]).casefold(), str(one.content.get("serial", "")).casefold()

    found = [one for one in every if name.casefold() in words(one)]
    if len(found) > 1:
        serials = ", ".join(str(one.content.get("serial") or one.id) for one in found)
        raise InputError("instrument", name, "is the name of several", allowed=serials, try_next="Say its serial.")
    if not found:
        names = [str(one.content[field]) for one in every for field in ("serial", "name") if one.content.get(field)]
        raise UnknownNameError("instrument", name, names)
    return found[0]


def site_of(records: Records, name: str) -> str:
    """Return the identifier of a site by its name."""
    every = records.sites().values()
    found = [one for one in every if name.casefold() in (one.name.casefold(), one.id)]
    if len(found) != 1:
        raise UnknownNameError("site", name, [one.name for one in every])
    return found[0].id


def state_of(word: str) -> State | None:
    """Return the state that a word names; None when it names none."""
    return _STATE_WORDS.get(word.casefold())


def time_of(records: Records, text: str, *, field: str = "at") -> str:
    """Return a time as the record writes it: now when nothing is said, a clock time of today, or a full time.

    Raises
    ------
    InputError
        It is no time, or lies after now.
    """
    now = records.clock.now()
    if not text:
        return now.isoformat(timespec="seconds")
    clock = _CLOCK.fullmatch(text.strip())
    try:
        if clock:
            hour, minute, second = (int(part or 0) for part in clock.groups())
            when = now.replace(hour=hour, minute=minute, second=second, microsecond=0)
        else:
            when = datetime.fromisoformat(text.strip())
            when = when if when.tzinfo else when.replace(tzinfo=now.tzinfo)
    except ValueError:
        raise InputError(
            field, text, "is no time", allowed="09:52, or 2032-07-08T09:52 with or without -06:00"
        ) from None
    return when.isoformat(timespec="seconds")


def engine_name(engine: EngineRecord) -> str:
    """Return tag and site."""
    return f"{engine.tag}, {engine.site.name}" if engine.site else engine.tag


def kept(entry: Entry) -> dict[str, Any]:
    """Return what a command answers about an entry that it has kept."""
    return {"entry": entry.id, "kind": entry.kind, "at": entry.at, "who": entry.who, "content": dict(entry.content)}


def tail(identifier: str) -> str:
    """Return the end of an identifier: enough to name it on the command line."""
    return identifier[-8:]
