"""How each judged number came to be, down to the readings, with the share of each in the doubt."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.quantities.words import STATES, Reading, Result
from asfound.report.bars import share_bar
from asfound.report.content_fuel import COMPONENTS
from asfound.report.wording import brief, clock, named, say, title_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.numbering import Sources
    from asfound.report.wording import System

Number = Reading | Result
MOST = 4
"""Trails that are printed; all lie in the data file."""
ABOVE = "as above"


def trails(view: VisitView, system: System, sources: Sources) -> list[dict[str, Any]]:
    """Return the trail of each number that is judged beside a limit; what stands in a trail above is not repeated."""
    judged: dict[tuple[str, str], dict[State, Result]] = {}
    for state in view.limit_states:
        for number in (*state.found, *state.left):
            if isinstance(number, Result) and not number.place.startswith("run_"):
                judged.setdefault((number.quantity, number.place), {})[number.state] = number
    printed: set[str] = set()
    return [_trail(view, pair, system, sources, printed) for pair in list(judged.values())[:MOST]]


def _trail(
    view: VisitView, pair: dict[State, Result], system: System, sources: Sources, printed: set[str]
) -> dict[str, Any]:
    lead = pair.get("as_found") or pair["as_left"]
    other = pair.get("as_left") if lead.state == "as_found" else None
    beside = {_bare(one): one for _, one in other.walk()} if other is not None else {}
    shares = list(view.worked.shares(lead))
    rows = []
    for depth, one, count in _walk(lead, printed):
        members = one if isinstance(one, tuple) else (one,)
        row: dict[str, Any] = {"depth": depth, "name": _name(members, count), "percent": "", "svg": "", "kind": ""}
        first = members[0]
        same = len(members) == 1
        row["found"] = say(first, system).as_dict() if same else None
        then = beside.get(_bare(first))
        row["left"] = say(then, system).as_dict() if same and then is not None else None
        row |= _origin(first, sources, above=count < 0)
        ends = {key for each in members for key in _readings(each, whole=count < 0)}
        if ends:
            share = _take(shares, ends)
            if share is not None:
                row |= {"percent": _percent(share), "svg": share_bar(share, width=72, height=10, paper=True)}
        rows.append(row)
    printed.update(row.key for _, row in lead.walk() if isinstance(row, Result) and row.inputs)
    states = [words for state, words in zip(STATES, ("as found", "as left"), strict=True) if state in pair]
    return {
        "title": named(lead.quantity, lead.place),
        "state": states[0],
        "both": len(states) == 2,
        "rows": rows,
        "draws": f"{view.worked.number:,}",
    }


def _walk(lead: Result, printed: set[str]) -> Iterator[tuple[int, Number | tuple[Number, ...], int]]:
    """Give the rows: depth, number or the components of a gas together, and -1 where its own trail stands above."""
    met: set[tuple[str, int]] = set()
    gas: list[Number] = []
    gas_depth = 0
    hidden: int | None = None
    analysed = False
    for depth, one in lead.walk():
        if hidden is not None and depth > hidden:
            continue
        hidden = None
        if (one.key, depth) in met:
            continue
        met.add((one.key, depth))
        if isinstance(one, Reading) and one.quantity in COMPONENTS and one.place == "fuel":
            gas.append(one)
            gas_depth = depth
            continue
        if gas and not analysed:
            yield gas_depth, tuple(gas), len(gas)
            analysed = True
        gas = []
        above = isinstance(one, Result) and depth > 0 and one.key in printed
        if above:
            hidden = depth
        yield depth, one, -1 if above else 1
    if gas and not analysed:
        yield gas_depth, tuple(gas), len(gas)


def _bare(one: Number) -> str:
    return one.key.partition("/")[2]


def _name(members: tuple[Number, ...], count: int) -> str:
    if len(members) > 1:
        return f"Gas analysis, {count} components"
    return named(members[0].quantity, members[0].place) if members[0].place != "fuel" else title_of(members[0].quantity)


def _origin(one: Number, sources: Sources, *, above: bool) -> dict[str, str]:
    if isinstance(one, Result):
        source = ABOVE if above else f"{one.method.name} {sources.mark(one.method.source, one.method.clause)}".strip()
        return {"kind": "computed", "source": source}
    return {"kind": "assumed" if one.origin == "assumed" else "read", "source": _who(one)}


def _readings(one: Number, *, whole: bool) -> list[str]:
    """Return the keys of the readings that a row stands for: itself, or all under it where it is not unfolded."""
    if isinstance(one, Reading):
        return [one.key]
    return [each.key for each in one.readings()] if whole else []


def _take(shares: list[tuple[str, float]], keys: set[str]) -> float | None:
    """Return the share of these readings and take it off the list, so that nothing is counted twice."""
    mine = [row for row in shares if keys & set(row[0].split(" + "))]
    for row in mine:
        shares.remove(row)
    return sum(share for _, share in mine) if mine else None


def _who(reading: Reading) -> str:
    origin = {"assumed": "assumed", "measured": "", "typed": ""}[reading.origin]
    said = ", ".join(part for part in (origin, brief(reading.said_by), clock(reading.time)) if part)
    return said or "typed"


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %" if share >= 0.005 else "under 1 %"
