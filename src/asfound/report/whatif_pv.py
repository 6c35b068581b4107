"""The indicator diagram: pressure against volume, plain or both as logarithms, states and what is proposed overlaid."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import ceil, exp, floor, log, log10

from asfound.report.ink import Picture, points
from asfound.report.ticks import choose, tick_text

HIGH, PAPER_HIGH = 360.0, 280.0
ROUND = (1.0, 2.0, 5.0)
LINES = {"now": ("agree", "ink"), "other": ("level", "ink dash"), "then": ("level", "bl-second")}
"""Fill of the band and line, by kind of loop."""
Line = tuple[float, ...]
Side = tuple[Line, Line, Line, Line]
"""Volume, and the low, middle and high pressure there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loop:
    """One cycle."""

    name: str
    up: Side
    """Compression."""
    down: Side
    """Burning and expansion."""
    ends: tuple[float, float]
    """Smallest and largest volume."""
    exhaust: float
    intake: float
    """Pressures of the gas exchange."""
    kind: str = "now"


@dataclass(frozen=True, slots=True)
class _Scale:
    """Where a value stands on an axis."""

    low: float
    high: float
    start: float
    end: float
    logs: bool

    def __call__(self, value: float) -> float:
        value = min(max(value, self.low), self.high)
        if self.logs:
            share = log(value / self.low) / log(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)


def whatif_pv(
    loops: Sequence[Loop],
    *,
    logs: bool,
    label: str,
    unit_words: str,
    volume_words: str,
    width: float = 680,
    paper: bool = False,
) -> str:
    """Draw the loops.

    Parameters
    ----------
    loops : sequence of Loop
        The first is the state from which is asked.
    logs : bool
        Both axes as logarithms: compression and expansion are then nearly straight.
    unit_words, volume_words : str
        At the head of the upright and the foot of the level axis.
    """
    picture = Picture(width, 10, label=label, paper=paper)
    row = picture.size_of("tx-s") + 4
    tall = PAPER_HIGH if paper else HIGH

    def wide_of(text: str) -> float:
        return picture.width_of("tx-s", text)

    most = 1.06 * max(max(side[3]) for one in loops for side in (one.up, one.down))
    least = 0.9 * min(min(one.exhaust, one.intake, min(one.up[1])) for one in loops) if logs else 0.0
    small, large = min(one.ends[0] for one in loops), max(one.ends[1] for one in loops)
    small, large = (0.9 * small, 1.06 * large) if logs else (0.0, 1.02 * large)
    p_ticks = _ticks(least, most, tall, lambda _: row + 8, logs)
    left = 10 + max(wide_of(text) for _, text in p_ticks)
    right, top = width - 8, row + 2
    foot = top + tall
    x, y = _Scale(small, large, left, right, logs), _Scale(least, most, foot, top, logs)
    picture.text("tx-s", 0, row - 4, unit_words)
    for value, text in p_ticks:
        picture.line("rule", left, y(value), right, y(value))
        picture.text("tx-s e", left - 6, y(value) + 5, text)
    for one in reversed(loops):
        _loop(picture, one, x, y)
    picture.line("axisline", left, foot, right, foot)
    for value, text in _ticks(small, large, right - left, wide_of, logs):
        half = wide_of(text) / 2
        picture.line("axisline", x(value), foot, x(value), foot + 6)
        picture.text("tx-s m", min(max(x(value), half), width - half - 1), foot + 6 + row, text)
    under = picture.wrap("tx-s", volume_words, right - left)
    for number, line in enumerate(under):
        picture.text("tx-s", left, foot + 8 + row * (2 + number), line)
    _names(picture, loops, right, top)
    picture.height = foot + 14 + row * (1 + len(under))
    return picture.svg()


def _ticks(
    low: float, high: float, room: float, measure: Callable[[str], float], logs: bool
) -> list[tuple[float, str]]:
    """Return the ticks of an axis with their texts."""
    if not logs:
        axis = choose(low, high, room=room, measure=measure, to_tick_low=False, to_tick_high=False)
        return [(one, axis.words(one)) for one in axis.ticks]
    found = [k * 10.0**power for power in range(floor(log10(low)), ceil(log10(high)) + 1) for k in ROUND]
    return [(one, tick_text(one, max(0, -floor(log10(one) + 1e-9)))) for one in found if low <= one <= high]


def _loop(picture: Picture, one: Loop, x: _Scale, y: _Scale) -> None:
    fill, line = LINES[one.kind]
    for volume, low, _, high in (one.up, one.down):
        upper = [(x(v), y(p)) for v, p in zip(volume, high, strict=True)]
        lower = [(x(v), y(p)) for v, p in zip(volume, low, strict=True)]
        picture.path(fill, points([*upper, *reversed(lower)], close=True))
    closed = [(v, p) for side in (one.up, one.down) for v, p in zip(side[0], side[2], strict=True)]
    small, large = one.ends
    # blow-down to the bottom, out at the exhaust's pressure, in at that of the manifold: as the model has it
    around = [*closed, *_straight(closed[-1], (large, one.exhaust)), (small, one.exhaust), (small, one.intake),
              (large, one.intake), closed[0]]  # fmt: skip
    picture.path(line, points((x(v), y(p)) for v, p in around))


def _straight(begin: tuple[float, float], end: tuple[float, float]) -> list[tuple[float, float]]:
    """Return a line that is straight where nothing is a logarithm."""
    steps = [k / 6 for k in range(1, 7)]
    return [(begin[0] + s * (end[0] - begin[0]), max(begin[1] + s * (end[1] - begin[1]), exp(-20))) for s in steps]


def _names(picture: Picture, loops: Sequence[Loop], right: float, top: float) -> None:
    """Name the lines right above the expansion, with a stroke of each."""
    size = picture.size_of("tx-s")
    wide = max(picture.width_of("tx-s", one.name) for one in loops) + 42
    x = right - wide
    picture.rect("sheetless", x - 6, top + 1, wide + 6, len(loops) * (size + 7))
    for number, one in enumerate(loops):
        y = top + 10 + number * (size + 7)
        picture.line(LINES[one.kind][1], x, y, x + 32, y)
        picture.text("tx-s", x + 38, y + size * 0.35, one.name)
