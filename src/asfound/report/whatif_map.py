"""NOx against efficiency: timing and mixture swept, the permit as a wall, where it runs and the cloud of draws."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, floor, log10

from asfound.report.axis import RING
from asfound.report.ink import Picture, points
from asfound.report.ticks import choose, tick_text

HIGH, PAPER_HIGH = 380.0, 300.0
HATCH = 22.0
"""Height of the hatch above the wall, at most. [px]"""
ROUND = (1.0, 2.0, 5.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class NetLine:
    """A sweep: all mixtures at one timing, or all timings at one mixture."""

    points: tuple[tuple[float, float], ...]
    """Efficiency and NOx."""
    names: tuple[str, str] = ("", "")
    """Written at its ends."""
    kind: str = "timing"
    here: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A setting on the map with the cloud of its draws."""

    x: float
    y: float
    cloud: tuple[tuple[float, float], ...]
    name: str
    kind: str = "now"
    """``now``: a ring; ``then``: a dashed ring; ``best``: a tag."""


def whatif_map(
    net: Sequence[NetLine],
    spots: Sequence[Spot],
    *,
    label: str,
    unit_words: str,
    wall: tuple[float, str] | None = None,
    width: float = 680,
    paper: bool = False,
) -> str:
    """Draw the map.

    Parameters
    ----------
    net : sequence of NetLine
    spots : sequence of Spot
    unit_words : str
        Of NOx, at the head of the axis; it is logarithmic.
    wall : (float, str) or None
        The permit, with its name; above it is hatched.
    """
    picture = Picture(width, 10, label=label, paper=paper)
    row = picture.size_of("tx-s") + 4
    tall = PAPER_HIGH if paper else HIGH
    every = [one for line in net for one in line.points] + [(one.x, one.y) for one in spots]
    clouds = [one for spot in spots for one in spot.cloud]
    low, most = _window([one[1] for one in (*every, *clouds)], wall)
    ticks = _ticks(low, most)
    places = max(0, -floor(log10(ticks[0]))) if ticks else 0
    texts = [tick_text(one, max(0, -floor(log10(one) + 1e-9))) for one in ticks]
    left = 10 + max([picture.width_of("tx-s", one) for one in texts] or [20.0 * (1 + places)])
    right, top = width - 10, 2 * row
    foot = top + tall
    xs = [one[0] for one in (*every, *clouds)]
    span = max(max(xs) - min(xs), 0.2)
    axis = choose(
        min(xs) - 0.04 * span, max(xs) + 0.06 * span, room=right - left,
        measure=lambda text: picture.width_of("tx-s", text), to_tick_low=False, to_tick_high=False,
    )  # fmt: skip

    def at(x: float, y: float) -> tuple[float, float]:
        across = left + (min(max(x, axis.low), axis.high) - axis.low) / (axis.high - axis.low) * (right - left)
        up = (log10(min(max(y, low), most)) - log10(low)) / (log10(most) - log10(low))
        return across, foot - up * tall

    picture.text("tx-s", 0, row - 4, unit_words)
    for tick, text in zip(ticks, texts, strict=True):
        y = at(axis.low, tick)[1]
        picture.line("rule", left, y, right, y)
        picture.text("tx-s e", left - 6, y + 5, text)
    if wall is not None:
        _wall(picture, wall, at(axis.low, wall[0])[1], (left, right), top, row)
    for spot in spots:
        for one in spot.cloud:
            x, y = at(*one)
            picture.circle("solid cloud" if spot.kind == "now" else "bd-lead cloud", x, y, 1.7)
    _net(picture, net, at, right)
    for spot in sorted(spots, key=lambda one: one.kind != "best"):
        _spot(picture, spot, at(spot.x, spot.y), (left, right), row)
    picture.line("axisline", left, foot, right, foot)
    for tick in axis.ticks:
        x = at(tick, low)[0]
        picture.line("axisline", x, foot, x, foot + 6)
        picture.text("tx-s m", x, foot + 6 + row, axis.words(tick))
    under = picture.wrap("tx-s", "efficiency at the shaft, net, per cent", right - left)
    for number, line in enumerate(under):
        picture.text("tx-s", left, foot + 8 + row * (2 + number), line)
    picture.height = foot + 14 + row * (1 + len(under))
    return picture.svg()


def _window(values: Sequence[float], wall: tuple[float, str] | None) -> tuple[float, float]:
    """Return the ends of the axis: all that is shown, some room, no more than three decades."""
    sound = sorted(one for one in [*values, *((wall[0],) if wall else ())] if one > 0.0)
    most = sound[-1] * 1.3
    if wall is not None:
        most = max(most, wall[0] * 1.8)
    return max(sound[0] / 1.25, most / 1000.0), most


def _ticks(low: float, most: float) -> list[float]:
    found = [one * 10.0**power for power in range(floor(log10(low)), ceil(log10(most)) + 1) for one in ROUND]
    return [one for one in found if low <= one <= most]


def _wall(
    picture: Picture, wall: tuple[float, str], y: float, sides: tuple[float, float], top: float, row: float
) -> None:
    left, right = sides
    picture.rect("wallfill", left, max(top, y - HATCH), right - left, min(HATCH, y - top))
    picture.line("wallline", left, y, right, y)
    said = picture.wrap("tx-b", wall[1], right - left)[0]
    wide = picture.width_of("tx-b", said)
    ground = max(top, y - HATCH) - 5
    picture.text("tx-s walltext e", right, max(ground, row), said) if wide < right - left else None


def _net(
    picture: Picture, net: Sequence[NetLine], at: Callable[[float, float], tuple[float, float]], right: float
) -> None:
    """Draw the sweeps, that of the mixture whole and that of the timing dashed; named at their ends."""
    taken: list[tuple[float, float, float]] = []
    size = picture.size_of("tx-s")
    for line in net:
        drawn = [at(*one) for one in line.points]
        picture.path("ink" if line.kind == "mixture" else "ink dash", points(drawn))
        for (x, y), name in zip((drawn[0], drawn[-1]), line.names, strict=True):
            wide = picture.width_of("tx-s", name)
            begin = x + 8 if x + 8 + wide < right else x - 8 - wide
            while any(abs(y - up) < size + 3 and begin < b + 6 and a < begin + wide + 6 for a, b, up in taken):
                y += size + 4
            taken.append((begin, begin + wide, y))
            picture.text("tx-s", begin, y + 5, name)


def _spot(picture: Picture, spot: Spot, where: tuple[float, float], sides: tuple[float, float], row: float) -> None:
    x, y = where
    if spot.kind == "best":
        picture.path("openpart", f"M {x - 9:.1f},{y - 9:.1f} H {x + 4:.1f} L {x + 9:.1f},{y - 4:.1f} "
                                 f"V {y + 9:.1f} H {x - 9:.1f} Z")  # fmt: skip
    else:
        picture.circle("ring" if spot.kind == "now" else "ringp", x, y, RING)
    wide = picture.width_of("tx-b", spot.name)
    after = x + 14 + wide < sides[1]
    picture.text("tx-b" if after else "tx-b e", x + 14 if after else x - 14, y + row * 0.3, spot.name)
