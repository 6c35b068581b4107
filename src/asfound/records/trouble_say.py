"""What people tell of trouble, kept: symptoms, tests, repairs, what may be done, protections, how a case ended."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from asfound.errors import InputError, UnknownNameError
from asfound.records.trouble import told_of
from asfound.records.trouble_files import knowledge_of
from asfound.troubleshoot.protections import OTHER, protections

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from asfound.records.entries import Entry
    from asfound.records.store import Records
    from asfound.records.visit import VisitView
    from asfound.troubleshoot.knowledge import Knowledge
    from asfound.troubleshoot.told import Confirmed

SYMPTOM_SAYS = ("present", "absent", "not_judged", "not_told")
TEST_SAYS = ("positive", "negative", "not_judged", "not_done", "not_told")
REPAIR_SAYS = ("cured", "fails", "not_judged", "not_done", "not_told")


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
