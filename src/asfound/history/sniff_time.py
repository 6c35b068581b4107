"""Day first or month first: decided from the whole file, or asked.

A part of a date above 12 is a day. Where none is, the steps between rows decide: read wrongly, the date jumps by a
month at midnight. A file of one day in the first twelve of a month cannot be decided by anybody.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from asfound.history.channels import SECOND
from asfound.history.log_form import Order
from asfound.history.split_lines import Bytes, Places, trimmed
from asfound.history.time_words import freed
from asfound.history.times_in import NO_TIME, WIDEST, parts_of, times

_DAY = 86400 * SECOND


@dataclass(frozen=True, slots=True)
class Decision:
    """The order of a file's dates, empty where it stays open, and why."""

    order: Order
    why: str


def date_order(blocks: Iterable[tuple[Bytes, Places, Places]], step: float = 60.0) -> Decision:
    """Return the order of the dates of a column, block by block; stops reading once it is decided beyond doubt."""
    first_over = second_over = rows = 0
    steps: dict[Order, list[float]] = {"dmy": [], "mdy": []}
    for data, starts, ends in blocks:
        if not len(starts):
            continue
        starts, ends, _ = freed(data, *trimmed(data, starts, ends))
        parts = parts_of(data, starts, np.minimum(ends, starts + WIDEST))
        dated = (parts.count >= 3) | (parts.digits[:, 0] >= 8)  # 20240301T060000 has two groups of figures
        if not dated.any():
            continue
        if np.mean(parts.digits[dated, 0] == 4) > 0.5 or np.mean(parts.digits[dated, 0] >= 8) > 0.5:
            return Decision("ymd", "the year stands first")
        if np.mean(parts.letters[dated]) > 0.5:
            return Decision("dmy", "the month is written in letters")
        rows += int(dated.sum())
        first_over += int((parts.number[dated, 0] > 12).sum())
        second_over += int((parts.number[dated, 1] > 12).sum())
        if max(first_over, second_over) > 100:
            break
        for order, seen in steps.items():
            wall = times(data, starts, ends, order).wall
            wall = wall[wall != NO_TIME]
            days = np.flatnonzero(wall[1:] // _DAY != wall[:-1] // _DAY)
            seen += ((wall[1:] - wall[:-1])[days] / SECOND).tolist()
    if first_over or second_over:
        return _by_size(first_over, second_over)
    return _by_steps(steps, rows, step)


def _by_size(first: int, second: int) -> Decision:
    order: Order = "dmy" if first >= second else "mdy"
    words = ("first", first) if order == "dmy" else ("second", second)
    why = f"the {words[0]} part is above 12 in {words[1]} rows"
    against = min(first, second)
    return Decision(order, why + (f", the other in {against}, which are refused" if against else ""))


def _by_steps(steps: dict[Order, list[float]], rows: int, step: float) -> Decision:
    near = max(7200.0, 3 * step)
    fits = {order: bool(seen) and all(0 <= one <= near for one in seen) for order, seen in steps.items()}
    jumps = {order: any(abs(one) > 20 * 86400 for one in seen) for order, seen in steps.items()}
    for order, other, words in (("dmy", "mdy", "day"), ("mdy", "dmy", "month")):
        if fits[order] and jumps[other]:  # type: ignore[index]
            return Decision(order, f"with the {words} first the rows follow each other, else they jump by months")  # type: ignore[arg-type]
    if not rows:
        return Decision("", "no row has a date")
    return Decision("", "no part of a date is above 12 in the whole file, and the steps between rows fit both orders")
