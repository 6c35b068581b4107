"""What is still to be done on a visit, with minutes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.quantities.register import quantities, title_of
from asfound.records.view_parts import StillOpen

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from asfound.fitout.identification import Identification
    from asfound.quantities.sheet import Worked
    from asfound.quantities.words import Limit, Reading, Result
    from asfound.records.entries import Entry
    from asfound.records.view_parts import SetItem, StepName, StepProgress

MINUTES_AT_LOAD = 10.0
"""To take one reading again with the analyser or at steady load. Engineering judgement."""


def still_open(
    steps: Mapping[str, StepProgress],
    points: Sequence[Entry],
    identification: Identification | None,
    photos: Sequence[Entry],
    limits: Sequence[Limit],
    worked: Worked,
) -> tuple[StillOpen, ...]:
    """Return what is open: points that people wrote, values against limits, looks, readings, photos without a place."""
    found = [_point(one) for one in points if not one.content.get("done")]
    found += left_for_limits(limits, worked)
    found += _places(steps["fitted"], identification)
    found += _readings(steps)
    homeless = [one for one in photos if not one.content.get("place") and not one.content.get("step")]
    if homeless:
        says = f"{len(homeless)} photo{'s' if len(homeless) > 1 else ''} without a place"
        found.append(
            StillOpen(
                says=says,
                minutes=0.5 * len(homeless),
                state_needed="running",
                step=None,
                anchor=homeless[0].id,
                why="a picture without a place helps nobody next year",
            )
        )
    return tuple(found)


def left_for_limits(limits: Sequence[Limit], worked: Worked) -> list[StillOpen]:
    """Return the results against a limit that stand as found and wait for readings as left."""
    read_left = {(one.place, one.quantity) for one in worked.readings if one.state == "as_left"}
    if not read_left:
        return []
    found = []
    for limit in limits:
        for result in worked.results:
            if result.quantity != limit.quantity or result.state != "as_found":
                continue
            if worked.result(f"as_left/{result.place}/{result.quantity}") is not None:
                continue
            lacking = lacking_as_left(result, read_left)
            if lacking:
                first = lacking[0]
                names = ", ".join(title_of(one.quantity) for one in lacking)
                found.append(
                    StillOpen(
                        says=f"{names}, as left",
                        minutes=MINUTES_AT_LOAD,
                        state_needed="running",
                        step=_step(first.quantity),
                        anchor=f"as_left/{first.place}/{first.quantity}",
                        why=f"{title_of(result.quantity)} stands against a {limit.name} of {limit.as_typed}",
                        severity="visit",
                    )
                )
            break
    return found


def lacking_as_left(result: Result, read_left: set[tuple[str, str]]) -> list[Reading]:
    """Return the readings under a result as found that nobody took again and that do not carry over."""
    known = quantities()
    return [
        one
        for one in result.readings()
        if one.origin != "assumed"
        and not (one.quantity in known and known[one.quantity].carries)
        and (one.place, one.quantity) not in read_left
    ]


def _point(entry: Entry) -> StillOpen:
    """Return an open point that somebody wrote."""
    content = entry.content
    return StillOpen(
        says=str(content["says"]),
        minutes=content.get("minutes"),
        state_needed=content.get("state_needed", "running"),
        step=content.get("step"),
        anchor=entry.id,
        why=", ".join(str(content[name]) for name in ("who", "due") if content.get(name)),
        severity=str(content.get("severity", "soon")),
        entry=entry.id,
    )


def _places(step: StepProgress, identification: Identification | None) -> list[StillOpen]:
    """Return the places that nobody has looked at, by the state of the engine that they ask for."""
    if identification is None:
        return []
    found = []
    for state, words in (("running", "no stop"), ("stopped", "engine stopped"), ("isolated", "engine isolated")):
        items = [one for one in step.items if one.found == "open" and one.state_needed == state]
        if items:
            found.append(
                StillOpen(
                    says=f"{len(items)} place{'s' if len(items) > 1 else ''} not looked at",
                    minutes=sum(one.minutes for one in items),
                    state_needed=items[0].state_needed,
                    step="fitted",
                    anchor=items[0].quantity,
                    why=words,
                )
            )
    return found


def _readings(steps: Mapping[str, StepProgress]) -> list[StillOpen]:
    """Return the readings of both sets that are not there, a line per set."""
    asked = [one for step in steps.values() if step.step != "fitted" for one in step.items]
    open_found = [one for one in asked if one.found == "open"]
    begun = any(one.left == "taken" for one in asked)
    found = []
    if open_found:
        why = "cannot be made up for once something was changed" if not begun else "cannot be made up for later"
        found.append(_some(open_found, "as_found", "as-found", why))
    open_left = [one for one in asked if one.left == "open" and one.found != "open"]
    if begun and open_left:
        found.append(_some(open_left, "as_left", "as-left", "the same form as found, so that both can be compared"))
    return found


def _some(items: list[SetItem], state: str, words: str, why: str) -> StillOpen:
    """Return one line for several readings."""
    first = items[0]
    return StillOpen(
        says=f"{len(items)} reading{'s' if len(items) > 1 else ''} of the {words} set",
        minutes=sum(one.minutes for one in items),
        state_needed=first.state_needed,
        step=first.step,
        anchor=f"{state}/{first.place}/{first.quantity}",
        why=why,
    )


def _step(name: str) -> StepName:
    """Return the step of the visit that a quantity belongs to."""
    known = quantities().get(name)
    return known.step if known else "other"
