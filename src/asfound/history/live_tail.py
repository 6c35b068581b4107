"""A log that is being written: each look takes the whole lines that have come since the last one."""

from __future__ import annotations

import contextlib
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from asfound.errors import InputError
from asfound.history.dates_above import Above
from asfound.history.duplicates import Duplicates
from asfound.history.import_report import FileReport, ImportReport
from asfound.history.import_state import FileState, ImportState
from asfound.history.importing import Sink, add_counts, keep_part, run_of
from asfound.history.ledger import Ledger
from asfound.history.log_form import LogForm
from asfound.history.mapping import Mapping
from asfound.history.reading import LogReader
from asfound.history.zones import ToUTC

_BEGINNING = 4096


@dataclass(slots=True)
class Tail:
    """Follows one growing file of text.

    A line without its line end is left for the next look. A file that became shorter, or that begins otherwise, is a
    new one: it is read from its beginning, and that is said. What the old one still got is read from where it lies now,
    beside the new one under another name; where it is not found that is said too.

    Parameters
    ----------
    path : Path
    into : Sink
    form : LogForm
        Decided: with order and zone.
    mapping : Mapping
    ledger : Ledger, optional
    """

    path: Path
    into: Sink
    form: LogForm
    mapping: Mapping = field(default_factory=Mapping)
    ledger: Ledger = field(default_factory=Ledger)
    position: int = 0
    line: int = 1
    _clock: ToUTC | None = None
    _now: LogForm | None = None
    _beginning: bytes = b""
    _identity: tuple[int, int] = (0, 0)
    _judge: Duplicates | None = None
    _pending: list[tuple[int, str, str]] = field(default_factory=list)
    _above: Above | None = None

    def __post_init__(self) -> None:
        if self.form.layout not in ("delimited", "fixed"):
            raise InputError("file", self.path.name, "is no text that grows line by line", allowed="delimited, fixed")
        if not self.form.order or not self.form.zone:
            raise InputError("form", self.path.name, "does not say the order of dates or the time zone")
        self._judge = Duplicates(self.into.existing)
        self._start()

    def _start(self) -> None:
        self.position, self.line, self._now = 0, 1, self.form
        self._clock = ToUTC(self.form.zone, self.form.step or 60.0)
        self._pending, self._above = [], None

    def look(self) -> ImportReport:
        """Take what is new, and return what became of it; a file that is not there is a note, no error."""
        report = ImportReport(self.mapping.source, refusals=self.ledger)
        try:
            with self.path.open("rb") as file:
                beginning = file.read(_BEGINNING)
        except OSError as error:
            report.notes.append(f"{self.path.name}: cannot be read now: {error.strerror or error}")
            return report
        if self._another(beginning):
            report.notes.append(f"{self.path.name}: is another file than before, and is read from its beginning")
            self._rest_of_the_old_one(report)
            self._start()
        self._beginning, self._identity = beginning, self._identity_of(self.path)
        self._read(self.path, report)
        return report

    def _rest_of_the_old_one(self, report: ImportReport) -> None:
        """Read what came into the old file after the last look, if it was renamed or copied before it was emptied."""
        old = self._old_one()
        if old is None:
            report.notes.append(
                f"{self.path.name}: the old file is not beside it under another name; what it got since the last look "
                "is not here"
            )
        elif old.stat().st_size > self.position:
            report.notes.append(f"{old.name}: is the old file; its last lines are read from there")
            self._read(old, report, ended=True)

    def _old_one(self) -> Path | None:
        """Return the old file: the same one by the system's number, else one that begins alike and has rows."""
        like: list[tuple[float, Path]] = []
        with contextlib.suppress(OSError):
            for one in self.path.parent.iterdir():
                if one == self.path or not one.is_file() or one.stat().st_size < self._raw_position:
                    continue
                if self._identity_of(one) == self._identity:
                    return one
                if self.line > self.form.first_row and _begins(one, len(self._beginning)) == self._beginning:
                    like.append((one.stat().st_mtime, one))
        return max(like)[1] if like else None

    @staticmethod
    def _identity_of(path: Path) -> tuple[int, int]:
        found = path.stat()
        return found.st_dev, found.st_ino

    def _another(self, beginning: bytes) -> bool:
        known = self._beginning
        return bool(known) and (beginning[: len(known)] != known or self.path.stat().st_size < self._raw_position)

    @property
    def _raw_position(self) -> int:
        return 0 if self.form.encoding.startswith("utf-") and self.form.encoding != "utf-8" else self.position

    def _read(self, path: Path, report: ImportReport, *, ended: bool = False) -> None:
        reader = LogReader(
            path, self._now or self.form, self.ledger, position=self.position, line=self.line, clock=self._clock,
            growing=not ended, first_form=self.form, above=self._above,
        )  # fmt: skip
        reader.pending = self._pending
        told, state = FileReport(path.name, "grown"), FileState(name=path.name, size=0, digest="")
        report.files.append(told)
        run = run_of(self.into, ImportState(self.mapping.source), self.ledger, report, self._judge)
        run.first_units = {column.head: column.unit for column in self.form.columns}
        for parts in reader.blocks(ended=ended):
            for part in parts:
                keep_part(part, reader.name, self.mapping, run, told, state)
        add_counts(report, told, reader, state)
        told.held = reader.held
        self.into.commit()
        if self._judge is not None:
            self._judge.committed()
        self.position, self.line, self._now = reader.position, reader.line, reader.form
        self._pending, self._above = reader.pending, reader.above
        # what waits to be named is counted when it is named: so the counts of this look add up by themselves

    def follow(self, period: float, *, looks: int | None = None) -> Iterator[ImportReport]:
        """Yield a report every ``period`` seconds, for ever or so many times."""
        while looks is None or looks > 0:
            yield self.look()
            looks = None if looks is None else looks - 1
            if looks is None or looks > 0:
                time.sleep(period)


def _begins(path: Path, size: int) -> bytes:
    with path.open("rb") as file:
        return file.read(size)
