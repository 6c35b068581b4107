"""Lines into fields, thousands of lines at a time: where each field begins and ends in the bytes, nothing copied.

Quotation marks count only at the edges of a field (RFC 4180); an inch sign in the middle of a note is a sign like any
other. A quoted field may go over several lines; a mark that is opened and never closed costs its own line only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Bytes: TypeAlias = NDArray[np.uint8]
Places: TypeAlias = NDArray[np.int64]
_NEWLINE, _RETURN = 10, 13
_SEVERAL_LINES = 40
_PADDING = 32
TOO_FEW, TOO_MANY, BETWEEN = "too few fields", "too many fields", "text stands between the columns"
OPEN_QUOTE, NULS = "quotation mark not closed", "bytes of zero"


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of a block: ``starts``, ``ends`` (rows, columns) count into ``data``; ``lines`` (rows,) from 1.

    ``data`` has `_PADDING` bytes before its first and behind its last line, so that whole words can be taken anywhere.
    """

    data: Bytes
    starts: Places
    ends: Places
    lines: Places
    refused: tuple[tuple[int, int, int, str], ...] = ()
    """Line number, where it begins and ends in ``data``, and why."""
    blank: int = 0
    padded: bool = True
    """Blanks may stand around a field."""
    used: int = 0
    """How many bytes were consumed: what is left begins inside a quoted field that goes on."""

    def take(self, rows: NDArray[np.bool_]) -> Rows:
        """Return some of the rows, nothing refused."""
        begin, end = np.ascontiguousarray(self.starts.T[:, rows]).T, np.ascontiguousarray(self.ends.T[:, rows]).T
        return Rows(self.data, begin, end, self.lines[rows], padded=self.padded)

    def text(self, start: int, end: int) -> bytes:
        """Return the bytes between two places."""
        return self.data[start:end].tobytes()

    def line(self, row: int) -> bytes:
        """Return the whole line of a row, with quotation marks around its first and last field."""
        start, end = int(self.starts[row, 0]), int(self.ends[row, -1])
        start -= self.data[start - 1] not in (_NEWLINE, 32)
        end += self.data[end] not in (_NEWLINE, _RETURN, 32)
        return self.text(start, end)

    def field(self, row: int, column: int) -> bytes:
        """Return one field."""
        return self.text(int(self.starts[row, column]), int(self.ends[row, column]))


@dataclass(slots=True)
class _Marks:
    """The quotation marks of a block: those that count, and lines that they join or spoil."""

    places: Places
    joined: list[int] = field(default_factory=list)
    spoiled: dict[int, str] = field(default_factory=dict)
    unfinished: int | None = None


def padded(data: bytes) -> Bytes:
    """Return bytes as an array with room on both sides."""
    room = b"\n" * _PADDING
    return np.frombuffer(room + data + room, np.uint8)


def fields_of_texts(texts: Sequence[str]) -> tuple[Bytes, Places, Places]:
    """Return texts as fields of one column: their bytes, and where each begins and ends."""
    raw = [text.encode("utf-8", "replace") for text in texts]
    ends = np.cumsum([len(one) + 1 for one in raw], dtype=np.int64) - 1 + _PADDING
    starts = ends - np.array([len(one) for one in raw], np.int64)
    return padded(b"\n".join(raw)), starts, ends


def split(data: bytes, first: int, *, delimiter: str, quote: str, columns: int, last: bool = True) -> Rows:
    """Return the rows of whole lines that have so many fields, and the lines refused.

    ``last`` says that nothing follows: a quoted field that is still open cannot go on.
    """
    buffer = padded(data)
    inside = buffer[_PADDING : _PADDING + len(data)]
    ends = np.flatnonzero(inside == _NEWLINE) + _PADDING
    starts = np.concatenate(([_PADDING], ends[:-1] + 1)) if len(ends) else ends
    separators = np.flatnonzero(inside == ord(delimiter)) + _PADDING
    marks = None
    if quote and quote.encode() in data:
        marks = _marks(buffer, starts, ends, ord(quote), ord(delimiter), columns, last)
        starts, ends, separators = _without_quoted(starts, ends, separators, marks)
    numbers = first + np.searchsorted(_all_ends(inside), starts, side="right") if marks and marks.joined else None
    lines = numbers if numbers is not None else first + np.arange(len(starts))
    used = len(data)
    if marks and marks.unfinished is not None:
        used = int(marks.unfinished) - _PADDING
        keep = starts < marks.unfinished
        starts, ends, lines = starts[keep], ends[keep], lines[keep]
    spoiled = {line + first: why for line, why in marks.spoiled.items()} if marks else {}
    found = _rows(buffer, starts, ends, separators, lines, columns, spoiled, bool(marks), quote, used, b"\0" in data)
    blanks = np.flatnonzero(inside == 32) + _PADDING
    edges = (ord(delimiter), _NEWLINE, _RETURN)
    around = np.isin(buffer[blanks - 1], edges).any() or np.isin(buffer[blanks + 1], edges).any()
    return replace(found, padded=bool(marks) or bool(around))


def _all_ends(inside: Bytes) -> Places:
    return np.flatnonzero(inside == _NEWLINE) + _PADDING + 1


def _rows(
    buffer: Bytes, starts: Places, ends: Places, separators: Places, lines: Places, columns: int,
    spoiled: dict[int, str], quoted: bool, quote: str, used: int, nuls: bool,
) -> Rows:  # fmt: skip
    """Return the rows that have the right number of fields; the others are refused with why."""
    stops = ends - (buffer[ends - 1] == _RETURN)
    before = np.searchsorted(separators, starts)
    count = np.searchsorted(separators, ends) - before
    blank = stops <= starts
    good = (count == columns - 1) & ~blank
    why = np.where(count < columns - 1, TOO_FEW, TOO_MANY).astype(object)
    for line, reason in spoiled.items():
        at = np.searchsorted(lines, line)
        if at < len(lines) and lines[at] == line:
            good[at], why[at] = False, reason
    if nuls:
        zeros = np.flatnonzero(buffer == 0)
        holds = np.searchsorted(zeros, ends) > np.searchsorted(zeros, starts)
        good &= ~holds
        why[holds] = NULS
    refused = tuple(
        (int(lines[at]), int(starts[at]), int(stops[at]), str(why[at])) for at in np.flatnonzero(~good & ~blank)
    )
    first = before[good]
    if columns > 1:
        # by column in memory: a column is what is read next
        inner = (
            separators[first[None, :] + np.arange(columns - 1)[:, None]]
            if len(first)
            else np.empty((columns - 1, 0), int)
        )
        begin = np.concatenate((starts[good][None, :], inner + 1)).T
        end = np.concatenate((inner, stops[good][None, :])).T
    else:
        begin, end = starts[good][:, None], stops[good][:, None]
    if quoted:
        bare = (end - begin >= 2) & (buffer[begin] == ord(quote)) & (buffer[end - 1] == ord(quote))
        begin, end = begin + bare, end - bare
    return Rows(buffer, begin, end, lines[good], refused, int(blank.sum()), used=used)


def _without_quoted(starts: Places, ends: Places, separators: Places, marks: _Marks) -> tuple[Places, Places, Places]:
    """Return line starts and ends without those inside a quoted field, and the separators outside."""
    separators = separators[np.searchsorted(marks.places, separators) % 2 == 0]
    if marks.joined:
        gone = np.zeros(len(ends), bool)
        gone[marks.joined] = True
        ends = ends[~gone]
        starts = starts[np.concatenate(([True], ~gone[:-1]))]
    return starts, ends, separators


def _marks(buffer: Bytes, starts: Places, ends: Places, quote: int, delimiter: int, columns: int, last: bool) -> _Marks:
    """Return the quotation marks that count. Lines without anything odd are settled at once, the others one by one."""
    places = np.flatnonzero(buffer == quote)
    line = np.searchsorted(ends, places)
    counts = np.bincount(line, minlength=len(ends))
    rank = np.arange(len(places)) - np.concatenate(([0], np.cumsum(counts)[:-1]))[line]
    opens = rank % 2 == 0
    edge = (delimiter, _NEWLINE, _RETURN, quote)
    sound = np.where(opens, np.isin(buffer[places - 1], edge), np.isin(buffer[places + 1], edge))
    odd = (counts % 2 == 1) | (np.bincount(line, weights=~sound, minlength=len(ends)) > 0)
    if not odd.any():
        return _Marks(places)
    found = _Marks(places)
    kept = [places[~odd[line]]]
    done = -1
    for at in np.flatnonzero(odd):
        if at <= done:
            continue
        done = _settle(found, kept, buffer, starts, ends, int(at), quote, delimiter, columns, last)
        if found.unfinished is not None:
            break
    # the lines without anything odd that a quoted field runs over count within it: their marks come from `kept` too
    found.places = np.unique(np.concatenate(kept)) if kept else places[:0]
    return found


def _settle(
    found: _Marks, kept: list[Places], buffer: Bytes, starts: Places, ends: Places, at: int, quote: int,
    delimiter: int, columns: int, last: bool,
) -> int:  # fmt: skip
    """Settle an odd line, and give the last line that was settled with it."""
    final = len(ends) - 1
    for until in range(at, min(at + _SEVERAL_LINES, final + 1)):
        raw = buffer[starts[at] : ends[until]].tobytes()
        real, fields = _edges(raw, quote, delimiter)
        if real is None:
            continue
        if until > at and fields != columns:
            break
        first, stop = starts[at], ends[until]
        kept[:] = [part[(part < first) | (part >= stop)] for part in kept]
        kept.append(np.array(real, np.int64) + first)
        found.joined += list(range(at, until))
        return until
    else:
        if not last and at + _SEVERAL_LINES > final:
            found.unfinished = int(starts[at])
            return final
    found.spoiled[at] = OPEN_QUOTE
    return at


def _edges(raw: bytes, quote: int, delimiter: int) -> tuple[list[int] | None, int]:
    """Return the marks that open and close fields, by RFC 4180, and the number of fields; None where one stays open."""
    real: list[int] = []
    at, size, fields = 0, len(raw), 1
    mark, comma = bytes((quote,)), bytes((delimiter,))
    while at < size:
        if raw[at] == quote:
            real.append(at)
            at += 1
            while True:
                close = raw.find(mark, at)
                if close < 0:
                    return None, fields
                if close + 1 < size and raw[close + 1] == quote:
                    real += (close, close + 1)
                    at = close + 2
                    continue
                break
            if close + 1 < size and raw[close + 1] not in (delimiter, _RETURN, _NEWLINE):
                return None, fields
            real.append(close)
            at = close + 1
        next_comma = raw.find(comma, at)
        if next_comma < 0:
            return real, fields
        fields += 1
        at = next_comma + 1
    return real, fields


def split_fixed(data: bytes, first: int, widths: tuple[tuple[int, int], ...]) -> Rows:
    """Return the rows of lines whose columns stand at fixed places; a line with more behind them is refused."""
    buffer = padded(data)
    inside = buffer[_PADDING : _PADDING + len(data)]
    ends = np.flatnonzero(inside == _NEWLINE) + _PADDING
    starts = np.concatenate(([_PADDING], ends[:-1] + 1)) if len(ends) else ends
    stops = _trimmed_ends(buffer, starts, ends)
    lines = first + np.arange(len(starts))
    width = widths[-1][1]
    why = np.full(len(starts), "", object)
    why[stops - starts > width] = TOO_MANY
    why[stops - starts <= widths[min(1, len(widths) - 1)][0]] = TOO_FEW
    for low, _ in widths[1:]:
        place = np.minimum(starts + low - 1, len(buffer) - 1)
        why[(starts + low - 1 < stops) & (buffer[place] != 32) & (buffer[place] != 9) & (why == "")] = BETWEEN
    zeros = np.flatnonzero(buffer == 0)
    why[np.searchsorted(zeros, ends) > np.searchsorted(zeros, starts)] = NULS
    blank = stops <= starts
    good = (why == "") & ~blank
    refused = tuple(
        (int(lines[at]), int(starts[at]), int(stops[at]), str(why[at])) for at in np.flatnonzero(~good & ~blank)
    )
    edges = np.array(widths)
    begin = np.minimum(starts[good][:, None] + edges[None, :, 0], stops[good][:, None])
    end = np.minimum(starts[good][:, None] + edges[None, :, 1], stops[good][:, None])
    begin, end = trimmed(buffer, begin, end)
    return Rows(buffer, begin, end, lines[good], refused, int(blank.sum()), used=len(data))


def _trimmed_ends(buffer: Bytes, starts: Places, ends: Places) -> Places:
    while True:
        blank = (ends > starts) & np.isin(buffer[ends - 1], (32, 9, _RETURN))
        if not blank.any():
            return ends
        ends = ends - blank


def trimmed(data: Bytes, starts: Places, ends: Places) -> tuple[Places, Places]:
    """Return where fields begin and end without the blanks around them."""
    while True:
        blank = (starts < ends) & (data[np.minimum(starts, len(data) - 1)] == 32)
        if not blank.any():
            break
        starts = starts + blank
    while True:
        blank = (starts < ends) & (data[ends - 1] == 32)
        if not blank.any():
            return starts, ends
        ends = ends - blank
