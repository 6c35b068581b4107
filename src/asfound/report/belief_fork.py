"""A fork: what each answer to the next test would make of the belief, and how likely that answer is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from asfound.report.bars import LEAST, Rank
from asfound.report.ink import Picture, number

STACKED = 470.0
"""Narrower than this the name of a cause stands above its bar. [px]"""
BAR = 15.0
BETWEEN, AFTER = 8.0, 22.0
"""Room between rows, and between answers. [px]"""


@dataclass(frozen=True, slots=True)
class Outcome:
    """A cause and its chance after an answer; drawn as it stands now, so that one cause looks alike everywhere."""

    title: str
    probability: float
    rank: Rank


@dataclass(frozen=True, slots=True)
class Branch:
    """An answer: in words, how likely it is, and what would lead then."""

    answer: str
    chance: str
    likely: bool
    outcomes: tuple[Outcome, ...]


def belief_fork(branches: Sequence[Branch], *, label: str, width: float = 520, paper: bool = False) -> str:
    """Draw a disc (what is believed now) with a curve to each answer; the likelier answer has the heavier curve.

    Parameters
    ----------
    branches : sequence of Branch
        From above.
    label : str
        The sentence that says what it shows.
    width : float
        Of the picture, 280 at least. [px]
    """
    picture = Picture(max(width, 280.0), 10, label=label, paper=paper)
    x = 104.0 if picture.width >= STACKED else 46.0
    y, heads = 0.0, []
    for branch in branches:
        head, y = _branch(picture, branch, x, y)
        heads.append(head)
        y += AFTER
    picture.height = max(y - AFTER + 3, 20.0)
    middle = (heads[0] + heads[-1]) / 2 if heads else 10.0
    for branch, head in zip(branches, heads, strict=True):
        bend = (x - 12) * 0.55
        picture.path(
            "heavy" if branch.likely else "ink",
            f"M 8,{number(middle)} C {number(8 + bend)},{number(middle)} {number(x - 10 - bend)},{number(head)} "
            f"{number(x - 10)},{number(head)}",
        )
    picture.circle("disc", 8, middle, 7)
    return picture.svg()


def _branch(picture: Picture, branch: Branch, x: float, top: float) -> tuple[float, float]:
    """Draw one answer; return the height that its curve ends at, and where it ends below."""
    line = picture.size_of("tx-b") + 4
    room, y = picture.width - x, top
    beside = picture.width_of("tx-s", branch.chance) + 14
    lines = picture.wrap("tx-b", branch.answer, room - beside) if room - beside > 130 else []
    one_row = bool(lines) and len(lines) <= 2
    lines = lines if one_row else picture.wrap("tx-b", branch.answer, room)
    for text in lines:
        y += line
        picture.text("tx-b", x, y - 4, text)
    if one_row:
        picture.text("tx-s e", picture.width, top + line - 4, branch.chance)
    else:
        y += line
        picture.text("tx-s", x, y - 4, branch.chance)
    head = top + line / 2
    y += 4
    for outcome in branch.outcomes:
        y = _outcome(picture, outcome, x, y)
    return head, y - BETWEEN


def _outcome(picture: Picture, one: Outcome, x: float, top: float) -> float:
    """Draw name, bar and number of one cause; return where the next may begin."""
    line = picture.size_of("tx-s") + 3
    digits = picture.width_of("tx-b", ">99")
    end = picture.width - digits - 10
    stacked = picture.width < STACKED
    names = picture.width - x if stacked else (end - x) * 0.56
    lines = picture.wrap("tx-s", one.title, names)
    for i, text in enumerate(lines):
        picture.text("tx-s", x, top + line * (i + 1) - 4, text)
    if stacked:
        start, y = x, top + line * len(lines) + 2
        bottom = y + BAR
    else:
        start = x + names + 12
        high = max(line * len(lines), BAR)
        y, bottom = top + (high - BAR) / 2, top + high
    long = max(end - start, 20.0)
    picture.rect("p-track", start + 0.5, y + 0.5, long - 1, BAR - 1)
    picture.rect(f"p-{one.rank}", start + 0.6, y + 0.6, max(one.probability * (long - 1.2), LEAST), BAR - 1.2)
    picture.text("tx-b e", picture.width, y + BAR - 2.5, in_100(one.probability))
    return bottom + BETWEEN


def in_100(probability: float) -> str:
    """Return a chance as a count in a hundred, never rounded to nothing or to all."""
    if probability < 0.005:
        return "<1"
    return ">99" if probability >= 0.995 else f"{100 * probability:.0f}"
