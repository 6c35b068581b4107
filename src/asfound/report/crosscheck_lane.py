"""A reading's lane in the cross-check: the band in which the others would have it, and where it stands.

One scale for all rows: distance in standard uncertainties of the difference. The places are per cent of the lane's
width, so that one drawing without text fits every column; on paper the width is given.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from html import escape
from typing import Literal

from asfound.language import told
from asfound.report.ink import number
from asfound.report.paper import paper_style

Kind = Literal["agrees", "unsure", "clash", "maybe", "none"]
AGREES = 1.96
"""Half of the band: 95 in 100 inside by chance. [1]"""
FARTHEST = 9.0
"""What lies further off stands at the end of its lane; its distance is written beside it. [1]"""
END = 0.95
"""Share of the reach at which such a mark stands, so that it is whole. [1]"""
PAPER_HIGH = 20.0
BAR = 14.0


def window(distances: list[float]) -> float:
    """Return how far the lanes of one list reach to either side: as far as their farthest reading, within bounds."""
    there = [abs(one) for one in distances if math.isfinite(one)]
    return min(max(4.0, max(there, default=0.0) + 1.2), FARTHEST)


def crosscheck_lane(
    distance: float,
    own: float,
    *,
    reach: float,
    kind: Kind = "agrees",
    state: str = "as_found",
    label: str = "",
    width: float = 0.0,
    paper: bool = False,
) -> str:
    """Draw one lane.

    Parameters
    ----------
    distance : float
        Of the reading from what the others say, in standard uncertainties of the difference; nan where nothing tells.
    own : float
        Half of the reading's own 95 % interval, counted the same way.
    reach : float
        Of the lane to either side, counted the same way; see `window`.
    kind : {'agrees', 'unsure', 'clash', 'maybe', 'none'}
    width : float
        On paper. [px]
    """
    scale = _Scale(reach, width if paper else 0.0)
    high, middle = (number(PAPER_HIGH), number(PAPER_HIGH / 2)) if paper else ("100%", "50%")
    if kind == "none" or not math.isfinite(distance):
        body = f'<line class="guide dash" x1="0" x2="{scale.at(reach)}" y1="{middle}" y2="{middle}"/>'
    else:
        band = f'x="{scale.at(-AGREES)}" width="{scale.long(2 * AGREES)}" y="0" height="{high}"'
        body = f'<rect class="agree" {band}/>' + _mark(distance, own, kind, state, middle, scale)
    said = f' role="img" aria-label="{escape(told(label))}"' if label else ' aria-hidden="true"'
    if paper:
        w, h = number(width), high
        head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="0 0 {w} {h}"{said}>'
        return f"{head}{paper_style(body)}{body}</svg>"
    return f'<svg class="lanesvg" width="100%" height="{high}"{said}>{body}</svg>'


def crosscheck_bar(
    remains: float, usual: float, whole: float, *, lead: bool = False, label: str = "", width: float = 0.0,
    paper: bool = False,
) -> str:  # fmt: skip
    """Draw the disagreement that remains, with an upright mark where it is usual; ``whole`` is the end of the scale."""
    high = 12.0 if paper else 22.0

    def at(value: float) -> str:
        share = min(max(value / whole, 0.0), 1.0) if whole > 0 else 0.0
        return number(share * width) if paper else f"{100 * share:.2f}%"

    kind = "p-lead" if lead else "p-rest"
    body = (
        f'<rect class="{kind}" x="0" width="{at(remains)}" y="{number(high * 0.18)}" height="{number(high * 0.64)}"/>'
        f'<line class="p-was" x1="{at(usual)}" x2="{at(usual)}" y1="0" y2="{number(high)}"/>'
    )
    said = f' role="img" aria-label="{escape(told(label))}"' if label else ' aria-hidden="true"'
    if paper:
        w, h = number(width), number(high)
        head = f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}" height="{h}" viewBox="0 0 {w} {h}"{said}>'
        return f"{head}{paper_style(body)}{body}</svg>"
    return f'<svg class="lanesvg" width="100%" height="{number(high)}"{said}>{body}</svg>'


def crosscheck_share(probability: float, *, rank: str = "lead", label: str = "") -> str:
    """Draw one probability in its track over the whole width of its column; ``rank`` as in `bars.belief_row`."""
    share = 100 * min(max(probability, 0.0), 1.0)
    body = (
        '<rect class="p-track" x="0" width="100%" y="4" height="14"/>'
        f'<rect class="p-{rank}" x="0" width="{max(share, 0.8):.2f}%" y="4" height="14"/>'
    )
    said = f' role="img" aria-label="{escape(told(label))}"' if label else ' aria-hidden="true"'
    return f'<svg class="lanesvg" width="100%" height="22"{said}>{body}</svg>'


@dataclass(frozen=True, slots=True)
class _Scale:
    """Places on a lane: in per cent of its width, or in px where the width is given."""

    reach: float
    width: float

    def at(self, value: float) -> str:
        return self._said((min(max(value, -self.reach), self.reach) + self.reach) / (2 * self.reach))

    def long(self, value: float) -> str:
        return self._said(value / (2 * self.reach))

    def _said(self, share: float) -> str:
        return number(share * self.width) if self.width else f"{100 * share:.2f}%"


def _mark(distance: float, own: float, kind: Kind, state: str, y: str, scale: _Scale) -> str:
    """Return bar, mark and the line from the band to a mark outside."""
    parts, clash = [], kind in ("clash", "maybe")
    shown = math.copysign(min(abs(distance), END * scale.reach), distance)
    if abs(distance) > AGREES:
        line, start = "clashline dash" if clash else "guide dash", math.copysign(AGREES, distance)
        ends = f'x1="{scale.at(start)}" x2="{scale.at(shown)}"'
        parts.append(f'<line class="{line}" {ends} y1="{y}" y2="{y}"/>')
    if abs(distance) <= scale.reach:
        low, high = max(distance - own, -scale.reach), min(distance + own, scale.reach)
        bar, ends = "bar-l" if state == "as_left" else "bar-f", f'x="{scale.at(low)}" width="{scale.long(high - low)}"'
        parts.append(
            f'<rect class="{bar}" {ends} y="{y}" height="{number(BAR)}" transform="translate(0 {number(-BAR / 2)})"/>'
        )
    sign = "clashring" if clash else "disc" if state == "as_left" else "ring"
    parts.append(f'<circle class="{sign}" cx="{scale.at(shown)}" cy="{y}" r="{8 if kind == "clash" else 6.5}"/>')
    return "".join(parts)
