"""Words out of the bytes of a column: states, alarms, notes. Each word is decoded once, however often it stands."""

from __future__ import annotations

import numpy as np

from asfound.history.bytes_in import decoded
from asfound.history.channels import TextChannel
from asfound.history.numbers_in import Word, words_at
from asfound.history.split_lines import Bytes, Places

_MIX = (np.uint64(0x9E3779B97F4A7C15), np.uint64(0xC2B2AE3D27D4EB4F), np.uint64(0x165667B19E3779F9))
_FULL = np.uint64(0xFFFFFFFFFFFFFFFF)
LONGEST_WORD = 4000


def words(data: Bytes, starts: Places, ends: Places, encoding: str, quote: str = '"') -> TextChannel:
    """Return the words of one column; an empty field has none."""
    length = ends - starts
    codes = np.full(len(starts), -1, np.int32)
    known: dict[str, int] = {}
    short = np.flatnonzero((length > 0) & (length <= 16))
    if len(short):
        _short(data, starts[short], ends[short], short, codes, known, encoding, quote)
    for row in np.flatnonzero(length > 16):
        text = _text(data, int(starts[row]), int(ends[row]), encoding, quote)
        codes[row] = known.setdefault(text, len(known)) if text else -1
    return TextChannel(codes, tuple(known))


def _short(
    data: Bytes, starts: Places, ends: Places, rows: Places, codes: np.ndarray, known: dict[str, int], encoding: str,
    quote: str,
) -> None:  # fmt: skip
    """Give words of up to sixteen bytes their codes: equal bytes are equal words of two integers."""
    at = words_at(data)
    length = (ends - starts).astype(np.uint64)
    right = _kept(at[ends - 8], np.minimum(length, np.uint64(8)))
    left = _kept(at[ends - 16], np.where(length > 8, length, np.uint64(8)) - np.uint64(8))
    mixed = right * _MIX[0] ^ left * _MIX[1] ^ length * _MIX[2]
    _, first, back = np.unique(mixed, return_index=True, return_inverse=True)
    same = (right[first][back] == right) & (left[first][back] == left) & (length[first][back] == length)
    table = np.full(len(first), -1, np.int32)
    for number, row in enumerate(first):
        text = _text(data, int(starts[row]), int(ends[row]), encoding, quote)
        table[number] = known.setdefault(text, len(known)) if text else -1
    codes[rows] = table[back]
    for row in np.flatnonzero(~same):  # two words with one mix of bits: as good as never
        text = _text(data, int(starts[row]), int(ends[row]), encoding, quote)
        codes[rows[row]] = known.setdefault(text, len(known)) if text else -1


def _kept(word: Word, length: Word) -> Word:
    """Return words of which only the last ``length`` bytes stay."""
    none = length == 0
    shift = np.where(none, np.uint64(0), (np.uint64(8) - length) * np.uint64(8))
    return np.where(none, np.uint64(0), (word >> shift) << shift)


def _text(data: Bytes, start: int, end: int, encoding: str, quote: str) -> str:
    text = decoded(data[start : min(end, start + LONGEST_WORD)].tobytes(), encoding)
    return (text.replace(quote * 2, quote) if quote else text).strip()
