"""The pen: builds one SVG picture from lines, shapes and text that carry classes only.

A picture for a page takes its colours from the page's style sheet (day, night, sunlight). A picture for paper
(``paper=True``) brings the plain colours and hatches that it uses, because the typesetter knows no custom properties.
Nothing here measures with a browser: the width of text comes from the advance widths of the faces that the pages use.
"""

from __future__ import annotations

import json
import unicodedata
from functools import cache, lru_cache
from html import escape
from importlib.resources import files
from typing import TYPE_CHECKING

from asfound.language import Written, told
from asfound.report.paper import paper_style

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

SCREEN_TEXT = {
    "tx": (15.5, "body"),
    "tx-s": (14.5, "body"),
    "tx-b": (15.5, "bold"),
    "tx-l": (18.0, "bold"),
    "tx-xl": (22.0, "bold"),
    "tagno": (19.0, "bold"),
    "portno": (15.5, "bold"),
    "portno-2": (24.0, "body"),
    "tx-2": (22.0, "body"),
}
"""Size in px and weight of each text class, as in the style sheet."""
PAPER_TEXT = {
    "tx": (13.0, "body"),
    "tx-s": (13.0, "body"),
    "tx-b": (13.0, "bold"),
    "tx-l": (15.0, "bold"),
    "tx-xl": (18.0, "bold"),
    "tagno": (19.0, "bold"),
    "portno": (15.0, "body"),
    "portno-2": (24.0, "body"),
    "tx-2": (22.0, "body"),
}
WIDE = 1000
"""Advance of a character that the faces do not have, per mille of the size: as wide as any in a fallback face."""


def number(value: float) -> str:
    """Return a coordinate with one decimal at most, without a negative nought.

    >>> number(12.04), number(-0.01), number(3.25)
    ('12', '0', '3.2')
    """
    text = f"{value:.1f}"
    text = text.removesuffix(".0")
    return "0" if text == "-0" else text


@cache
def _advances() -> dict[str, dict[str, int]]:
    return json.loads(files("asfound.report").joinpath("data/advances.json").read_text("utf-8"))  # type: ignore[no-any-return]


@lru_cache(maxsize=16_384)
def text_width(text: str, size: float, weight: str = "body", face: str = "text") -> float:
    """Return how wide a line of text is, in px.

    Parameters
    ----------
    text : str
    size : float
        Of the type. [px]
    weight : {'body', 'mid', 'bold'}
        400, 550, 680.
    face : {'text', 'mono'}

    Notes
    -----
    Sum of the advance widths of the faces' own tables (tabular figures), no kerning. A bold line in another face of
    a computer without the fonts may be wider; the pictures keep some room for that.
    """
    table = _advances()[f"{face} {weight}"]
    total = 0
    for sign in text:
        if unicodedata.combining(sign):
            continue
        total += table.get(sign, WIDE)
    return total * size / 1000


def in_two(head: str) -> Sequence[str]:
    """Return a short head in two lines, as a language parts it: ``flywheel end``, ``Schwungrad-|seite``."""
    said = told(f"{head} [two lines]")
    return [Written(line) for line in said.split("|")] if "|" in said else head.rsplit(" ", 1)


def wrap(text: str, room: float, size: float, weight: str = "body") -> list[str]:
    """Return lines that are each no wider than ``room``; a word that is wider is broken, nothing is left out."""
    lines: list[str] = []
    line = ""
    for word in text.split():
        trial = f"{line} {word}".strip()
        if text_width(trial, size, weight) <= room:
            line = trial
            continue
        if line:
            lines.append(line)
        line = word
        while text_width(line, size, weight) > room and len(line) > 1:
            cut = len(line) - 1
            while cut > 1 and text_width(line[:cut], size, weight) > room:
                cut -= 1
            lines.append(line[:cut])
            line = line[cut:]
    if line:
        lines.append(line)
    return lines or [""]


def points(pairs: Iterable[Sequence[float]], *, close: bool = False) -> str:
    """Return path data through points."""
    said = " L ".join(f"{number(x)},{number(y)}" for x, y in pairs)
    return f"M {said}{' Z' if close else ''}"


class Picture:
    """One SVG picture while it is drawn.

    Parameters
    ----------
    width, height : float
        Of the view box. [px]
    label : str
        The sentence that says what it shows. Empty: the picture only repeats the text beside it and is hidden.
    paper : bool
        Plain colours and hatches inside.
    role : str
        ``img``; ``group`` where there are links inside (readers of the screen do not reach into an image).
    """

    def __init__(
        self, width: float, height: float, *, label: str, paper: bool = False, classes: str = "", role: str = "img"
    ) -> None:
        self.width, self.height, self.label, self.paper, self.classes = width, height, label, paper, classes
        self.role, self.top = role, 0.0
        self._parts: list[str] = []

    def size_of(self, kind: str) -> float:
        """Return the type size of a text class here. [px]"""
        return (PAPER_TEXT if self.paper else SCREEN_TEXT)[kind][0]

    def width_of(self, kind: str, text: str) -> float:
        """Return the width of a text in a text class here. [px]"""
        size, weight = (PAPER_TEXT if self.paper else SCREEN_TEXT)[kind]
        return text_width(told(text), size, weight)

    def wrap(self, kind: str, text: str, room: float) -> list[str]:
        """Break a text, as the reader reads it, into lines no wider than ``room``; they are not told again."""
        size, weight = (PAPER_TEXT if self.paper else SCREEN_TEXT)[kind]
        return [Written(line) for line in wrap(told(text), room, size, weight)]

    def raw(self, markup: str) -> None:
        """Add markup that another picture made."""
        self._parts.append(markup)

    def line(self, kind: str, x1: float, y1: float, x2: float, y2: float) -> None:
        """Draw a line."""
        self._parts.append(
            f'<line class="{kind}" x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"/>'
        )

    def rect(self, kind: str, x: float, y: float, width: float, height: float, rx: float = 0) -> None:
        """Draw a rectangle, corners rounded by ``rx``."""
        rounded = f' rx="{number(rx)}"' if rx else ""
        self._parts.append(
            f'<rect class="{kind}" x="{number(x)}" y="{number(y)}" width="{number(max(width, 0))}" '
            f'height="{number(max(height, 0))}"{rounded}/>'
        )

    def circle(self, kind: str, x: float, y: float, r: float) -> None:
        """Draw a circle."""
        self._parts.append(f'<circle class="{kind}" cx="{number(x)}" cy="{number(y)}" r="{number(r)}"/>')

    def path(self, kind: str, data: str) -> None:
        """Draw a path."""
        self._parts.append(f'<path class="{kind}" d="{data}"/>')

    def text(self, kind: str, x: float, y: float, text: str) -> None:
        """Write a line of text; classes ``m`` and ``e`` put its middle or end at ``x``."""
        said = escape(told(text), quote=False)
        self._parts.append(f'<text class="{kind}" x="{number(x)}" y="{number(y)}">{said}</text>')

    def open(self, tag: str, **attributes: str) -> None:
        """Open a group or link; ``kind`` becomes its class."""
        said = "".join(
            f' {"class" if k == "kind" else k.replace("_", "-")}="{escape(told(v) if k == "aria_label" else v)}"'
            for k, v in attributes.items()
        )
        self._parts.append(f"<{tag}{said}>")

    def title(self, text: str) -> None:
        """Add a title to the open group."""
        self._parts.append(f"<title>{escape(told(text), quote=False)}</title>")

    def close(self, tag: str) -> None:
        """Close the group or link."""
        self._parts.append(f"</{tag}>")

    @property
    def body(self) -> str:
        """What has been drawn so far, without the frame."""
        return "".join(self._parts)

    def svg(self) -> str:
        """Return the whole picture as text."""
        body = self.body
        said = f' role="{self.role}" aria-label="{escape(told(self.label))}"' if self.label else ' aria-hidden="true"'
        kind = f' class="{self.classes}"' if self.classes else ""
        w, h = number(self.width), number(self.height)
        box = f'viewBox="0 {number(self.top)} {w} {h}"'
        if self.paper:
            size = f'width="{w}" height="{h}"'
            return f'<svg xmlns="http://www.w3.org/2000/svg" {size} {box}{said}>{paper_style(body)}{body}</svg>'
        return f"<svg{kind} {box}{said}>{body}</svg>"
