"""Bars of belief, weight and share: leading solid, second hatched, others grey, not in the catalogue dotted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from asfound.report.ink import Picture

Rank = Literal["lead", "second", "rest", "none"]
LEAST = 1.7
"""A share above nought is never drawn narrower. [px]"""
GAP = 1.0


@dataclass(frozen=True, slots=True)
class Share:
    """One build or variant with its probability; ``other`` = not in the catalogue."""

    title: str
    probability: float
    other: bool = False


def ranks(parts: Sequence[Share]) -> tuple[Rank, ...]:
    """Return how each part is drawn: the most probable solid, the next hatched, the rest grey, the unknown dotted."""
    named = sorted((i for i, p in enumerate(parts) if not p.other), key=lambda i: (-parts[i].probability, i))
    order: tuple[Rank, ...] = ("lead", "second")
    drawn: dict[int, Rank] = {i: order[at] if at < 2 else "rest" for at, i in enumerate(named)}
    return tuple(drawn.get(i, "none") for i in range(len(parts)))


def belief_bar(
    parts: Sequence[Share], *, width: float = 340, height: float = 22, label: str = "", paper: bool = False
) -> str:
    """Draw a whole belief in one bar, the parts in the order of their probability, the unknown last.

    Parameters
    ----------
    parts : sequence of Share
        Probabilities that add up to 1 or less; what is missing stays empty track.
    """
    picture = Picture(width, height, label=label or _says(parts), paper=paper)
    if sum(p.probability for p in parts) < 0.995:
        picture.rect("p-track", 0.5, 1, width - 1, height - 2)
    drawn = sorted(zip(parts, ranks(parts), strict=True), key=lambda pair: (pair[1] == "none", -pair[0].probability))
    shown = [(part, rank) for part, rank in drawn if part.probability > 0.0005]
    room = width - GAP * max(len(shown) - 1, 0)
    small = [part for part, _ in shown if part.probability * room < LEAST]
    rest = room - LEAST * len(small)
    total = sum(part.probability for part, _ in shown if part not in small) or 1.0
    scale = min(rest / total, rest) if total < 0.995 else rest / total
    x = 0.0
    for part, rank in shown:
        long = LEAST if part in small else part.probability * scale
        _fill(picture, rank, x, 1, min(long, width - x), height - 2)
        x += long + GAP
    return picture.svg()


def belief_row(
    probability: float,
    *,
    rank: Rank = "lead",
    before: float | None = None,
    width: float = 240,
    height: float = 22,
    label: str = "",
    paper: bool = False,
) -> str:
    """Draw one probability in its track; ``before`` puts an upright mark at the old value."""
    picture = Picture(width, height, label=label, paper=paper)
    picture.rect("p-track", 0.5, 2, width - 1, height - 4)
    long = max(min(probability, 1.0), 0.0) * (width - 1)
    if probability > 0:
        _fill(picture, rank, 0.5, 2, max(long, LEAST), height - 4)
    if before is not None:
        x = 0.5 + max(min(before, 1.0), 0.0) * (width - 1)
        picture.line("p-was", x, 0, x, height)
    return picture.svg()


def weights_bar(
    decibans: float, *, largest: float, width: float = 260, height: float = 34, label: str = "", paper: bool = False
) -> str:
    """Draw a signed weight about a middle line: to the right for the leader, to the left against it.

    Parameters
    ----------
    decibans : float
    largest : float
        Largest amount in the list, so that all bars share one scale.
    """
    picture = Picture(width, height, label=label, paper=paper)
    middle = width / 2
    reach = max(largest, abs(decibans), 1e-9)
    long = abs(decibans) / reach * (middle - 4)
    if decibans >= 0:
        picture.rect("w-for", middle, height / 2 - 8, long, 16)
    else:
        picture.rect("w-against", middle - long, height / 2 - 8, long, 16)
    picture.line("heavy", middle, 2, middle, height - 2)
    return picture.svg()


def share_bar(share: float, *, width: float = 120, height: float = 12, label: str = "", paper: bool = False) -> str:
    """Draw which part of the doubt comes from one reading. ``share`` in [0, 1]."""
    picture = Picture(width, height, label=label, paper=paper)
    picture.rect("p-track", 0.5, 0.5, width - 1, height - 1)
    picture.rect("p-rest", 0.5, 0.5, max(min(share, 1.0), 0.0) * (width - 1), height - 1)
    return picture.svg()


def _fill(picture: Picture, rank: Rank, x: float, y: float, width: float, height: float) -> None:
    inside = 0.6 if rank in {"second", "none"} else 0.0  # these have an outline, which must stay in the picture
    picture.rect(f"p-{rank}", x + inside, y + inside, max(width - 2 * inside, 0.4), height - 2 * inside)


def _says(parts: Sequence[Share]) -> str:
    order = sorted(parts, key=lambda p: -p.probability)
    return "; ".join(f"{p.title} {100 * p.probability:.0f} in 100" for p in order if p.probability >= 0.005)
