"""The cross-check of a visit for page and report: who lies, what the balances say, every reading against the rest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.crosscheck.critical import chi_squared_critical
from asfound.crosscheck.findings_model import of_model
from asfound.crosscheck.identify import ALPHA
from asfound.crosscheck.links import COUNTS, weights
from asfound.crosscheck.of_case import cross_check_of, why_unsolved
from asfound.quantities.kept_with import kept_with
from asfound.report.content_crosscheck_rows import Row, rows_of
from asfound.report.content_crosscheck_words import Answer, More, answer_of, listed, lower, more_of
from asfound.report.crosscheck_net import Balance, Node
from asfound.report.wording import sentence
from asfound.sources.register import cite

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.crosscheck.outcome import CheckedBalance, CrossCheck
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.wording import System

CLOSES = {True: "closes", False: "does not close", None: "nothing tells"}
SAME = 1e-6
"""Two values whose leaving out leaves the same disagreement leave the same mark. [1]"""
BARS = 5
"""Rows of what is left out that are drawn."""
NAMED = 3
"""Values of one mark that a row names."""
OPEN_NAMED = 4
"""Open balances that a sentence names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOutRow:
    """What disagreement remains if something is left out."""

    title: str
    remains: float
    usual: float
    """Below it in 99 of 100 visits without a lie."""
    fits: bool
    whole: float
    """End of the common scale."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BalanceRow:
    """One balance in words."""

    title: str
    equation: str
    says: str
    closes: bool | None
    distance: float
    """What is left over, in its doubt."""
    takes: tuple[tuple[str, bool], ...]
    """Readings that count in it, and whether each is suspected."""
    assumed: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DoubtRow:
    """What the log says against one reading, and how much it is doubted for it before the balances are looked at."""

    key: str
    title: str
    says: str
    before: float
    """Probability of being grossly wrong without the log. [1]"""
    prior: float
    """The same with it. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossCheckShown:
    """All of it, ready to be shown."""

    state: State
    answer: Answer
    more: tuple[More, ...]
    """Measurements worth most, the best first."""
    picture: dict[str, Any]
    """For `report.svg.crosscheck_net`, without width."""
    little: tuple[str, ...]
    """Readings that are not drawn, for they count little in every balance."""
    shared: str
    """What the open balances have in common, as a sentence."""
    left_out: tuple[LeftOutRow, ...]
    rows: tuple[Row, ...]
    assumed: tuple[Row, ...]
    reach: float
    balances: tuple[BalanceRow, ...]
    wanting: tuple[str, ...]
    """Balances that one or two more readings would make possible."""
    model: str
    """Of the model of the cycle as a witness; empty where it is none here."""
    sources: tuple[str, ...]
    counts: tuple[int, int]
    """Readings, balances."""
    doubts: tuple[DoubtRow, ...] = ()
    """What the engine's log says against its readings."""


def checked_of(view: VisitView, state: State) -> CrossCheck | None:
    """Return the cross-check itself; None where nothing checks anything."""
    return cross_check_of(view.case, state)


def unsolved(view: VisitView, state: State) -> str:
    """Return why the balances could not be solved; empty where they were, or where there is none."""
    return why_unsolved(view.case, state)


@kept_with
def crosscheck_shown(view: VisitView, state: State, system: System) -> CrossCheckShown | None:
    """Return what page and report show; made once for a view, which never changes."""
    found = checked_of(view, state)
    if found is None:
        return None
    rows, reach = rows_of(found, system)
    marked = {row.name: row.part for row in rows}
    picture, little = _picture(found, marked)
    return CrossCheckShown(
        state=state,
        answer=answer_of(found, system),
        more=more_of(found),
        picture=picture,
        little=little,
        shared=_shared(found, marked),
        left_out=_left_out(found),
        rows=tuple(row for row in rows if not row.assumed),
        assumed=tuple(row for row in rows if row.assumed),
        reach=reach,
        balances=_balances(found, marked),
        wanting=_wanting(found),
        model=_model(found),
        sources=tuple(dict.fromkeys(cite(one.source, one.clause) for one in found.balances)),
        counts=(sum(not one.assumed for one in found.readings), len(found.balances)),
        doubts=tuple(
            DoubtRow(
                key=one.key, title=found.assembled.values[one.name].title, says=one.says,
                before=found.assembled.values[one.name].prior, prior=one.prior,
            )
            for one in found.doubts
        ),
    )  # fmt: skip


def _model(found: CrossCheck) -> str:
    """Say how far the model of the cycle may be taken as a witness."""
    balances = of_model(found)
    if not balances:
        return ""
    fitted = f"It was {balances[0].model}, and to no reading of this state: no reading is confirmed by itself."
    return (
        f"{fitted} It goes by speed, manifold pressure and temperature, timing, mixture and gas as they were read, and "
        "its doubt is that of what nobody reads (burn, heat to the walls, friction, filling) and its own; these doubts "
        "belong together. It knows no misfire, no single cylinder and no prechamber. Where it stands apart, its own "
        "error is among the suspects: then the engine may be another than is usual, and no instrument lies."
    )


def _picture(found: CrossCheck, marked: Mapping[str, str]) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Return the net: readings that count, suspects in any case, balances that rest on a reading drawn."""
    weight = weights(found)
    shown = [one for one in found.readings if not one.assumed or marked[one.name] != "plain"]
    counting = {name for (name, _), share in weight.items() if share >= COUNTS}
    drawn = {one.name for one in shown if one.name in counting or marked[one.name] != "plain"}
    links = [
        pair for pair, share in weight.items() if pair[0] in drawn and (share >= COUNTS or marked[pair[0]] != "plain")
    ]
    linked = {balance for _, balance in links}
    nodes = [
        Node(one.name, one.title, part=marked[one.name], assumed=one.assumed)  # type: ignore[arg-type]
        for one in shown
        if one.name in drawn
    ]
    balances = [
        Balance(one.name, one.title, CLOSES[one.closes], one.closes) for one in found.balances if one.name in linked
    ]
    picture = {
        "nodes": nodes,
        "balances": balances,
        "links": links,
        "state": found.state,
        "label": _label(found, marked),
    }
    return picture, tuple(lower(one.title) for one in shown if one.name not in drawn)


def _label(found: CrossCheck, marked: Mapping[str, str]) -> str:
    opened = [one for one in found.balances if one.closes is False]
    read = sum(not one.assumed for one in found.readings)
    head = f"{read} readings and {len(found.balances)} balances. "
    if not opened:
        return head + "Every balance that can be told closes."
    return head + _shared(found, marked)


def _shared(found: CrossCheck, marked: Mapping[str, str]) -> str:
    """Say which balances do not close, and what they share."""
    opened = [one for one in found.balances if one.closes is False]
    if not opened:
        return ""
    first = [lower(one.title) for one in opened[:OPEN_NAMED]]
    more = len(opened) - OPEN_NAMED
    names = listed([*first, f"{more} more"] if more > 0 else first)
    said = (
        f"{len(opened)} balances do not close: {names}." if len(opened) > 1 else f"One balance does not close: {names}."
    )
    suspects = [one for one in found.readings if marked[one.name] == "suspect"]
    common = [one for one in suspects if all(one.name in balance.takes for balance in opened)]
    if len(opened) > 1 and common:
        said += f" What they share: {listed([lower(one.title) for one in common])}."
    apart = [one for one in opened if not any(marked[name] != "plain" for name in one.takes)]
    if apart and len(apart) < len(opened):
        said += " Some hang on the wrong one only through what nobody measured."
    return said


def _left_out(found: CrossCheck) -> tuple[LeftOutRow, ...]:
    """Return what remains with nothing left out, then without each value, the least first; same marks in one row."""
    grouped: list[tuple[list[str], float, int]] = []
    for one in found.left_out:
        near = next((of for of in grouped if abs(of[1] - one.chi_squared) <= SAME * max(found.chi_squared, 1.0)), None)
        if near:
            near[0].append(one.title)
        else:
            grouped.append(([one.title], one.chi_squared, one.degrees))
    usual = float(chi_squared_critical(ALPHA, max(found.degrees - 1, 1)))
    whole = max(found.chi_squared, found.usual_below) * 1.08
    rows = [
        LeftOutRow(
            title="Nothing left out", remains=found.chi_squared, usual=found.usual_below,
            fits=found.chi_squared <= found.usual_below, whole=whole,
        )
    ]  # fmt: skip
    for titles, remains, degrees in grouped[:BARS]:
        if degrees < 1:
            usual = 0.0
        rows.append(
            LeftOutRow(
                title=f"Without {_some(titles)}", remains=remains, usual=usual, fits=remains <= usual, whole=whole
            )
        )
    return tuple(rows)


def _some(titles: list[str]) -> str:
    """Return the first of several that leave the same mark, and how many more there are."""
    first = " or ".join(lower(one) for one in titles[:NAMED])
    more = len(titles) - NAMED
    return f"{first} or {more} more" if more > 0 else first


def _balances(found: CrossCheck, marked: Mapping[str, str]) -> tuple[BalanceRow, ...]:
    """Return the balances, those that do not close first."""
    weight, titles = weights(found), {one.name: one.title for one in found.readings}
    order = sorted(found.balances, key=lambda one: (one.closes is not False, -_size(one)))
    return tuple(
        BalanceRow(
            title=one.title,
            equation=one.equation,
            says=CLOSES[one.closes],
            closes=one.closes,
            distance=one.distance,
            takes=tuple(
                (titles[name], marked[name] != "plain")
                for name in one.takes
                if name not in one.assumed and (weight.get((name, one.name), 0.0) >= COUNTS or marked[name] != "plain")
            ),
            assumed=tuple(titles[name] for name in one.assumed if weight.get((name, one.name), 0.0) >= COUNTS),
            source=cite(one.source, one.clause),
        )
        for one in order
    )


def _size(one: CheckedBalance) -> float:
    return abs(one.distance) if one.distance == one.distance else 0.0


def _wanting(found: CrossCheck) -> tuple[str, ...]:
    """Say which balances one or two more readings would add."""
    values = found.assembled.values
    near = sorted((one for one in found.assembled.wanting if len(one.lacks) <= 2), key=lambda one: len(one.lacks))
    return tuple(
        f"{sentence(listed([lower(values[name].title) for name in one.lacks]))}: {lower(one.balance.title)}"
        for one in near
        if all(name in values for name in one.lacks)
    )
