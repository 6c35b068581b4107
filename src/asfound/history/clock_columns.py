"""The time of a row out of its columns: one column, a date and a clock, with or without an offset beside them."""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from asfound.history.channels import SECOND, Times
from asfound.history.log_form import LogForm
from asfound.history.numbers_in import Mask
from asfound.history.split_lines import Rows, trimmed
from asfound.history.time_words import either_offset, freed
from asfound.history.times_in import NO_TIME, NOT_A_TIME, WIDEST, Clock, parts_of, times
from asfound.history.words_in import words

_OFFSET = re.compile(r"(?:UTC|GMT)?\s*([-+])(\d{1,2}):?(\d{2})?$")


def wall_of(rows: Rows, form: LogForm) -> tuple[Times, NDArray[np.int64] | None, NDArray[np.object_] | None]:
    """Return what the clock showed in each row, its offset in minutes where it says one, and why it has no time."""
    column = {c.role: at for at, c in enumerate(form.columns) if c.role in ("time", "date", "clock", "offset")}
    order = form.order or "ymd"
    first = column.get("time", column.get("date", 0))
    clock = times(rows.data, rows.starts[:, first], rows.ends[:, first], order)
    wall, offset, why = clock.wall, clock.offset, clock.why
    if "clock" in column and "time" not in column:
        wall, why, named = _with_clock(rows, column["clock"], clock)
        offset = either_offset(offset, named)
    if "offset" in column and offset is None:
        offset = _offsets(rows, column["offset"], form)
    return wall, offset, why


def time_of_day(rows: Rows, column: int) -> tuple[Times, Mask, NDArray[np.int64] | None]:
    """Return microseconds since midnight in a column of the clock (rows,), where there is a time, and its zone.

    The zone that a row names is told in minutes east of Greenwich; None where no row names one.
    """
    starts, ends, named = freed(rows.data, *trimmed(rows.data, rows.starts[:, column], rows.ends[:, column]))
    parts = parts_of(rows.data, starts, np.minimum(ends, starts + WIDEST))
    hour, minute, second = (np.where(parts.count > at, parts.number[:, at], 0) for at in range(3))
    half = parts.afternoon | parts.morning
    good = (parts.count >= 1) & (parts.count <= 4) & (~half | ((hour >= 1) & (hour <= 12)))
    packed = (parts.count == 1) & (parts.digits[:, 0] >= 3)  # 2359, 235900
    whole = np.where(parts.digits[:, 0] <= 4, hour * 100, hour)
    hour = np.where(packed, whole // 10000, hour)
    minute, second = np.where(packed, whole // 100 % 100, minute), np.where(packed, whole % 100, second)
    hour = np.where(half, hour % 12 + 12 * parts.afternoon, hour)
    good &= (hour <= 24) & (minute < 60) & (second < 60) & ((hour < 24) | (minute + second == 0))
    part = np.where(parts.count > 3, parts.number[:, 3], 0) * 10.0 ** (
        6 - np.where(parts.count > 3, parts.digits[:, 3], 0)
    )
    of_day = ((hour * 60 + minute) * 60 + second) * SECOND + np.round(part).astype(np.int64)
    return np.where(good, of_day, 0), np.asarray(good, np.bool_), named


def _with_clock(
    rows: Rows, column: int, date: Clock
) -> tuple[Times, NDArray[np.object_] | None, NDArray[np.int64] | None]:
    of_day, good, named = time_of_day(rows, column)
    known = date.wall != NO_TIME
    why = np.full(len(good), "", object) if date.why is None else date.why
    why[known & ~good] = NOT_A_TIME
    return np.where(known & good, date.wall + of_day, NO_TIME), why if (why != "").any() else None, named


def _offsets(rows: Rows, column: int, form: LogForm) -> NDArray[np.int64]:
    said = words(rows.data, rows.starts[:, column], rows.ends[:, column], form.encoding)
    table = [_minutes(word) for word in said.words]
    return np.array([*table, NO_TIME], np.int64)[said.codes]


def _minutes(word: str) -> int:
    if word.upper() in ("Z", "UTC", "GMT"):
        return 0
    found = _OFFSET.match(word)
    return NO_TIME if not found else (1 if found[1] == "+" else -1) * (int(found[2]) * 60 + int(found[3] or 0))
