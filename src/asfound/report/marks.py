"""The four marks alone: sign of the house, progress, state of a reading, nodes of a trail, tie-on tag."""

from __future__ import annotations

from math import cos, pi, sin

from asfound.errors import UnknownNameError
from asfound.report.icons import look_markup
from asfound.report.ink import Picture, number


def page_defs() -> str:
    """Return the hatches that pictures on a page refer to; once per page, at the start of the body."""
    return (
        '<svg class="defs" width="0" height="0" aria-hidden="true"><defs>'
        '<pattern id="hatch-wall" width="8" height="8" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<line class="h-wall" x1="0" y1="0" x2="0" y2="8"/></pattern>'
        '<pattern id="hatch-wall-paper" width="7" height="7" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)">'
        '<line x1="0" y1="0" x2="0" y2="7" stroke="#8e1c06" stroke-width="1.8"/></pattern>'
        '<pattern id="hatch-second" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)">'
        '<rect class="h-sheet" width="6" height="6"/><line class="h-second" x1="0" y1="0" x2="0" y2="6"/></pattern>'
        '<pattern id="hatch-second-paper" width="6" height="6" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(-45)"><rect width="6" height="6" fill="#fff"/>'
        '<line x1="0" y1="0" x2="0" y2="6" stroke="#2a2d98" stroke-width="2.4"/></pattern>'
        '<pattern id="hatch-kit" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(-45)">'
        '<rect class="h-sheet" width="9" height="9"/><rect class="h-kit" width="4" height="9"/></pattern>'
        '<pattern id="hatch-gap" width="6" height="6" patternUnits="userSpaceOnUse">'
        '<circle class="h-gap" cx="1.5" cy="1.5" r="1"/></pattern>'
        "</defs></svg>"
    )


def house_sign(*, size: float = 34, label: str = "", paper: bool = False) -> str:
    """Draw the sign of the house: a ring with its disc."""
    picture = Picture(34, 34, label=label, paper=paper)
    picture.circle("house", 17, 17, 13)
    picture.circle("chosenfill", 17, 17, 5.6)
    return _sized(picture, size)


def state_sign(state: str, *, size: float = 16, label: str = "", paper: bool = False) -> str:
    """Draw the ring (``as_found``) or the disc (``as_left``)."""
    picture = Picture(24, 24, label=label, paper=paper)
    if state == "as_found":
        picture.circle("bigring", 12, 12, 8)
    elif state == "as_left":
        picture.circle("if", 12, 12, 9.5)
    else:
        raise UnknownNameError("state", state, ("as_found", "as_left"))
    return _sized(picture, size)


def ring_disc(
    found_share: float | None, left_share: float | None, *, size: float = 28, label: str = "", paper: bool = False
) -> str:
    """Draw the progress of a step: arc of the ring = part of the as-found set taken, sector of the disc = as left.

    Parameters
    ----------
    found_share, left_share : float or None
        0 to 1, held inside; None where the step has no such set.
    """
    picture = Picture(28, 28, label=label, paper=paper, classes="rd")
    if found_share is not None:
        share = min(max(found_share, 0.0), 1.0)
        if share < 1:
            picture.circle("pring", 14, 14, 11)
        _arc(picture, share)
    if left_share is not None:
        _sector(picture, min(max(left_share, 0.0), 1.0))
    return _sized(picture, size)


def _at(share: float, r: float) -> tuple[float, float]:
    angle = 2 * pi * share
    return 14 + r * sin(angle), 14 - r * cos(angle)


def _arc(picture: Picture, share: float) -> None:
    if share >= 1:
        picture.circle("parc", 14, 14, 11)
    elif share > 0:
        x, y = _at(share, 11)
        picture.path("parc", f"M 14,3 A 11,11 0 {int(share > 0.5)} 1 {number(x)},{number(y)}")


def _sector(picture: Picture, share: float) -> None:
    if share >= 1:
        picture.circle("psector", 14, 14, 6.6)
    elif share > 0:
        x, y = _at(share, 6.6)
        picture.path("psector", f"M 14,14 V 7.4 A 6.6,6.6 0 {int(share > 0.5)} 1 {number(x)},{number(y)} Z")


def trail_sign(kind: str, *, size: float = 28, label: str = "", paper: bool = False) -> str:
    """Draw a node of a trail: ``read`` ring, ``assumed`` dashed ring, ``constant`` tag, ``computed`` bar."""
    picture = Picture(28, 28, label=label, paper=paper, classes="node")
    picture.circle("sheetfill", 14, 14, 13)
    if kind == "read":
        picture.circle("ring", 14, 14, 8)
    elif kind == "assumed":
        picture.circle("ring dash", 14, 14, 8)
    elif kind == "constant":
        picture.path("inkf", "M 9,4 H 24 V 24 H 4 V 9 Z")
    elif kind == "computed":
        picture.rect("bar-l", 3, 9, 22, 10)
        picture.path("heavy", "M 14,5 V 23")
    else:
        raise UnknownNameError("node of a trail", kind, ("read", "assumed", "constant", "computed"))
    return _sized(picture, size)


TAG = 54
"""Side of a tag on the drawing, so that it is 48 px at the smallest scale used. [px]"""


def tag_classes(look: str, belongs: str, *, clash: bool, chosen: bool) -> str:
    """Return the classes of a tag: dashed where nothing was judged, striped from a kit, dotted from no known family."""
    kinds = ["tag"]
    if look in {"open", "not_judged"}:
        kinds.append("open")
    if belongs == "kit":
        kinds.append("kit")
    elif belongs == "stranger":
        kinds.append("alien")
    if clash and belongs != "stranger":
        kinds.append("clash")
    if chosen:
        kinds.append("sel")
    return " ".join(kinds)


def tag_face(x: float, y: float, side: float = TAG, cut: float = 12) -> str:
    """Return path data of a square with its upper left corner cut; ``x``, ``y`` its upper left."""
    return (
        f"M {number(x + cut)},{number(y)} H {number(x + side)} V {number(y + side)} H {number(x)} V {number(y + cut)} Z"
    )


def tag_sign(
    text: str | int,
    *,
    size: float = 44,
    look: str = "seen",
    belongs: str = "host",
    clash: bool = False,
    chosen: bool = False,
    label: str = "",
    paper: bool = False,
) -> str:
    """Draw a tie-on tag alone, for a list or the head of a form."""
    picture = Picture(46, 46, label=label, paper=paper, classes="tg")
    picture.open("g", kind=tag_classes(look, belongs, clash=clash, chosen=chosen))
    picture.path("face", tag_face(2, 2, 42, 10))
    picture.text("tagno", 23, 30, str(text))
    picture.close("g")
    return _sized(picture, size)


def look_corner(picture: Picture, answer: str, x: float, y: float) -> None:
    """Put the state of a look on the corner of a tag, its middle at ``x``, ``y``."""
    picture.circle("sheetfill", x, y, 11.5)
    picture.raw(f'<g transform="translate({number(x - 10)},{number(y - 10)}) scale(.833)">{look_markup(answer)}</g>')


def _sized(picture: Picture, size: float) -> str:
    text = picture.svg()
    if picture.paper:
        old = f'width="{number(picture.width)}" height="{number(picture.height)}"'
        return text.replace(old, f'width="{size:g}" height="{size:g}"', 1)
    return text.replace("<svg", f'<svg width="{size:g}" height="{size:g}"', 1)
