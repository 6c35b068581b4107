"""Numbers out of the bytes of a column, thousands at a time, to the last digit as Python's own ``float`` gives them.

Up to sixteen characters stand in two 64-bit words, and eight digits become a number in three multiplications. The
digits make a whole number below 2**53, and dividing it by an exact power of ten rounds once: so the result is the
nearest double, as it must be. What is longer, or has an exponent or a thousands mark, goes through ``float`` itself.
"""

from __future__ import annotations

import math
import re

import numpy as np
from numpy.typing import NDArray

from asfound.history.split_lines import Bytes, Places, trimmed
from asfound.quantities.typing import Array

Mask = NDArray[np.bool_]
Word = NDArray[np.uint64]


def _all(byte: int) -> np.uint64:
    return np.uint64(int.from_bytes(bytes((byte,)) * 8, "little"))


_ZEROS, _HIGH, _SIXES, _LOW = _all(0x30), _all(0x80), _all(0x06), _all(0x7F)
_NIBBLE, _UPPER = _all(0x0F), _all(0xF0)
_ONE, _EIGHT, _FULL = np.uint64(1), np.uint64(8), np.uint64(0xFFFFFFFFFFFFFFFF)
_PAIRS, _FOURS = np.uint64(0x00FF00FF00FF00FF), np.uint64(0x0000FFFF0000FFFF)
_TEN, _HUNDRED, _TEN_THOUSAND = np.uint64(2561), np.uint64(6553601), np.uint64(42949672960001)
_POWERS = 10.0 ** np.arange(17)
_MINUS, _PLUS = 45, 43
_LARGEST = 1 << 53
_BLANKS = ("\xa0", "\u202f")
_PLAIN = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?$")


def words_at(data: Bytes) -> Word:
    """Return the eight bytes that begin at each place of ``data``, as words; the first byte is the lowest."""
    return np.ndarray((len(data) - 7,), np.dtype("<u8"), buffer=data, strides=(1,))


def numbers(
    data: Bytes, starts: Places, ends: Places, *, decimal: str = ".", thousands: str = "", padded: bool = True
) -> tuple[Array, Mask]:
    """Return the numbers of fields, nan where there is none, and a mask of fields that hold something else.

    Parameters
    ----------
    data : array of uint8
        With at least sixteen bytes before the first field.
    starts, ends : array of int64, shape (rows,)
    decimal : str
        The decimal mark, one character.
    thousands : str
        A mark between thousands that may stand there; only at its right place.
    padded : bool
        Blanks may stand around the numbers.
    """
    if padded:
        starts, ends = trimmed(data, starts, ends)
    first = data[starts]
    negative = (first == _MINUS) & (ends > starts)
    signed = negative | ((first == _PLUS) & (ends > starts))
    begin = starts + signed
    length = ends - begin
    short = (length > 0) & (length <= 16)
    right, left, point = _digits(data, ends, length, decimal, two=bool((length > 8).any()))
    good = short & _only_digits(right) & (left[1] if left else True) & (length > (point >= 0))
    value, exact = _value(right, left[0] if left else None)
    found = value / _POWERS[np.maximum(point, 0)]
    found[negative] = -found[negative]
    good &= exact
    found[~good] = np.nan
    other = ~good & (ends > starts)
    if other.any():
        _one_by_one(data, starts, ends, np.flatnonzero(other), found, other, decimal, thousands)
    return found, other


def _digits(
    data: Bytes, ends: Places, length: Places, decimal: str, *, two: bool
) -> tuple[Word, tuple[Word, Mask] | None, Places]:
    """Return the last eight characters without the decimal mark, those before them, and how many digits follow it."""
    at = words_at(data)
    mark = _all(ord(decimal))
    right = _filled(at[ends - 8], np.minimum(length, 8))
    where = _equal(right, mark)
    has = where != 0
    low = (where >> np.uint64(7)) - _ONE  # all bits before the mark; all of them where there is no mark
    high = ~((where << _ONE) - _ONE)
    carried: Word | np.uint64 = np.uint64(0x30)
    left: tuple[Word, Mask] | None = None
    if two:
        before = _filled(at[ends - 16], np.clip(length - 8, 0, 8))
        carried = before >> np.uint64(56)
        moved_left = (before << _EIGHT) | np.uint64(0x30)
        mark_left = _equal(before, mark)
        has_left = mark_left != 0
        low_left = (mark_left >> np.uint64(7)) - _ONE
        own = (before & ~((mark_left << _ONE) - _ONE)) | ((before & low_left) << _EIGHT) | np.uint64(0x30)
        before = np.where(has, moved_left, np.where(has_left, own, before))
        left = (before, _only_digits(before) & ~(has & has_left))
    squeezed = np.where(has, (right & high) | ((right & low) << _EIGHT) | carried, right)
    place = np.where(has, 7 - ((np.frexp((where >> np.uint64(7)).astype(np.float64))[1] - 1) >> 3), -1)
    if two:
        place_left = 15 - ((np.frexp((mark_left >> np.uint64(7)).astype(np.float64))[1] - 1) >> 3)
        place = np.where(~has & has_left, place_left, place)
    return squeezed, left, place.astype(np.int64)


def _filled(word: Word, length: Places) -> Word:
    """Return words of which only the last ``length`` characters stay; the others become 0."""
    shift = ((8 - length) * 8).astype(np.uint64)
    none = length <= 0
    shift[none] = 0
    kept = (word >> shift) << shift
    fill = np.where(shift > 0, ~(_FULL << shift) & _ZEROS, np.uint64(0))
    found = kept | fill
    found[none] = _ZEROS
    return found


def _equal(word: Word, byte: np.uint64) -> Word:
    """Return 0x80 in each byte of the words that equals ``byte``."""
    rest = word ^ byte
    return ~(((rest & _LOW) + _LOW) | rest | _LOW)


def _only_digits(word: Word) -> Mask:
    found = ((word & _UPPER) == _ZEROS) & (((word + _SIXES) & _UPPER) == _ZEROS)
    return np.asarray(found, np.bool_)


def _eight(word: Word) -> Word:
    """Return the number that eight digits make."""
    word = ((word & _NIBBLE) * _TEN) >> _EIGHT
    word = ((word & _PAIRS) * _HUNDRED) >> np.uint64(16)
    return ((word & _FOURS) * _TEN_THOUSAND) >> np.uint64(32)


def _value(right: Word, left: Word | None) -> tuple[Array, Mask]:
    value = _eight(right)
    if left is not None:
        value = value + _eight(left) * np.uint64(100_000_000)
    return value.astype(np.float64), np.asarray(value < _LARGEST, np.bool_)


def _one_by_one(
    data: Bytes, starts: Places, ends: Places, rows: Places, found: Array, other: Mask, decimal: str, thousands: str
) -> None:  # fmt: skip
    """Read what is longer, has an exponent or a thousands mark; each text once."""
    known: dict[bytes, float | None] = {}
    for row in rows:
        if ends[row] - starts[row] > 64:
            continue
        raw = data[starts[row] : ends[row]].tobytes()
        value = known.get(raw, ...) if raw in known else _plain(raw, decimal, thousands)
        known[raw] = value  # type: ignore[assignment]
        if value is not None:
            found[row], other[row] = value, False  # type: ignore[assignment]


def _plain(raw: bytes, decimal: str, thousands: str) -> float | None:
    try:
        text = raw.decode("ascii").strip()
    except UnicodeDecodeError:
        text = raw.decode("utf-8", "replace").replace("\xa0", " ").replace("\u202f", " ").replace("\u2212", "-").strip()
    return number_of(text, decimal, " " if thousands in _BLANKS else thousands)


def number_of(text: str, decimal: str = ".", thousands: str = "") -> float | None:
    """Return the number that a text is, or None; a thousands mark counts only before groups of three digits.

    >>> number_of("1.234,5", ",", "."), number_of("1.23,5", ",", ".")
    (1234.5, None)
    """
    whole, mark, fraction = text.partition(decimal)
    if thousands and thousands in whole:
        groups = whole.lstrip("+-").split(thousands)
        if not (1 <= len(groups[0]) <= 3 and all(len(group) == 3 for group in groups[1:])):
            return None
        whole = whole.replace(thousands, "")
    text = whole + ("." if mark else "") + fraction
    if not _PLAIN.match(text):
        return None
    value = float(text)
    return value if math.isfinite(value) else None
