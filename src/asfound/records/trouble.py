"""What a record knows of the trouble of a visit: what was told of it, for the room that weighs it."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from asfound.records.trouble_codes import faults_read
from asfound.records.trouble_files import own_code_names, own_knowledge
from asfound.troubleshoot.protections import ProtectionSaid, protections
from asfound.troubleshoot.told import AllowedSaid, ClosedCase, ClosedSaid, Said, Told

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import VisitRecord

OF_A_CASE = ("trouble_symptom", "trouble_step", "trouble_closed")


def told_of(records: Records, visit: VisitRecord, entries: Iterable[Entry], problems: list[str] | None = None) -> Told:
    """Return all that the record knows of the trouble of a visit.

    Parameters
    ----------
    entries : iterable of Entry
        Entries of the visit that stand.
    problems : list of str, optional
        Gets in words which files of the home are wrong; they are left out until they are put right.
    """
    kept = list(entries)
    said: list[Said] = []
    closed: ClosedSaid | None = None
    before = 0
    for one in sorted((one for one in kept if one.kind in OF_A_CASE), key=_moment):
        if one.kind == "trouble_closed":
            closed = _closed(one)
            continue
        if closed is not None:
            said, closed, before = [], None, before + 1
        said.append(_said(one))
    wrong: list[str] = []
    own = own_knowledge(records, wrong)
    names = own_code_names(records, wrong)
    if problems is not None:
        problems += wrong
    return Told(
        said=tuple(said),
        closed=closed,
        before=before,
        allowed=_allowed(kept),
        cases=closed_cases(records, but=visit),
        counted=records.settings.count_closed,
        protections=tuple(_protection(one) for one in kept if one.kind == "protection_seen"),
        faults=tuple(faults_read(one, wrong) for one in kept if one.kind == "fault_codes"),
        names=names,
        own=own,
        problems=tuple(wrong),
    )


def _moment(entry: Entry) -> tuple[float, str]:
    """Return when something happened, as told; ties in the order in which it was written."""
    return datetime.fromisoformat(str(entry.content["time"])).timestamp(), entry.id


def _said(entry: Entry) -> Said:
    content = entry.content
    return Said(
        about=str(content.get("symptom") or content["step"]),
        says=str(content["says"]),
        place=str(content.get("place", "")),
        time=str(content["time"]),
        by=str(content.get("by") or entry.who),
        note=str(content.get("note", "")),
        minutes=content.get("minutes"),
        entry=entry.id,
    )


def _closed(entry: Entry) -> ClosedSaid:
    content = entry.content
    return ClosedSaid(
        cause=str(content["cause"]),
        confirmed=content["confirmed"],
        part=str(content.get("part", "")),
        note=str(content.get("note", "")),
        time=str(content["time"]),
        by=str(content.get("by") or entry.who),
        entry=entry.id,
    )


def _allowed(entries: Iterable[Entry]) -> AllowedSaid | None:
    found = [one for one in entries if one.kind == "trouble_allowed"]
    if not found:
        return None
    last = max(found, key=_moment)
    content = last.content
    return AllowedSaid(
        can_run=bool(content.get("can_run", True)),
        may_stop=bool(content.get("may_stop", True)),
        may_isolate=bool(content.get("may_isolate", True)),
        barred=tuple(str(one) for one in content.get("barred", ())),
        why=str(content.get("why", "")),
        time=str(content["time"]),
        by=str(content.get("by") or last.who),
        entry=last.id,
    )


def _protection(entry: Entry) -> ProtectionSaid:
    content = entry.content
    name = str(content["protection"])
    known = protections().get(name)
    return ProtectionSaid(
        id=name,
        title=str(content.get("called") or (known.title if known else name)),
        says=content["says"],
        place=str(content.get("place", "")),
        by=str(content.get("by") or entry.who),
        time=str(content["time"]),
        note=str(content.get("note", "")),
        entry=entry.id,
        state=str(content.get("state", "as_found")),
    )


def closed_cases(records: Records, *, but: VisitRecord | None = None) -> tuple[ClosedCase, ...]:
    """Return the closed cases of all engines of the home, oldest first.

    Parameters
    ----------
    but : VisitRecord, optional
        A visit whose own cases are left out; where it is sealed, so are cases that were closed after its seal: what it
        showed when it was closed stays what it shows.
    """
    seal = but.sealed if but is not None else None
    return tuple(
        case
        for case, entry in _cases(records)
        if (but is None or entry.visit != but.id) and (seal is None or entry.at <= seal.at)
    )


def _cases(records: Records) -> tuple[tuple[ClosedCase, Entry], ...]:
    """Return every closed case that stands with its entry, oldest first; put together anew when one came."""
    standing = records.standing("trouble_closed")
    if not standing:
        return ()
    names: dict[str | None, VisitRecord] = {one.id: one for one in records.visits()}
    tags = {one.id: one.tag for one in records.engines()}
    key = (standing, tuple(names[one.visit].name for one in standing if one.visit in names))

    def work() -> tuple[tuple[ClosedCase, Entry], ...]:
        found = [
            (
                _moment(one),
                ClosedCase(
                    cause=str(one.content["cause"]),
                    confirmed=one.content["confirmed"],
                    visit=names[one.visit].name,
                    engine=tags.get(names[one.visit].engine, ""),
                    date=str(one.content["time"])[:10],
                    entry=one.id,
                ),
                one,
            )
            for one in standing
            if one.visit in names
        ]
        return tuple((case, entry) for _, case, entry in sorted(found, key=lambda each: each[0]))

    made: tuple[tuple[ClosedCase, Entry], ...] = records.remembered(key, work, slot=("closed cases",))
    return made
