"""How one number came to be: a line for each number under it, down to the readings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.quantities.register import quantity
from asfound.quantities.words import Reading, Result
from asfound.sources.register import cite, sources
from asfound.web.readings import place_words
from asfound.web.results import shown

if TYPE_CHECKING:
    from asfound.quantities.display import Shown
    from asfound.quantities.worked import Worked


def assumption(reading: Reading) -> str:
    """Return what was assumed, in words, with its source.

    The key of the source stands in brackets behind the words.
    """
    said, _, key = reading.said_by.rpartition(" (")
    key = key.removesuffix(")")
    if said and key in sources():
        return f"{said} ({sources()[key].title})"
    return reading.said_by or reading.quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailLine:
    """One number of a trail."""

    depth: int
    sign: str
    """``computed``, ``read``, ``constant``, ``assumed``."""
    title: str
    from_: str
    shown: Shown
    share: float | None
    key: str


FEW, NO_DOUBT = 3, 0.005
"""More lines than this in a row that hold no doubt are folded into one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailGroup:
    """Readings in a row that hold next to none of the doubt, as one line."""

    depth: int
    lines: tuple[TrailLine, ...]
    share: float
    """What they hold together."""


def folded(lines: list[TrailLine]) -> list[TrailLine | TrailGroup]:
    """Return a trail whose long rows of readings without doubt are one line each: a gas analysis, say."""
    found: list[TrailLine | TrailGroup] = []
    run: list[TrailLine] = []
    for line in (*lines, None):
        alike = line is not None and line.sign != "computed" and (line.share or 0.0) < NO_DOUBT
        if alike and line is not None and (not run or run[-1].depth == line.depth):
            run.append(line)
            continue
        if len(run) > FEW:
            found.append(TrailGroup(depth=run[0].depth, lines=tuple(run), share=sum(one.share or 0.0 for one in run)))
        else:
            found += run
        run = [line] if alike and line is not None else []
        if line is not None and not alike:
            found.append(line)
    return found


def trail_of(worked: Worked, result: Result, system: str) -> list[TrailLine]:
    """Return how a number came to be, down to the readings, each number once."""
    shares: dict[str, float] = {}
    for label, share in worked.shares(result):
        for key in label.split(" + "):
            shares[key] = share
    seen: set[str] = set()
    lines = []
    for depth, one in result.walk():
        if one.key in seen and depth:
            continue
        seen.add(one.key)
        lines.append(_line(one, depth, shares, system))
    return lines


def _line(one: Result | Reading, depth: int, shares: dict[str, float], system: str) -> TrailLine:
    where = place_words(one.place)
    title = quantity(one.quantity).title + (f", {where}" if where else "")
    if isinstance(one, Result):
        said = f"{one.method.name}; {cite(one.method.source, one.method.clause)}"
        return TrailLine(
            depth=depth, sign="computed", title=title, from_=said, shown=shown(one, system), share=None, key=one.key
        )
    sign = "assumed" if one.origin == "assumed" else "read" if one.standard_uncertainty else "constant"
    said = (
        f"assumed: {assumption(one)}"
        if sign == "assumed"
        else ", ".join(part for part in (one.as_typed, one.said_by) if part)
    )
    return TrailLine(
        depth=depth,
        sign=sign,
        title=title,
        from_=said,
        shown=shown(one, system),
        share=shares.get(one.key),
        key=one.key,
    )
