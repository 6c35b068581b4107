"""Times out of the bytes of a column, thousands at a time: as the clock showed them, and the offset where one stands.

A time is read as its groups of digits: year, month, day by the order of the file, then hour, minute, second and parts
of it. What the clock showed becomes microseconds since 1970-01-01 as if it were UTC; `zones` makes UTC of it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from asfound.history.channels import SECOND, Times
from asfound.history.log_form import Order
from asfound.history.numbers_in import Mask, number_of
from asfound.history.split_lines import Bytes, Places, trimmed
from asfound.history.time_words import either_offset, freed

NO_TIME = np.iinfo(np.int64).min
IMPOSSIBLE, NOT_A_TIME, NO_TIME_WRITTEN = "impossible date", "not a time", "no time"
WIDEST = 40
_GROUPS = 9
_MONTHS = (
    "jan", "feb", "mar mär mrz mae mrt", "apr avr abr", "may mai mei maj mag", "jun giu jui_n", "jul lug",
    "aug aou aoû ago", "sep set", "oct okt ott out", "nov", "dec dez dic déc dic",
)  # fmt: skip
_MONTH_OF = {word: number for number, words in enumerate(_MONTHS, start=1) for word in words.split()}
_WORD = re.compile(r"[^\W\d_]+")
_SHEET_EPOCH = -25569 * 86400 * SECOND  # 1899-12-30
_DAYS = np.array([0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])


@dataclass(frozen=True, slots=True)
class Clock:
    """Times as written: ``wall`` (rows,) in microseconds, ``offset`` (rows,) in minutes, ``why`` of the others."""

    wall: Times
    offset: NDArray[np.int64] | None
    why: NDArray[np.object_] | None
    """Empty where the time is good; None where all are."""


@dataclass(slots=True)
class _Parts:
    """Groups of digits (rows,): numbers, how many digits each has; and the letters and signs between."""

    number: NDArray[np.int64]
    digits: NDArray[np.int64]
    count: Places
    afternoon: Mask
    morning: Mask
    zulu: Mask
    sign: NDArray[np.int64]
    """Group from which on an offset stands, with its sign in `plus`; -1 where none does."""
    plus: NDArray[np.int64]
    letters: Mask


def times(data: Bytes, starts: Places, ends: Places, order: Order) -> Clock:
    """Return the times of one column.

    Parameters
    ----------
    data : array of uint8
    starts, ends : array of int64, shape (rows,)
    order : str
        ``ymd`` (ISO and its kin), ``dmy``, ``mdy``, ``epoch_s``, ``epoch_ms``, ``epoch_us`` or ``sheet_days``.
    """
    starts, ends = trimmed(data, starts, ends)
    if order.startswith("epoch") or order == "sheet_days":
        return _counted(data, starts, ends, order)
    starts, ends, named = freed(data, starts, ends)
    parts = parts_of(data, starts, np.minimum(ends, starts + WIDEST))
    wall, good = _wall(parts, order, parts.number, parts.count)
    slow = parts.letters & (ends > starts)
    offset = either_offset(_offset(parts), named)
    why = np.where(good, "", IMPOSSIBLE).astype(object)
    too_few = ~good & (parts.count < 3)
    why[too_few] = NOT_A_TIME
    why[ends <= starts] = NO_TIME_WRITTEN
    if slow.any():
        _by_words(data, starts, ends, order, np.flatnonzero(slow), wall, why)
    bad = why != ""
    return Clock(wall, offset, why if bad.any() else None)


def parts_of(data: Bytes, starts: Places, ends: Places) -> _Parts:
    """Return the groups of digits of each row: at once for rows that are written alike, else sign by sign."""
    rows = len(starts)
    number, digits = np.zeros((rows, _GROUPS), np.int64), np.zeros((rows, _GROUPS), np.int64)
    no = [np.zeros(rows, bool) for _ in range(4)]
    none, count = np.full(rows, -1), np.zeros(rows, np.int64)
    found = _Parts(number, digits, count, no[0], no[1], no[2], none, np.zeros(rows, np.int64), no[3])
    left = np.arange(rows)
    for _ in range(2):  # before and after noon, say
        if len(left) < 64:
            break
        alike = _alike(data, starts[left], int(ends[left[0]] - starts[left[0]]), ends[left])
        if alike.any():
            _by_pattern(found, data, starts, ends, left[alike])
        left = left[~alike]
    if len(left):
        _take_over(found, _walked(data, starts[left], ends[left]), left)
    return found


def _alike(data: Bytes, starts: Places, length: int, ends: Places) -> Mask:
    """Return which rows have digits where the first has digits, and its signs elsewhere."""
    if length == 0:
        return np.zeros(len(starts), bool)
    fits = ends - starts == length
    signs = data[np.minimum(starts[None, :] + np.arange(length)[:, None], len(data) - 1)]
    digit = (signs >= 48) & (signs <= 57)
    pattern = digit[:, 0]
    fits &= (digit[pattern]).all(axis=0) & (signs[~pattern] == signs[~pattern][:, :1]).all(axis=0)
    return np.asarray(fits, np.bool_)


def _by_pattern(found: _Parts, data: Bytes, starts: Places, ends: Places, rows: Places) -> None:
    """Fill in rows that are written alike: one of them says where the groups lie."""
    first = rows[:1]
    one = _walked(data, starts[first], ends[first])
    _take_over(found, one, rows)
    group, inside = -1, False
    for place in range(int(ends[first[0]] - starts[first[0]])):
        byte = int(data[starts[first[0]] + place])
        digit = 48 <= byte <= 57
        if digit:
            group += not inside
            if group < _GROUPS and one.digits[0, group] <= 17:
                value = data[starts[rows] + place].astype(np.int64) - 48
                found.number[rows, group] = value if not inside else found.number[rows, group] * 10 + value
        inside = digit


def _take_over(found: _Parts, some: _Parts, rows: Places) -> None:
    for name in _Parts.__slots__:
        getattr(found, name)[rows] = getattr(some, name)


def _walked(data: Bytes, starts: Places, ends: Places) -> _Parts:
    """Walk over the characters, all rows at once."""
    rows = len(starts)
    width = int((ends - starts).max(initial=0))
    number = np.zeros((rows, _GROUPS), np.int64)
    digits = np.zeros((rows, _GROUPS), np.int64)
    group = np.full(rows, -1)
    inside = np.zeros(rows, bool)
    afternoon, morning, zulu, letters = (np.zeros(rows, bool) for _ in range(4))
    sign, plus = np.full(rows, -1), np.zeros(rows, np.int64)
    at = np.arange(rows)
    for step in range(width):
        place = starts + step
        here = place < ends
        byte = np.where(here, data[np.minimum(place, len(data) - 1)], 32)
        value = byte.astype(np.int64) - 48
        digit = (value >= 0) & (value <= 9)
        group += digit & ~inside
        inside = digit
        column = np.clip(group, 0, _GROUPS - 1)
        grown = number[at, column] * 10 + value
        number[at, column] = np.where(digit & (digits[at, column] < 17), grown, number[at, column])
        digits[at, column] += digit
        if digit.all():
            continue
        upper = byte & 0xDF
        afternoon |= upper == 80
        morning |= upper == 65
        zulu |= (upper == 90) & (group >= 4)
        letters |= ((upper >= 65) & (upper <= 90) & ~np.isin(upper, (65, 77, 80, 84, 90))) | (byte >= 128)
        signed = ((byte == 43) | (byte == 45)) & (group >= 4) & (sign < 0)
        sign = np.where(signed, group + 1, sign)
        plus = np.where(signed, np.where(byte == 43, 1, -1), plus)
    return _Parts(number, digits, group + 1, afternoon, morning, zulu, sign, plus, letters)


def _wall(parts: _Parts, order: Order, number: NDArray[np.int64], count: Places) -> tuple[Times, Mask]:
    """Return microseconds of what the clock showed, and where that is a possible date and time."""
    count = np.where(parts.sign >= 0, parts.sign, count)
    packed = (count <= 2) & (parts.digits[:, 0] >= 8)  # 20241027 000000, 20241027T0000
    if packed.any():
        number, parts, count = _unpacked(parts, number, count, packed)
    y, m, d = {"ymd": (0, 1, 2), "dmy": (2, 1, 0), "mdy": (2, 0, 1)}[order]
    year, month, day = number[:, y], number[:, m], number[:, d]
    iso = (parts.digits[:, 0] == 4) & (order != "ymd")  # a year of four figures in front is the year
    year, month, day = np.where(iso, (number[:, 0], number[:, 1], number[:, 2]), (year, month, day))
    year = np.where(year < 100, np.where(year < 69, 2000 + year, 1900 + year), year)
    hour, minute, second = number[:, 3], number[:, 4], number[:, 5]
    has = count[:, None] > np.arange(3, 7)
    hour, minute, second = np.where(has[:, 0], hour, 0), np.where(has[:, 1], minute, 0), np.where(has[:, 2], second, 0)
    half = parts.afternoon | parts.morning
    good = (count >= 3) & (count <= 7) & (~half | ((hour >= 1) & (hour <= 12)))
    hour = np.where(half, hour % 12 + 12 * parts.afternoon, hour)
    part = np.where(has[:, 3], number[:, 6], 0)
    scale = 10.0 ** (6 - np.where(has[:, 3], parts.digits[:, 6], 0))
    midnight = (hour == 24) & (minute == 0) & (second == 0)
    good &= _possible(year, month, day) & ((hour < 24) | midnight) & (minute < 60) & (second < 60)
    days = days_since_1970(np.where(good, year, 1970), np.where(good, month, 1), np.where(good, day, 1))
    whole = ((days * 24 + hour) * 60 + minute) * 60 + second
    return np.where(good, whole * SECOND + np.round(part * scale).astype(np.int64), NO_TIME), good


def _unpacked(
    parts: _Parts, number: NDArray[np.int64], count: Places, packed: Mask
) -> tuple[NDArray[np.int64], _Parts, Places]:
    """Return the groups with 20241027 and 235900 taken apart."""
    number, digits, count = number.copy(), parts.digits.copy(), count.copy()
    first, second, long = number[:, 0].copy(), number[:, 1].copy(), parts.digits[:, 0] >= 12
    clock = np.where(long, first % 10 ** np.clip(parts.digits[:, 0] - 8, 0, 9), second)
    size = np.where(long, parts.digits[:, 0] - 8, np.where(count > 1, parts.digits[:, 1], 0))
    date = np.where(long, first // 10 ** np.clip(parts.digits[:, 0] - 8, 0, 9), first)
    clock = np.where(size <= 4, clock * 100, clock)
    fields = (date // 10000, date // 100 % 100, date % 100, clock // 10000, clock // 100 % 100, clock % 100)
    for column, value in enumerate(fields):
        number[:, column] = np.where(packed, value, number[:, column])
    digits[:, 0] = np.where(packed, 4, digits[:, 0])
    fits = np.isin(size, (0, 4, 6)) & (first < 10**15)
    count = np.where(packed, np.where(fits, np.where(size > 0, 6, 3), 0), count)
    return number, _Parts(
        number, digits, count, parts.afternoon, parts.morning, parts.zulu, parts.sign, parts.plus, parts.letters
    ), count  # fmt: skip


def _offset(parts: _Parts) -> NDArray[np.int64] | None:
    """Return minutes east of Greenwich where the time says so; None where no row does. NO_TIME: this row does not."""
    signed = (parts.sign >= 0) & (parts.count > parts.sign)
    if not (signed.any() or parts.zulu.any()):
        return None
    column = np.clip(parts.sign, 0, _GROUPS - 2)
    at = np.arange(len(column))
    first, size = parts.number[at, column], parts.digits[at, column]
    minutes = np.where(parts.count > parts.sign + 1, parts.number[at, column + 1], 0)
    value = np.where(size > 2, first // 100 * 60 + first % 100, first * 60 + minutes)
    return np.where(parts.zulu, 0, np.where(signed, parts.plus * value, NO_TIME))


def _possible(year: Places, month: Places, day: Places) -> Mask:
    leap = (year % 4 == 0) & ((year % 100 != 0) | (year % 400 == 0))
    longest = _DAYS[np.clip(month, 0, 12)] + (leap & (month == 2))
    fits = (year >= 1970) & (year <= 2261) & (month >= 1) & (month <= 12) & (day >= 1) & (day <= longest)
    return np.asarray(fits, np.bool_)


def days_since_1970(year: Places, month: Places, day: Places) -> Places:
    """Return the days of a date of the Gregorian calendar since 1970-01-01 (by counting years from March)."""
    y = year - (month <= 2)
    era = y // 400
    of_era = y - era * 400
    of_year = (153 * ((month + 9) % 12) + 2) // 5 + day - 1
    found = era * 146097 + of_era * 365 + of_era // 4 - of_era // 100 + of_year - 719468
    return np.asarray(found, np.int64)


def _counted(data: Bytes, starts: Places, ends: Places, order: Order) -> Clock:
    """Return times that are numbers: since 1970, or days of a spreadsheet."""
    scale = {"epoch_s": 1e6, "epoch_ms": 1e3, "epoch_us": 1.0, "sheet_days": 86400e6}[order]
    wall = np.full(len(starts), NO_TIME)
    why = np.full(len(starts), "", object)
    for row, (start, end) in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
        raw = data[start : min(end, start + 64)].tobytes().decode("ascii", "replace")
        value = number_of(raw.replace(",", "."))
        if value is None or not 0 <= value * scale < 9e18:
            why[row] = NO_TIME_WRITTEN if not raw.strip() else NOT_A_TIME
        else:
            wall[row] = _whole(raw, value, scale) + (_SHEET_EPOCH if order == "sheet_days" else 0)
    if order == "sheet_days":  # a day's fraction in a double: the nearest millisecond is what was meant
        wall = np.where(wall == NO_TIME, wall, (wall + 500) // 1000 * 1000)
    return Clock(wall, None, why if (why != "").any() else None)


def _whole(raw: str, value: float, scale: float) -> int:
    digits = raw.strip().lstrip("+")
    return int(digits) * int(scale) if digits.isdigit() else round(value * scale)


def _by_words(
    data: Bytes, starts: Places, ends: Places, order: Order, rows: Places, wall: Times, why: NDArray[np.object_]
) -> None:  # fmt: skip
    """Read times with a month in letters, or in letters of another kind; each day's text once."""
    known: dict[bytes, tuple[int, str]] = {}
    for row in rows:
        raw = data[starts[row] : min(ends[row], starts[row] + 80)].tobytes()
        if raw not in known:
            known[raw] = _written(raw, order)
        wall[row], why[row] = known[raw]


def _written(raw: bytes, order: Order) -> tuple[int, str]:
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError:
        text = raw.decode("windows-1252", "replace")
    words = [word.lower() for word in _WORD.findall(text)]
    months = [_MONTH_OF[word[:3]] for word in words if word[:3] in _MONTH_OF]
    if len(months) != 1:
        return NO_TIME, NOT_A_TIME
    numbers = re.findall(r"\d+", text)
    if len(numbers) < 2:
        return NO_TIME, NOT_A_TIME
    first = len(numbers[0]) == 4 or (order == "ymd" and len(numbers[1]) != 4)
    date = (numbers[0], str(months[0]), numbers[1]) if first else (numbers[1], str(months[0]), numbers[0])
    rest = " ".join(numbers[2:6])
    half = next((word for word in words if word in ("am", "pm")), "")
    again = "-".join(date) + (" " + rest.replace(" ", ":", 2).replace(" ", ".") if rest else "") + half
    plain = np.frombuffer((" " * 32 + again + " " * 32).encode(), np.uint8)
    one = times(plain, np.array([32]), np.array([32 + len(again)]), "ymd")
    return int(one.wall[0]), "" if one.why is None else str(one.why[0])
