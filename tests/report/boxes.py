"""Where the words of a picture are: for tests that no two touch and none is cut."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import combinations
from xml.etree import ElementTree

from asfound.report.ink import PAPER_TEXT, SCREEN_TEXT, text_width

CAP = 0.72
"""Height of capitals and figures over the size; tails below the line are left out."""


@dataclass(frozen=True)
class Box:
    text: str
    left: float
    top: float
    right: float
    bottom: float

    def touches(self, other: Box) -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


def parse(markup: str) -> ElementTree.Element:
    """Return the picture as a tree; fails when it is not well formed."""
    return ElementTree.fromstring(re.sub(r' xmlns="[^"]*"', "", markup))


def words(markup: str) -> list[Box]:
    """Return the boxes of all text that is not inside a moved group."""
    sizes = PAPER_TEXT if "xmlns" in markup else SCREEN_TEXT
    found: list[Box] = []

    def walk(node: ElementTree.Element, moved: bool) -> None:
        moved = moved or "transform" in node.attrib
        if node.tag == "text" and not moved:
            kinds = node.attrib["class"].split()
            size, weight = next(sizes[k] for k in kinds if k in sizes)
            wide = text_width(node.text or "", size, "mid" if "walltext" in kinds else weight)
            x, y = float(node.attrib["x"]), float(node.attrib["y"])
            middle = "m" in kinds or kinds[0] in ("tagno", "portno")
            left = x - wide / 2 if middle else x - wide if "e" in kinds else x
            found.append(Box(node.text or "", left, y - size * CAP, left + wide, y))
        for child in node:
            walk(child, moved)

    walk(parse(markup), False)
    return found


def frame(markup: str) -> tuple[float, float]:
    """Return width and height of the view box."""
    box = parse(markup).attrib["viewBox"].split()
    return float(box[2]), float(box[3])


def overlaps(markup: str) -> list[tuple[str, str]]:
    """Return the pairs of texts that touch."""
    return [(a.text, b.text) for a, b in combinations(words(markup), 2) if a.touches(b)]


def cut(markup: str, slack: float = 1.0) -> list[str]:
    """Return the texts that stand out of the picture."""
    wide, high = frame(markup)
    return [
        b.text
        for b in words(markup)
        if b.left < -slack or b.right > wide + slack or b.top < -slack or b.bottom > high + slack
    ]


def check(markup: str) -> None:
    """Assert what holds for every picture: well formed, no style, no touching or cut text."""
    assert " style=" not in markup
    assert overlaps(markup) == []
    assert cut(markup) == []
