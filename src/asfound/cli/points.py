"""`asfound point`, `settle`: what is still open, and what two people wrote differently."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from cyclopts import App

from asfound.cli.answer import BY_WHEN, answer, columns
from asfound.cli.find import entry_of, kept, opened, tail, view_of, visit_of, writer
from asfound.cli.options import Hand, Home
from asfound.records.points import say_done

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.records.entries import Entry

point = App(name="point")


@point.command
def add(
    visit: str,
    says: str,
    /,
    *,
    severity: Literal["stop", "visit", "clash", "soon", "note"] = "soon",
    by: str = "",
    due: str = "",
    minutes: float | None = None,
    needs: Literal["running", "stopped", "isolated"] = "running",
    step: Literal["fitted", "fuel", "load", "exhaust", "cylinders", "other", ""] = "",
    place: str = "",
    hand: Hand = Hand(),
) -> None:
    """Add an open point: what is still to be done, by whom, by when.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    says
        What is to be done.
    severity
        By when a hand is needed.
    by
        Who does it.
    due
        Date, as 2032-08-01.
    minutes
        How long it takes.
    needs
        State that the engine must be in.
    step
        Step that it belongs to.
    place
        Place or component.
    """
    records = opened(hand)
    content: dict[str, Any] = {
        "says": says, "severity": severity, "who": by, "due": due or None, "minutes": minutes, "state_needed": needs,
        "step": step or None, "place": place,
    }  # fmt: skip
    entry = records.append("open_point", content, visit=visit_of(records, visit).id, who=writer(hand, records))
    answer(hand, kept(entry), lambda: [f"Kept: open point {tail(entry.id)}"])


@point.command
def done(entry: str, /, *, note: str = "", on: str = "", visit: str = "", hand: Hand = Hand()) -> None:
    """Close an open point; it stays readable. One of a sealed visit is closed beside it: its seal holds.

    Parameters
    ----------
    entry
        Identifier of the open point, or its last eight signs.
    note
        What was done.
    on
        Day on which it was done, as 2032-08-01; today if left out. Only for a point of a sealed visit.
    visit
        Later visit on which it was done: tag of the engine, tag/date, or beginning of the visit's identifier.
    """
    records = opened(hand)
    found = entry_of(records, entry)
    later = visit_of(records, visit).id if visit else None
    line = say_done(records, found, who=writer(hand, records), note=note, day=on, visit=later)
    answer(hand, kept(line), lambda: [f"Done: {found.content['says']}"])


@point.command(name="list")
def list_points(visit: str, /, *, where: Home = Home()) -> None:
    """List the open points of a visit, done ones last.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    """
    seen = view_of(opened(where), visit)
    since = seen.points_done

    def closed(one: Entry) -> bool:
        return bool(one.content.get("done")) or one.id in since

    every = sorted(seen.open_points, key=lambda e: (closed(e), list(BY_WHEN).index(e.content["severity"])))

    def told() -> Iterator[str]:
        rows = [
            (
                "done" if closed(e) else BY_WHEN[e.content["severity"]],
                tail(e.id), e.content.get("who", ""), e.content.get("due", ""),
                f"{e.content['says']}{f' ({since_words(since[e.id])})' if e.id in since else ''}",
            )
            for e in every
        ]  # fmt: skip
        yield from columns(rows, ("when", "entry", "who", "due", "what")) if rows else ["No open point."]

    data = [kept(e) | ({"done_since": kept(since[e.id])} if e.id in since else {}) for e in every]
    answer(where, data, told)


def since_words(done: Entry) -> str:
    """Return who said when that a point is done, and the note."""
    note = str(done.content.get("note", ""))
    return f"{done.content['date']}, {done.who}{f': {note}' if note else ''}"
