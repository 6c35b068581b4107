"""The rows of a log of text, block by block: times in UTC, numbers and words by column, refusals in the ledger.

Nothing goes lost between the lines: of the lines below the head each is blank, refused with a reason, or a row.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from asfound.history.bytes_in import Lines, decoded, encoded, lines_in, lines_of
from asfound.history.cell_units import numbers_alone
from asfound.history.channels import TextChannel, Times
from asfound.history.clock_columns import wall_of
from asfound.history.dates_above import Above, Read, dated
from asfound.history.heads_changed import Changed, head_in
from asfound.history.ledger import Ledger
from asfound.history.log_form import MISSING_WORDS, LogForm
from asfound.history.numbers_in import numbers
from asfound.history.split_lines import Rows, split, split_fixed
from asfound.history.tables_in import table_bytes
from asfound.history.times_in import NO_TIME
from asfound.history.words_in import words
from asfound.history.zones import MISSING_HOUR, ToUTC, by_offset
from asfound.quantities.typing import Array

TRAILER, REPEATED, NEW_HEAD, UNITS_AGAIN = "trailer text", "repeated header", "new header", "repeated units"
TOO_LONG, NO_OFFSET, OUT_OF_YEARS = "line too long", "no offset of the time", "time before 1980 or after 2199"
TEXT_IN_NUMBERS, NO_VALUE, SENTINEL = "text in a column of numbers", "no value", "number that stands for no value"


@dataclass(frozen=True, slots=True)
class Part:
    """Rows that were read: ``lines`` and ``time`` (n,), by head ``values`` in the unit of the file and ``texts``."""

    lines: Times
    time: Times
    values: dict[str, Array]
    texts: dict[str, TextChannel]
    form: LogForm
    rows: Rows | None = None

    def text(self, row: int) -> str:
        """Return the line of a row, as it stands in the file."""
        return decoded(self.rows.line(row), self.form.encoding) if self.rows is not None else ""


@dataclass(slots=True)
class Counts:
    """What became of the rows and cells of a file."""

    read: int = 0
    refused: int = 0
    blank: int = 0
    cells: int = 0
    """Cells of columns of numbers in rows that were read."""
    cells_empty: int = 0
    cells_refused: int = 0


@dataclass(slots=True)
class LogReader:
    """Reads one file of text in its form, from a position on.

    ``position`` and ``line`` say where reading stands: after each part of `parts` they are where the next one begins.
    """

    path: Path
    form: LogForm
    ledger: Ledger
    position: int = 0
    line: int = 1
    clock: ToUTC | None = None
    name: str = ""
    growing: bool = False
    """A last line without a line end is left for the next time."""
    held: int = 0
    """Lines so left: 0 or 1."""
    counts: Counts = field(default_factory=Counts)
    offsets: bool = False
    """Times say their offset."""
    above: Above | None = None
    """The last row, for rows without a date."""
    _pending: list[tuple[int, str, str]] = field(default_factory=list)
    first_form: LogForm | None = None
    """The form above the first row, where a head in mid file changed it since."""
    _first_row: int = 1

    def __post_init__(self) -> None:
        self.name = self.name or self.path.name
        self.first_form = self.first_form or self.form
        self._first_row = self.form.first_row if self.position == 0 else 1
        if self.clock is None and self.form.zone:
            self.clock = ToUTC(self.form.zone, self.form.step or 60.0)

    def parts(self) -> Iterator[Part]:
        """Yield the rows of the file, in its order."""
        for several in self.blocks():
            yield from several

    def blocks(self, *, ended: bool = True) -> Iterator[list[Part]]:
        """Yield the rows of each block; `position` and `line` then say where the next one begins.

        ``ended`` says that nothing will follow: refused lines behind the last row are the trailer.
        """
        carried = b""
        for block in self._blocks():
            for number, beginning in block.long:
                self._refuse(number, decoded(beginning, self.form.encoding), TOO_LONG)
            data, first = carried + block.data, block.first - carried.count(b"\n")
            start = block.start - len(carried)
            if self.growing and not block.ended and block.data:
                data = data[: data[:-1].rfind(b"\n") + 1]
                self.held = 1
            data, first, start = _without_head(data, first, start, self._first_row)
            found = list(self._block(data, first, start, last=not block.ended))
            carried = data[self.position - start :]
            yield found
        if carried:
            yield list(self._block(carried, self.line, self.position, last=True))
        if ended:
            self._trailer()

    def raw_rows(self) -> Iterator[Rows]:
        """Yield rows that have the right number of fields, without reading them: for a look at one column."""
        for block in self._blocks():
            data, first, _ = _without_head(block.data, block.first, block.start, self._first_row)
            if data:
                yield self._split(data, first, True)

    def _blocks(self) -> Iterator[Lines]:
        if self.form.layout == "spreadsheet":
            return lines_in(table_bytes(self.path, self.form.sheet), position=self.position, line=self.line)
        return lines_of(self.path, self.form.encoding, position=self.position, line=self.line)

    def _block(self, data: bytes, first: int, start: int, *, last: bool) -> Iterator[Part]:
        """Yield the rows of a block, one part for each head that stands in it."""
        at = 0
        while at < len(data):
            here = data[at:]
            line = first + data.count(b"\n", 0, at)
            rows = self._split(here, line, last)
            clock = dated(rows, self.form, wall_of(rows, self.form), self.above)
            changed = head_in(rows, clock.read, self.form)
            if changed is not None:
                here = here[: changed.at]
                rows = self._split(here, line, True)
                clock = dated(rows, self.form, wall_of(rows, self.form), self.above)
            clock.tell(self.ledger, self.name, rows, self.form)
            self.above = clock.above
            yield self._part(rows, clock.read)
            at += len(here) if changed is not None else rows.used
            if changed is not None:
                at += self._new_head(changed)
            elif rows.used < len(here):
                break
        self.position, self.line = start + at, first + data.count(b"\n", 0, at)

    def _new_head(self, changed: Changed) -> int:
        """Take over a new head in mid file; return how many bytes it is."""
        for number, text, why in changed.lines:
            self._refuse(number, text, why)
        if changed.form is not None:
            self.form = changed.form
        return changed.size

    def _split(self, data: bytes, line: int, last: bool) -> Rows:
        form = self.form
        if form.layout == "fixed":
            return split_fixed(data, line, form.widths)
        return split(data, line, delimiter=form.delimiter, quote=form.quote, columns=len(form.columns), last=last)

    def _part(self, rows: Rows, clock: Read) -> Part:
        wall, offset, why = clock
        why = np.full(len(wall), "", object) if why is None else why
        utc = self._utc(wall, offset, why)
        good = why == ""
        refused = [(line, rows.text(start, end), reason) for line, start, end, reason in rows.refused]
        refused += [(int(rows.lines[row]), rows.line(int(row)), str(why[row])) for row in np.flatnonzero(~good)]
        self.counts.blank += rows.blank
        kept = rows if good.all() else rows.take(good)
        self._refuse_all(refused, kept)
        self.counts.read += len(kept.lines)
        values = {
            c.head: self._numbers(kept, at, c.head) for at, c in enumerate(self.form.columns) if c.role == "number"
        }
        texts = {
            c.head: words(kept.data, kept.starts[:, at], kept.ends[:, at], self.form.encoding, self.form.quote)
            for at, c in enumerate(self.form.columns) if c.role == "text"
        }  # fmt: skip
        return Part(kept.lines, utc[good], values, texts, self.form, kept)

    def _utc(self, wall: Times, offset: NDArray[np.int64] | None, why: NDArray[np.object_]) -> Times:
        if offset is not None:
            self.offsets = True
            utc, without = by_offset(wall, offset)
            if self.clock is not None and without.any():  # a zone is told: rows without offset follow it
                local, missing = self.clock(np.where(without, wall, NO_TIME))
                why[missing & (why == "")] = MISSING_HOUR
                utc = np.where(without, local, utc)
            elif without.any():
                why[without & (why == "")] = NO_OFFSET
        else:
            utc, missing = (self.clock or ToUTC("UTC"))(wall)
            why[missing & (why == "")] = MISSING_HOUR
        outside = (why == "") & ((utc < 315532800_000000) | (utc > 7258118400_000000))
        why[outside] = OUT_OF_YEARS
        return utc

    def _refuse_all(self, refused: list[tuple[int, bytes, str]], kept: Rows) -> None:
        """Put refusals into the ledger; those behind the last row wait, for they may be the trailer."""
        if len(kept.lines):
            last = int(kept.lines[-1])
            self._release(self._pending)
            self._pending = []
        else:
            last = -1
        head = self.first_form or self.form
        for line, raw, why in sorted(refused):
            text = decoded(raw, self.form.encoding)
            why = REPEATED if why != NEW_HEAD and _same_head(text, self.form, head) else why
            if line > last and len(self._pending) < 1000:
                self._pending.append((line, text, why))
            else:
                self._refuse(line, text, why)

    @property
    def pending(self) -> list[tuple[int, str, str]]:
        """Refused lines behind the last row, not yet in the ledger: line, text, why."""
        return list(self._pending)

    @pending.setter
    def pending(self, lines: list[tuple[int, str, str]]) -> None:
        self._pending = lines

    def _release(self, several: list[tuple[int, str, str]]) -> None:
        for line, text, why in several:
            self._refuse(line, text, why)

    def _trailer(self) -> None:
        """Name what stands below the last row: words without a number in front are the trailer."""
        for line, text, why in self._pending:
            begins = text.lstrip()[:1]
            words_only = begins and not begins.isdigit() and why not in (REPEATED, NEW_HEAD, UNITS_AGAIN)
            self._refuse(line, text, TRAILER if words_only else why)
        self._pending = []

    def _refuse(self, line: int, text: str, why: str) -> None:
        self.counts.read += 1
        self.counts.refused += 1
        self.ledger.row(self.name, line, text, why)

    def _numbers(self, rows: Rows, column: int, head: str) -> Array:
        """Return the numbers of a column; a cell that holds something else is missing and goes into the ledger."""
        form, is_ = self.form, self.form.columns[column]
        starts, ends = rows.starts[:, column], rows.ends[:, column]
        if is_.unit_in_cells:
            starts, ends = numbers_alone(rows.data, starts, ends, encoded(is_.unit, form.encoding))
        found, other = numbers(
            rows.data, starts, ends, decimal=form.decimal, thousands=form.thousands, padded=rows.padded
        )
        self.counts.cells += len(found)
        for one in form.sentinels:
            stands = found == one
            if stands.any():
                self._cells(rows, column, head, np.flatnonzero(stands), SENTINEL)
                found[stands] = np.nan
        if other.any():
            self._cells(rows, column, head, np.flatnonzero(other), "")
        self.counts.cells_empty += int((ends <= starts).sum())
        return found

    def _cells(self, rows: Rows, column: int, head: str, which: NDArray[np.intp], why: str) -> None:
        texts = [decoded(rows.field(int(row), column), self.form.encoding).strip() for row in which]
        for row, text in zip(which, texts, strict=True):
            if not text:
                continue
            reason = why or (NO_VALUE if text.lower() in MISSING_WORDS else TEXT_IN_NUMBERS)
            self.ledger.cell(self.name, head, int(rows.lines[row]), text, reason)
            self.counts.cells_refused += 1


def _without_head(data: bytes, first: int, start: int, first_row: int) -> tuple[bytes, int, int]:
    """Return a block without the lines above the first row."""
    at = 0
    while first < first_row:
        end = data.find(b"\n", at) + 1
        if not end:
            return b"", first, start + len(data)
        at, first = end, first + 1
    return data[at:], first, start + at


def _same_head(text: str, form: LogForm, head: LogForm) -> bool:
    """Return whether a line repeats the head of the columns."""
    plain = text.replace('"', "").strip().rstrip(form.delimiter).lower()
    for one in (form, head):
        named = [column.head.lower() for column in one.columns if column.head]
        if named and plain.startswith(named[0]) and all(name in plain for name in named):
            return True
    return False
