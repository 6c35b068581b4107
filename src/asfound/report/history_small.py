"""One reading of one engine, small: its line, its own usual in grey, its wall, its value now."""

from __future__ import annotations

from datetime import UTC, tzinfo

import numpy as np

from asfound.report.history_frame import TimeFrame
from asfound.report.history_row import Columns
from asfound.report.ink import Picture
from asfound.report.time_axis import SHORT_MONTHS, moment

WIDE, HIGH = 330.0, 132.0
ROOM = 66.0
"""For the value at the end of the line. [px]"""
TOP, FOOT = 8.0, 110.0


def history_small(
    columns: Columns,
    *,
    label: str,
    value: str,
    start: int,
    end: int,
    usual: tuple[float, float] | None = None,
    wall: tuple[float, str, bool] | None = None,
    zone: tzinfo = UTC,
    paper: bool = False,
) -> str:
    """Draw one reading.

    Parameters
    ----------
    columns : Columns
        In the unit that is shown.
    value : str
        Stands at the end of the line.
    usual : (float, float) or None
        Where this engine's own values usually lie.
    wall : (float, str, bool) or None
        Limit, its words, and whether values above it are bad.
    """
    picture = Picture(WIDE, HIGH, label=label, paper=paper)
    frame = TimeFrame(start, end, 6.0, WIDE - ROOM)
    means = columns.mean[np.isfinite(columns.mean)]
    inside = [float(one) for one in np.percentile(means, (1, 99))] if len(means) else [0.0, 1.0]
    inside += list(usual or ())
    if wall is not None:
        inside.append(wall[0])
    low, high = min(inside), max(inside)
    span = (high - low) or abs(high) * 0.1 or 1.0
    low, high = low - 0.12 * span, high + 0.12 * span
    if wall is not None:
        low, high = (low, max(high, wall[0] + 0.28 * span)) if wall[2] else (min(low, wall[0] - 0.28 * span), high)

    def y(number: float) -> float:
        return FOOT - (min(max(number, low), high) - low) / (high - low) * (FOOT - TOP)

    if usual is not None:
        picture.rect("p-track", frame.x0, y(usual[1]), frame.x1 - frame.x0, max(y(usual[0]) - y(usual[1]), 2.0))
    if wall is not None:
        edge, above = y(wall[0]), wall[2]
        picture.rect(
            "wallfill", frame.x0, TOP if above else edge, frame.x1 - frame.x0, abs((TOP if above else FOOT) - edge)
        )
        picture.line("wallline", frame.x0, edge, frame.x1, edge)
        said = picture.wrap("tx-s", wall[1], frame.x1 - frame.x0 - 16)[0]
        at = max(edge - 5, TOP + 12) if above else min(edge + 16, FOOT - 3)
        picture.rect("filmfill", frame.x0 + 6, at - 13, picture.width_of("tx-s", said) + 8, 17)
        picture.text("tx-s walltext", frame.x0 + 10, at, said)
    filled = np.flatnonzero(np.isfinite(columns.mean))
    last = None
    if len(filled):
        parts = np.split(filled, np.flatnonzero(columns.broken[filled][1:]) + 1)
        data = []
        for part in parts:
            xs = frame.ats(columns.time[part] + columns.step // 2).tolist()
            ys = [y(one) for one in columns.mean[part].tolist()]
            data.append(
                "M "
                + " L ".join(f"{a:.1f},{b:.1f}" for a, b in zip(xs, ys, strict=True))
                + (" h 1" if len(xs) == 1 else "")
            )
            last = (xs[-1], ys[-1])
        picture.path("tl-mean", "".join(data))
    picture.line("axisline", frame.x0, FOOT, frame.x1, FOOT)
    if last is not None:
        picture.circle("tl-now", last[0], last[1], 4)
        picture.text("tx-l", last[0] + 8, min(max(last[1] + 6, TOP + 14), FOOT), value)
    for at, kind, x in ((start, "tx-s", frame.x0), (end, "tx-s e", frame.x1)):
        when = moment(at, zone)
        picture.text(kind, x, HIGH - 4, f"{SHORT_MONTHS[when.month - 1]} {when.year}")
    return picture.svg()
