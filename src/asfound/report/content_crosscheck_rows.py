"""Every value of a cross-check as a row: as read, where the others would have it, best estimate, what is noticed."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from asfound.crosscheck.silent import silent
from asfound.crosscheck.told import suspect
from asfound.report.content_crosscheck_words import lower
from asfound.report.crosscheck_lane import Kind, window
from asfound.report.crosscheck_numbers import difference, said_of
from asfound.report.wording import COVERAGE, sentence

if TYPE_CHECKING:
    from asfound.crosscheck.outcome import Checked, CrossCheck, Suspect
    from asfound.report.wording import Said, System

KINDS: dict[str, Kind] = {
    "apart": "clash", "may_be_apart": "maybe", "same_mark": "unsure", "unsure": "unsure", "agrees": "agrees",
    "weakly_checked": "agrees", "not_checked": "none",
}  # fmt: skip
ORDER = {"apart": 0, "may_be_apart": 1, "same_mark": 2, "unsure": 2}
"""Rows that stand first; the rest as the balances know them, what nothing checks last."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One value beside what the others make of it."""

    name: str
    title: str
    key: str
    """Of its reading on the visit; empty where there is none, or where it is a mean of several."""
    verdict: str
    part: Literal["plain", "suspect", "maybe"]
    read: Said
    others: Said | None
    """None where in effect nothing checks it."""
    best: Said
    says: str
    """The verdict in words."""
    lane: dict[str, Any]
    """For `report.svg.crosscheck_lane`, without width."""
    distance: float
    assumed: bool


def rows_of(found: CrossCheck, system: System) -> tuple[tuple[Row, ...], float]:
    """Return all rows, what is suspected first, and how far their lanes reach."""
    shown = [one for one in found.readings if not silent(found, one)]
    reach = window([one.distance for one in shown])
    named = {name: one for one in reversed(found.suspects) for name in one.names}
    rows = [_row(found, one, named.get(one.name), reach, system) for one in found.readings]
    return tuple(sorted(rows, key=lambda row: ORDER.get(row.verdict, 4 if row.others is None else 3))), reach


def _row(found: CrossCheck, one: Checked, lies: Suspect | None, reach: float, system: System) -> Row:
    part: Literal["plain", "suspect", "maybe"] = (
        "plain"
        if one.verdict not in ("apart", "may_be_apart")
        else "suspect"
        if one.verdict == "apart" and found.told_apart and found.verdict != "unexplained"
        else "maybe"
    )
    unseen = silent(found, one)
    size = abs(one.size / one.distance) if one.distance else math.hypot(one.u, one.u_others)
    says = _says(one, lies, part, unseen, system)
    half = COVERAGE * one.u
    as_read = (one.value - half, one.value + half)
    read = said_of(one, one.value, one.u, system, _possible(found, one, as_read) if one.assumed else as_read)
    others = None if unseen or not math.isfinite(one.others) else said_of(
        one, one.others, one.u_others, system, _possible(found, one, one.interval)
    )  # fmt: skip
    return Row(
        name=one.name,
        title=one.title,
        key=one.key,
        verdict=_verdict(one, part, unseen),
        part=part,
        read=read,
        others=others,
        best=said_of(one, one.best, one.u_best, system, _possible(found, one, one.best_interval)),
        says=says,
        lane={
            "distance": math.nan if unseen else one.distance,
            "own": COVERAGE * one.u / size if size > 0 and math.isfinite(size) else 0.0,
            "reach": reach,
            "kind": "none" if unseen else "maybe" if part == "maybe" else KINDS[one.verdict],
            "state": found.state,
        },
        distance=one.distance,
        assumed=one.assumed,
    )


def _verdict(one: Checked, part: str, unseen: bool) -> str:
    """Return the verdict of a row: none is called the liar where another cannot be told apart from it."""
    if unseen and one.verdict != "not_checked":
        return "in_effect_not_checked"
    return "may_be_apart" if part == "maybe" else one.verdict


def _possible(found: CrossCheck, one: Checked, ends: tuple[float, float]) -> tuple[float, float]:
    """Return an interval cut at what can be; as it is where none of it can be."""
    low, high = ends
    about = found.assembled.values[one.name]
    least, most = (
        low if about.low is None else max(low, about.low),
        high if about.high is None else min(high, about.high),
    )
    return (least, most) if least < most else (low, high)


def _says(one: Checked, lies: Suspect | None, part: str, unseen: bool, system: System) -> str:
    """Return the verdict of a row in words."""
    if one.verdict in ("apart", "may_be_apart") and lies is not None:
        said = suspect(lies, system).removeprefix(f"{lower(one.title)} ")
        return sentence(said) if part == "suspect" else f"Cannot be told apart: {said}"
    if one.verdict == "not_checked":
        return "Nothing checks it"
    if unseen:
        return "In effect nothing checks it: only an error that can hardly be would be noticed"
    least = difference(one, one.smallest_error, system)
    if one.verdict == "same_mark":
        return "Leaves the same mark, but its error would be one that cannot be or is most unlikely"
    if one.verdict == "unsure":
        way = "above" if one.distance > 0 else "below"
        off = difference(one, one.size, system)
        return f"{off} {way} what the others say, {abs(one.distance):.1f} times the doubt; no proof"
    return f"An error below {least} would not be noticed"
