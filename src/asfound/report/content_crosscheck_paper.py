"""The cross-check on paper: who lies or that nothing contradicts, each reading against the rest, with and without."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.quantities.words import STATES
from asfound.report.content_crosscheck import crosscheck_shown
from asfound.report.content_crosscheck_without import with_and_without
from asfound.report.content_lanes import STATE_WORDS
from asfound.report.content_paper import paper
from asfound.report.crosscheck_lane import crosscheck_bar, crosscheck_lane
from asfound.report.crosscheck_net import crosscheck_net
from asfound.report.wording import clean

if TYPE_CHECKING:
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.content_crosscheck import CrossCheckShown
    from asfound.report.content_crosscheck_rows import Row
    from asfound.report.content_crosscheck_without import Both
    from asfound.report.wording import System

LANE, BAR, NET = 170.0, 220.0, 640.0
"""Widths of the pictures. [px]"""
ODD = ("apart", "may_be_apart", "same_mark", "unsure")
"""Verdicts for which an assumption stands among the readings."""


def crosscheck(view: VisitView, system: System) -> dict[str, Any] | None:
    """Return the section; None where no balance could be drawn up in either state.

    Readings as found stand with their lanes; those as left too where they contradict each other, else in a sentence.
    """
    made = [(state, crosscheck_shown(view, state, system)) for state in STATES]
    states = [_state(view, state, shown, system) for state, shown in made if shown is not None]
    if not states:
        return None
    return {"title": "Do the readings agree?", "states": states}


def _state(view: VisitView, state: State, shown: CrossCheckShown, system: System) -> dict[str, Any]:
    answer = shown.answer
    lies = answer.kind != "nobody"
    whole = state == "as_found" or lies
    both = with_and_without(view, state, system) if lies else None
    rows = [row for row in (*shown.rows, *(one for one in shown.assumed if one.verdict in ODD)) if row.others]
    return {
        "state": STATE_WORDS[state],
        "head": answer.says,
        "says": list(answer.because),
        "candidates": [
            {"says": one.says, "chance": f"{100 * one.probability:.0f} in 100", "look": one.look}
            for one in answer.candidates
        ],
        "look": answer.look,
        "runner_up": answer.runner_up,
        "lies": lies,
        "net": paper(crosscheck_net, shown.picture, NET) if lies else None,
        "shared": shown.shared,
        "left_out": [_left_out(one.title, one.remains, one.usual, one.whole) for one in shown.left_out] if lies else [],
        "rows": [_row(row) for row in rows] if whole else [],
        "silent": [f"{row.title} ({row.read.whole})" for row in shown.rows if not row.others],
        "assumed": len(shown.assumed),
        "counts": f"{shown.counts[0]} readings, {shown.counts[1]} balances",
        "more": [f"{one.act}. {one.says}" for one in shown.more[:2]] if lies else [],
        "without": {
            "left_out": " and ".join(both.left_out),
            "rows": [_both(one) for one in both.rows],
        }
        if both and both.rows
        else None,
    }


def _row(row: Row) -> dict[str, Any]:
    way = "above" if row.distance > 0 else "below"
    return {
        "title": row.title + (", assumed" if row.assumed else ""),
        "odd": row.part != "plain",
        "read": row.read.as_dict() | {"unit": row.read.unit.partition(" (")[0]},
        "svg": crosscheck_lane(**row.lane, width=LANE, paper=True),
        "alt": clean(f"{row.title}: {abs(row.distance):.1f} times the doubt {way} what the others say"),
        "others": row.others.interval if row.others else "",
        "best": {"value": row.best.value, "interval": row.best.interval},
        "says": row.says.replace(" would not be noticed", " is not noticed"),
    }


def _left_out(title: str, remains: float, usual: float, whole: float) -> dict[str, str]:
    return {
        "title": title,
        "remains": f"{remains:.1f}",
        "svg": crosscheck_bar(remains, usual, whole, width=BAR, paper=True),
        "alt": f"{remains:.1f} remains, usual below {usual:.1f}",
    }


def _both(one: Both) -> dict[str, Any]:
    return {
        "name": one.title,
        "where": one.where,
        "with": {**one.with_all.as_dict(), "chance": one.chance_with},
        "without": {**one.without.as_dict(), "chance": one.chance_without} if one.without else None,
        "limit": one.limit,
    }
