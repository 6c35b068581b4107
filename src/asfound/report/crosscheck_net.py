"""The net of a cross-check: readings left, balances right, a curve where a reading counts in a balance.

What does not close is dashed, and the reading that is judged false is struck out, so that in black and white the eye
still goes to what they share.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Literal

from asfound.report.ink import Picture

Part = Literal["plain", "suspect", "maybe"]
RADIUS, STRUCK = 7.0, 10.0
LINE = 17.5
"""From one line of text to the next. [px]"""
GAP, PAPER_GAP = 12.0, 8.0
PAD = 9.0
"""Inside a tag. [px]"""
CUT = 10.0
ROUNDS = 6
"""Of ordering both columns by what they are linked with."""


@dataclass(frozen=True, slots=True)
class Node:
    """A reading; ``assumed``: nobody read it, it is a constant with its doubt."""

    name: str
    title: str
    part: Part = "plain"
    assumed: bool = False


@dataclass(frozen=True, slots=True)
class Balance:
    """A balance: ``closes`` None where nothing tells."""

    name: str
    title: str
    says: str
    closes: bool | None


@dataclass(slots=True)
class _Box:
    """A node or tag while it is laid out."""

    lines: list[str]
    high: float
    middle: float = 0.0
    links: list[int] = field(default_factory=list)


def crosscheck_net(
    nodes: Sequence[Node],
    balances: Sequence[Balance],
    links: Iterable[tuple[str, str]],
    *,
    label: str,
    state: str = "as_found",
    width: float = 540,
    paper: bool = False,
) -> str:
    """Draw which readings count in which balances.

    Parameters
    ----------
    nodes : sequence of Node
    balances : sequence of Balance
    links : iterable of (str, str)
        Name of a reading, name of a balance.
    label : str
        The sentence that says what it shows.
    state : {'as_found', 'as_left'}
        Rings or discs.
    width : float
        Of the picture, 330 at least. [px]
    """
    picture = Picture(max(width, 330.0), 10, label=label, paper=paper)
    pairs = sorted({(a, b) for a, b in links})
    left, right = ordered(nodes, balances, pairs)
    column, tags = _columns(picture, left, right)
    ring_x = column + 16
    nodes_laid = [_node(picture, one, column - 2) for one in left]
    tags_laid = [_tag(picture, one, tags) for one in right]
    gap = PAPER_GAP if paper else GAP
    high = max(_stack_height(nodes_laid, 4.0), _stack_height(tags_laid, gap))
    _spread(nodes_laid, high, 4.0)
    _spread(tags_laid, high, gap)
    picture.height = high + 4
    where = {one.name: box for one, box in zip(left, nodes_laid, strict=True)}
    at = {one.name: box for one, box in zip(right, tags_laid, strict=True)}
    marked = {one.name: one.part for one in left}
    open_ones = {one.name for one in right if one.closes is False}
    x1 = picture.width - tags
    for kind in ("thin", "clashline dash", "clashline"):
        for a, b in pairs:
            if _link_kind(marked[a], b in open_ones) == kind:
                _curve(picture, kind, ring_x + RADIUS + 2, where[a].middle, x1, at[b].middle)
    for one, box in zip(left, nodes_laid, strict=True):
        _draw_node(picture, one, box, ring_x, column, state)
    for balance, box in zip(right, tags_laid, strict=True):
        _draw_tag(picture, balance, box, x1)
    return picture.svg()


def ordered(
    nodes: Sequence[Node], balances: Sequence[Balance], links: Sequence[tuple[str, str]]
) -> tuple[list[Node], list[Balance]]:
    """Return both columns in an order with few crossings: suspects and what does not close first, the rest by the mean
    place of what each is linked with.
    """  # fmt: skip
    left, right = list(nodes), list(balances)
    rank: dict[Part, int] = {"suspect": 0, "maybe": 1, "plain": 2}
    for _ in range(ROUNDS):
        place = {one.name: at for at, one in enumerate(right)}
        mean = {one.name: _mean([place[b] for a, b in links if a == one.name]) for one in left}
        left.sort(key=lambda one: (rank[one.part], mean[one.name]))
        place = {one.name: at for at, one in enumerate(left)}
        mean = {one.name: _mean([place[a] for a, b in links if b == one.name]) for one in right}
        right.sort(key=lambda one: (one.closes is not False, mean[one.name]))
    return left, right


def _mean(places: Sequence[int]) -> float:
    return sum(places) / len(places) if places else float("inf")


def _columns(picture: Picture, left: Sequence[Node], right: Sequence[Balance]) -> tuple[float, float]:
    """Return the width of the readings' titles and of the tags."""
    titles = max((picture.width_of("tx-b", one.title) for one in left), default=0.0)
    tags = max(
        (max(picture.width_of("tx-b", one.title), picture.width_of("tx-b", one.says)) for one in right), default=0
    )
    return min(titles + 4, 0.39 * picture.width), min(tags + 2 * PAD + 6, 0.36 * picture.width)


def _node(picture: Picture, one: Node, room: float) -> _Box:
    lines = picture.wrap("tx-b" if one.part == "suspect" else "tx", one.title, room)
    if len(lines) > 1 and lines[-1].isdigit():  # the number of a stage stays with its word
        head, _, word = lines[-2].rpartition(" ")
        lines = [*lines[:-2], head, f"{word} {lines[-1]}"] if head else lines
    return _Box(lines, max(LINE * len(lines), 2 * STRUCK) + 4)


def _tag(picture: Picture, one: Balance, wide: float) -> _Box:
    lines = picture.wrap("tx-b", one.title, wide - 2 * PAD - 6)
    return _Box(lines, LINE * (len(lines) + 1) + 11)


def _stack_height(boxes: Sequence[_Box], gap: float) -> float:
    return sum(one.high for one in boxes) + gap * max(len(boxes) - 1, 0)


def _spread(boxes: Sequence[_Box], high: float, gap: float) -> None:
    """Place boxes below each other over the whole height, but never further apart than three times their gap."""
    free = high - _stack_height(boxes, gap)
    more = min(free / max(len(boxes) - 1, 1), 2 * gap + 16)
    y = 2 + max((free - more * max(len(boxes) - 1, 0)) / 2, 0.0)
    for one in boxes:
        one.middle = y + one.high / 2
        y += one.high + gap + more


def _link_kind(part: Part, opened: bool) -> str:
    if part == "plain" or not opened:
        return "thin"
    return "clashline" if part == "suspect" else "clashline dash"


def _curve(picture: Picture, kind: str, x0: float, y0: float, x1: float, y1: float) -> None:
    bend = x0 + 0.46 * (x1 - x0)
    picture.path(kind, f"M {x0:.0f},{y0:.0f} C {bend:.0f},{y0:.0f} {bend:.0f},{y1:.0f} {x1:.0f},{y1:.0f}")


def _draw_node(picture: Picture, one: Node, box: _Box, x: float, column: float, state: str) -> None:
    text = "tx-b e clashtext" if one.part == "suspect" else "tx e"
    y = box.middle - LINE * (len(box.lines) - 1) / 2 + 5
    for at, line in enumerate(box.lines):
        picture.text(text, column, y + LINE * at, line)
    if one.part == "suspect":
        picture.circle("clashring", x, box.middle, STRUCK)
        picture.path("clashline", f"M {x - 8:.1f},{box.middle + 8:.1f} L {x + 8:.1f},{box.middle - 8:.1f}")
    elif one.assumed:
        y0 = box.middle - RADIUS
        picture.path(
            "inkf", f"M {x - 3:.1f},{y0:.1f} h {RADIUS + 3:.1f} v {2 * RADIUS:.1f} h {-2 * RADIUS:.1f} v -10 Z"
        )
    elif one.part == "maybe":
        picture.circle("clashring", x, box.middle, RADIUS)
    else:
        picture.circle("disc" if state == "as_left" else "ring", x, box.middle, RADIUS)


def _draw_tag(picture: Picture, one: Balance, box: _Box, x: float) -> None:
    top, right = box.middle - box.high / 2, picture.width - 2
    kind = {False: "clashbox", True: "inkf", None: "openpart"}[one.closes]
    outline = f"M {x + CUT:.1f},{top:.1f} H {right:.1f} V {top + box.high:.1f} H {x:.1f} V {top + CUT:.1f} Z"
    picture.path(kind, outline)
    y = top + LINE
    for at, line in enumerate([*box.lines]):
        picture.text("tx-b", x + PAD + 5, y + LINE * at, line)
    picture.text("tx-s clashtext" if one.closes is False else "tx-s", x + PAD + 5, y + LINE * len(box.lines), one.says)
