"""The one next thing to do on a visit, by plain rules; the person on site decides.

The rules, in this order; the first that applies is said:

1. closed: hand over the report;
2. a finding that says stop;
3. two corrections of one entry clash;
4. gauge readings wait for the barometer;
5. as left has begun, and a number against a limit is known as found only;
6. nothing was changed yet: the look that decides what is fitted, else the rest of the as-found set (it cannot be taken
   later);
7. something was changed, and nothing taken as left;
8. a look that decides; 9. the rest of the as-left set; 10. points that this visit should settle;
11. close the visit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.records.standing import standing
from asfound.records.still_open import left_for_limits
from asfound.records.view_parts import STEP_TITLES, NextThing

BAROMETER = "barometric_pressure"

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.fitout.identification import Identification
    from asfound.records.view_parts import SetItem
    from asfound.records.visit import VisitView

FIRST_GROUPS = ("identity", "control", "protection")
"""What is described first of an engine that no catalogue knows."""
DECIDES = 0.3
"""A look that takes away at least this share of the doubt is worth being the next thing. Engineering judgement."""


def next_thing(view: VisitView) -> NextThing:
    """Return the next thing to do, with why, minutes and where."""
    return next(_candidates(view))


def _candidates(view: VisitView) -> Iterator[NextThing]:
    """Yield what could be done next, the first being the thing to do."""
    if view.seal is not None:
        yield NextThing(
            says="Hand over the report",
            why="The visit is closed and sealed; what comes later is an addendum.",
            minutes=None,
            step="report",
            anchor=view.seal.id,
            button="Open report",
        )
    yield from _stop(view)
    yield from _conflict(view)
    yield from _barometer(view)
    yield from _limits(view)
    begun_left = any(one.state == "as_left" for one in view.readings.values())
    changed = any(one.kind == "visit_state" and one.content["event"] == "changed" for one in view.entries)
    if not begun_left and not changed:
        yield from _look(view)
        yield from _set(view, "found")
    if changed and not begun_left:
        yield from _set(view, "left", why="Something was changed; nothing was taken as left yet.")
    yield from _look(view)
    yield from _set(view, "left")
    yield from _points(view)
    yield NextThing(
        says="Close the visit",
        why="Nothing is open that this visit could still do. Closing seals the record; later corrections are addenda.",
        minutes=5.0,
        step="report",
        anchor="close",
        button="Close visit",
    )


def _stop(view: VisitView) -> Iterator[NextThing]:
    """Yield a finding that says stop, still stands and was not decided on."""
    from asfound.records.visit import decision_key

    for finding in standing(view):
        if finding.severity == "stop" and decision_key(finding) not in view.decisions:
            yield NextThing(
                says=finding.says,
                why=finding.next_step,
                minutes=None,
                step="findings",
                anchor=finding.code,
                button="Open finding",
            )


def _conflict(view: VisitView) -> Iterator[NextThing]:
    """Yield a clash of corrections."""
    for conflict in view.conflicts:
        people = " and ".join(dict.fromkeys(one.who for one in conflict.between))
        yield NextThing(
            says=f"Settle {len(conflict.between)} corrections of one {conflict.about.kind}",
            why=f"By {people}; both are kept, and the later one is used until somebody says which stands.",
            minutes=1.0,
            step="visit",
            anchor=conflict.about.id,
            button="Open both",
        )


def _barometer(view: VisitView) -> Iterator[NextThing]:
    """Yield the barometer where gauge pressures wait for it."""
    for state, words in (("as_found", "as found"), ("as_left", "as left")):
        waiting = [one for one in view.readings.values() if one.state == state and one.gauge and one.reading]
        there = any(one.quantity == BAROMETER and one.state == state and one.reading for one in view.readings.values())
        if waiting and not there:
            yield NextThing(
                says=f"Read the barometer, {words}",
                why=f"{len(waiting)} gauge pressure{'s wait' if len(waiting) > 1 else ' waits'} for it.",
                minutes=2.0,
                step="other",
                anchor=f"{state}/site/{BAROMETER}",
                button="Enter barometer",
            )


def _limits(view: VisitView) -> Iterator[NextThing]:
    """Yield a reading as left that a number against a limit waits for."""
    for one in left_for_limits(view.limits, view.worked):
        analyser = one.step == "exhaust"
        yield NextThing(
            says=f"Take {one.says}" + (", while the analyser is warm" if analyser else ""),
            why=f"{one.why}, and is known as found only.",
            minutes=one.minutes,
            step=str(one.step),
            anchor=one.anchor,
            button=f"Open {STEP_TITLES[str(one.step)].lower()}",
        )


def _look(view: VisitView) -> Iterator[NextThing]:
    """Yield the look that takes away most doubt a minute, when it takes away enough and may be made now."""
    found = view.identification
    if found is None or found.words == "settled" or found.stop is not None:
        return
    if not found.weighed:
        yield from _first_places(found)
        return
    for look in found.next_looks:
        if look.allowed and look.share_of_doubt >= DECIDES:
            yield NextThing(
                says=f"Look at {look.title}",
                why=f"It takes away {100 * look.share_of_doubt:.0f} of 100 parts of the doubt about what is fitted; "
                + {"running": "no stop", "stopped": "while it stands", "isolated": "while it is isolated"}[
                    look.state_needed
                ],
                minutes=look.minutes,
                step="fitted",
                anchor=look.slot,
                button="Open this place",
            )
            return


def _first_places(found: Identification) -> Iterator[NextThing]:
    """Yield the first look at an engine that no catalogue knows: the plate and what controls and protects it."""
    groups = {one.slot: one.group for one in found.places}
    for look in found.next_looks:
        if look.allowed and groups.get(look.slot) in FIRST_GROUPS:
            yield NextThing(
                says=f"Describe {look.title[0].lower()}{look.title[1:]}",
                why=f"No catalogue knows this engine; {look.order}.",
                minutes=look.minutes,
                step="fitted",
                anchor=look.slot,
                button="Open this place",
            )
            return


def _set(view: VisitView, column: str, why: str = "") -> Iterator[NextThing]:
    """Yield the step with the first open readings of a set."""
    words = "found" if column == "found" else "left"
    for step in view.steps.values():
        items: list[SetItem] = [one for one in step.items if getattr(one, column) == "open"]
        if step.step == "fitted" or not items:
            continue
        first = items[0]
        reason = why or (
            "It cannot be made up for once something was changed."
            if column == "found"
            else "Same form as found, to compare."
        )
        yield NextThing(
            says=f"Take {len(items)} of {STEP_TITLES[step.step].lower()} as {words}, first: {first.title.lower()}",
            why=reason,
            minutes=sum(one.minutes for one in items),
            step=step.step,
            anchor=f"as_{words}/{first.place}/{first.quantity}",
            button=f"Open {STEP_TITLES[step.step].lower()}",
        )
        return


def _points(view: VisitView) -> Iterator[NextThing]:
    """Yield what somebody wrote to be done on this visit."""
    for one in view.still_open:
        if one.entry and one.severity in ("stop", "visit", "clash"):
            yield NextThing(
                says=one.says,
                why=one.why or "Noted for this visit.",
                minutes=one.minutes,
                step=one.step or "visit",
                anchor=one.anchor,
                button="Open point",
            )
