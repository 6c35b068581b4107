"""`asfound crosscheck`: which reading lies, what the balances say, each reading against the rest."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.cli.answer import answer, coloured, columns, wrapped
from asfound.cli.find import opened, view_of
from asfound.cli.options import Home
from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.content_crosscheck import CrossCheckShown
    from asfound.report.content_crosscheck_rows import Row

WORDS = {
    "agrees": "agrees",
    "apart": "does not agree",
    "may_be_apart": "cannot be told apart",
    "same_mark": "same mark, hardly possible",
    "unsure": "stands off, no proof",
    "weakly_checked": "agrees, weakly checked",
    "not_checked": "nothing checks it",
    "in_effect_not_checked": "in effect nothing checks it",
}


def crosscheck(visit: str, state: str = "as_found", /, *, home: Home = Home()) -> None:
    """Ask each reading of a visit what all the others would make of it, and say which one lies.

    asfound crosscheck A2                the readings as found
    asfound crosscheck A2 as_left        those as left

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    state
        as_found or as_left.
    """
    from asfound.report.content_crosscheck import crosscheck_shown
    from asfound.report.content_crosscheck_data import crosscheck_data

    seen = view_of(opened(home), visit)
    asked = _state(state)
    answer(home, crosscheck_data(seen, asked), lambda: _told(seen, crosscheck_shown(seen, asked, seen.system), asked))


def _state(text: str) -> State:
    """Return a state by name; spaces and hyphens count as underlines."""
    from asfound.quantities.words import STATES

    name = text.strip().lower().replace(" ", "_").replace("-", "_")
    for one in STATES:
        if one == name:
            return one
    raise InputError("state", text, "is no state", allowed=", ".join(STATES))


def _told(seen: VisitView, shown: CrossCheckShown | None, state: State) -> Iterator[str]:
    if shown is None:
        yield f"{seen.visit.name}, {state.replace('_', ' ')}: no balance can be drawn up; nothing can be checked."
        return
    one = shown.answer
    meaning = "head" if one.kind == "nobody" else "clash"
    yield coloured(f"{seen.visit.name}, {state.replace('_', ' ')}: {one.says}", meaning)
    for said in one.because:
        yield from wrapped(said)
    for candidate in one.candidates:
        yield from wrapped(f"{100 * candidate.probability:3.0f} in 100  {candidate.says}", "  ")
    for said in (f"Look: {one.look}" if one.look else "", one.runner_up):
        yield from wrapped(said) if said else ()
    yield ""
    yield from columns(
        [_row(row) for row in (*shown.rows, *shown.assumed)],
        ("reading", "as read", "unit", "the others say", "best, all together", "off", "verdict"),
        right=(1, 5),
    )
    yield ""
    yield from columns(
        [(each.title, _distance(each.distance), each.says) for each in shown.balances],
        ("balance", "left over", ""),
        right=(1,),
    )
    yield ""
    yield from columns(
        [(each.title, f"{each.remains:.1f}", f"{each.usual:.1f}") for each in shown.left_out],
        ("if left out", "remains", "usual below"),
        right=(1, 2),
    )
    if shown.more:
        yield ""
        yield coloured("One more measurement", "head")
        for more in shown.more:
            yield from wrapped(f"{more.act}. {more.says}", "  ")


def _row(row: Row) -> tuple[str, ...]:
    title = f"{row.title} (assumed)" if row.assumed else row.title
    others = row.others.interval if row.others else ""
    off = _distance(row.distance) if row.others else ""
    unit = row.read.unit.partition(" (")[0]
    return title, row.read.value, unit, others, row.best.interval, off, WORDS[row.verdict]


def _distance(value: float) -> str:
    """Return a distance in its doubt."""
    return f"{value:+.1f}".replace("-", "\N{MINUS SIGN}") if value == value else ""
