"""What people tell of trouble: doors to its entries, and what the entries add up to for the room that weighs them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal

from asfound.errors import AsFoundError, InputError, KnowledgeError, UnknownNameError
from asfound.records.stamps import closed_stamp
from asfound.records.trouble_codes import faults_read, read_fault_codes
from asfound.troubleshoot.fault_names import OWN_CODES, CodeName, read_names
from asfound.troubleshoot.generic import OWN_FILE, generic, with_own
from asfound.troubleshoot.protections import OTHER, ProtectionSaid, protections
from asfound.troubleshoot.told import AllowedSaid, ClosedCase, ClosedSaid, Confirmed, Said, Told

if TYPE_CHECKING:
    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.things import VisitRecord
    from asfound.records.visit import VisitView
    from asfound.troubleshoot.knowledge import Knowledge

__all__ = [
    "close_case",
    "closed_cases",
    "knowledge_of",
    "read_fault_codes",
    "say_allowed",
    "say_protection",
    "say_step",
    "say_symptom",
    "set_count_closed",
    "told_of",
]

SYMPTOM_SAYS = ("present", "absent", "not_judged", "not_told")
TEST_SAYS = ("positive", "negative", "not_judged", "not_done", "not_told")
REPAIR_SAYS = ("cured", "fails", "not_judged", "not_done", "not_told")
OF_A_CASE = ("trouble_symptom", "trouble_step", "trouble_closed")


# ---------------------------------------------------------------------- telling


def say_symptom(
    records: Records,
    view: VisitView,
    symptom: str,
    says: str,
    *,
    place: str = "",
    by: str = "",
    note: str = "",
    who: str,
    time: str = "",
    state: Literal["as_found", "as_left"] | None = None,
) -> Entry:
    """Keep what is said of a symptom: present, absent (looked for), not_judged; not_told takes it back.

    Raises
    ------
    UnknownNameError
        The knowledge at hand has no such symptom.
    InputError
        Nothing that can be said of a symptom.
    """
    known = knowledge_of(records)
    if symptom not in known.symptoms:
        raise UnknownNameError("symptom", symptom, known.symptoms)
    _one_of("says", says, SYMPTOM_SAYS)
    content = {"symptom": symptom, "says": says, **_common(records, view, place, by, note, time, state)}
    return records.append("trouble_symptom", content, visit=view.id, who=who)


def say_step(
    records: Records,
    view: VisitView,
    step: str,
    says: str,
    *,
    place: str = "",
    minutes: float | None = None,
    by: str = "",
    note: str = "",
    who: str,
    time: str = "",
    state: Literal["as_found", "as_left"] | None = None,
) -> Entry:
    """Keep the outcome of a test or repair.

    A swap that was made, and a repair, are kept as a change of the engine besides: they stand on the day's line.

    Raises
    ------
    UnknownNameError
        The knowledge at hand has no such step.
    InputError
        Nothing that can be said of it: a test is positive or negative, a repair cured or fails.
    """
    from asfound.records.store import Draft

    known = knowledge_of(records)
    if step not in known.tests and step not in known.repairs:
        raise UnknownNameError("test or repair", step, (*known.tests, *known.repairs))
    repair = step in known.repairs
    _one_of("says", says, REPAIR_SAYS if repair else TEST_SAYS)
    common = _common(records, view, place, by, note, time, state)
    content: dict[str, Any] = {"step": step, "says": says, **common}
    if minutes is not None:
        content["minutes"] = minutes
    drafts = [Draft(kind="trouble_step", content=content, visit=view.id, who=who)]
    if says not in ("not_done", "not_told") and (repair or known.tests[step].moves):
        drafts.append(Draft(kind="visit_state", content=_changed(known, step, common, minutes), visit=view.id, who=who))
    return records.append_many(drafts)[0]


def _changed(known: Knowledge, step: str, common: Mapping[str, Any], minutes: float | None) -> dict[str, Any]:
    """Return the change of the engine that a swap or a repair is."""
    where = f", {common['place']}" if common.get("place") else ""
    words = known.step(step).title
    says = f"{'Repair' if step in known.repairs else 'Parts changed place'}: {words}{where}."
    event: dict[str, Any] = {"event": "changed", "time": common["time"], "says": says}
    if minutes is not None:
        event["minutes"] = minutes
    return event


def say_allowed(
    records: Records,
    view: VisitView,
    *,
    can_run: bool = True,
    may_stop: bool = True,
    may_isolate: bool = True,
    barred: Sequence[str] = (),
    why: str = "",
    by: str = "",
    who: str,
    time: str = "",
) -> Entry:
    """Keep what may be done with the engine now; hazards that are barred by their tags in the register of cautions."""
    from asfound.sources.cautions import tags

    for tag in barred:
        if tag not in tags():
            raise UnknownNameError("hazard", tag, sorted(tags()))
    content = {
        "can_run": can_run, "may_stop": may_stop, "may_isolate": may_isolate, "barred": list(barred), "why": why,
        "by": by, "time": time or _now(records),
    }  # fmt: skip
    return records.append("trouble_allowed", content, visit=view.id, who=who)


def close_case(
    records: Records,
    view: VisitView,
    cause: str,
    confirmed: Confirmed,
    *,
    part: str = "",
    by: str = "",
    note: str = "",
    who: str,
    time: str = "",
) -> Entry:
    """Keep the end of a case; it counts for the priors where the cause is confirmed. `Records.undo` takes it back.

    Raises
    ------
    UnknownNameError
        A cause that is neither in the knowledge nor ``other``.
    InputError
        Nothing was told of this trouble, or it is closed already.
    """
    known = knowledge_of(records)
    if not cause:
        raise InputError("cause", "", "is missing", try_next="Choose the cause; 'something else' is one too.")
    if cause != OTHER and cause not in known.causes:
        raise UnknownNameError("cause", cause, (*known.causes, OTHER))
    _one_of("confirmed", confirmed, ("cured", "seen", "believed"))
    told = told_of(records, view.visit, view.entries)
    if told.closed is not None or not told.said:
        because = "is closed already" if told.closed is not None else "has no symptom, test or repair told yet"
        raise InputError("case", view.visit.name, because, try_next="Tell what shows first.")
    content = {"cause": cause, "confirmed": confirmed, "part": part, "by": by, "note": note}
    return records.append("trouble_closed", {**content, "time": time or _now(records)}, visit=view.id, who=who)


def say_protection(
    records: Records,
    view: VisitView,
    protection: str,
    says: str,
    *,
    called: str = "",
    place: str = "",
    how: str = "seen",
    by: str = "",
    note: str = "",
    who: str,
    time: str = "",
    state: Literal["as_found", "as_left"] | None = None,
) -> Entry:
    """Keep what was seen of a protection: in_force, off, bypassed, setting_moved, not_judged."""
    if protection not in protections():
        raise UnknownNameError("protection", protection, protections())
    if protection == OTHER and not called:
        raise InputError("called", "", "is missing", try_next="Say which protection, as the controls call it.")
    common = _common(records, view, place, by, note, time, state)
    content = {"protection": protection, "called": called, "says": says, "how": how, **common}
    return records.append("protection_seen", content, visit=view.id, who=who)


def set_count_closed(records: Records, on: bool) -> None:
    """Switch the counting of closed cases on or off for this home; the cases stay."""
    records.home.change(count_closed=on)


def _common(
    records: Records,
    view: VisitView,
    place: str,
    by: str,
    note: str,
    time: str,
    state: Literal["as_found", "as_left"] | None,
) -> dict[str, Any]:
    if state is None:
        state = "as_left" if any(_was_left(one) for one in view.entries) else "as_found"
    return {"place": place, "by": by, "note": note, "time": time or _now(records), "state": state}


def _was_left(entry: Entry) -> bool:
    """Whether the engine has been changed on this visit."""
    return entry.kind == "visit_state" and entry.content.get("event") == "changed"


def _now(records: Records) -> str:
    return records.clock.now().isoformat(timespec="seconds")


def _one_of(field: str, says: str, allowed: Sequence[str]) -> None:
    if says not in allowed:
        raise InputError(field, says, "cannot be said of it", allowed=", ".join(allowed))


# ---------------------------------------------------------------------- what it adds up to


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


# ---------------------------------------------------------------------- files of the home


def knowledge_of(records: Records) -> Knowledge:
    """Return the knowledge of this home: the generic one with the company's own; the generic one where theirs fails."""
    try:
        return with_own(own_knowledge(records, []))
    except KnowledgeError:
        return generic()


def own_knowledge(records: Records, problems: list[str]) -> tuple[tuple[str, str], ...]:
    """Return the company's own file of knowledge as (name, text); nothing where there is none."""
    text = _read(records, OWN_FILE, problems)
    return ((str(records.home.folder / OWN_FILE), text),) if text.strip() else ()


def own_code_names(records: Records, problems: list[str]) -> dict[tuple[int, int | None], CodeName]:
    """Return what the home's table says of fault codes; nothing where there is none or it is wrong, which is said."""
    text = _read(records, OWN_CODES, problems)
    if not text.strip():
        return {}
    try:
        return read_names(text, file=str(records.home.folder / OWN_CODES))
    except AsFoundError as fault:
        problems.append(f"The table of fault codes is left out until it is put right: {fault}")
        return {}


def _read(records: Records, name: str, problems: list[str]) -> str:
    path = records.home.folder / name
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        return ""
    except (OSError, UnicodeDecodeError) as fault:
        problems.append(f"{path} cannot be read: {fault}")
        return ""


def stamp(records: Records, visit: VisitRecord | None = None) -> tuple[object, ...]:
    """Return what a view of a visit rests on beside its own engine's entries; see `stamps.closed_stamp`."""
    return closed_stamp(records, visit)
