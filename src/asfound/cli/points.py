"""`asfound point`, `settle`: what is still open, and what two people wrote differently."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from cyclopts import App

from asfound.cli.answer import BY_WHEN, answer, columns
from asfound.cli.find import entry_of, kept, opened, tail, view_of, visit_of, writer
from asfound.cli.options import Hand, Home
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator


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
def done(entry: str, /, *, note: str = "", hand: Hand = Hand()) -> None:
    """Close an open point; it stays readable.

    Parameters
    ----------
    entry
        Identifier of the open point, or its last eight signs.
    note
        What was done.
    """
    records = opened(hand)
    found = entry_of(records, entry)
    if found.kind != "open_point":
        raise InputError(
            "entry", entry, f"is a {found.kind}, not an open point", try_next="`asfound point list VISIT` shows them."
        )
    content = {**found.content, "done": True, "note": note or found.content.get("note", "")}
    line = records.append("open_point", content, visit=found.visit, corrects=found.id, who=writer(hand, records))
    answer(hand, kept(line), lambda: [f"Done: {found.content['says']}"])


@point.command(name="list")
def list_points(visit: str, /, *, where: Home = Home()) -> None:
    """List the open points of a visit, done ones last.

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    """
    every = list(view_of(opened(where), visit).open_points)
    every.sort(key=lambda e: (bool(e.content.get("done")), list(BY_WHEN).index(e.content["severity"])))

    def told() -> Iterator[str]:
        rows = [
            (
                "done" if e.content.get("done") else BY_WHEN[e.content["severity"]],
                tail(e.id), e.content.get("who", ""), e.content.get("due", ""), e.content["says"],
            )
            for e in every
        ]  # fmt: skip
        yield from columns(rows, ("when", "entry", "who", "due", "what")) if rows else ["No open point."]

    answer(where, [kept(e) for e in every], told)
