"""A log that is being written: each look takes the whole lines that have come since the last one."""

from __future__ import annotations

import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from asfound.errors import InputError
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
    new one: it is read from its beginning, and that is said.

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
    _judge: Duplicates | None = None
    _pending: list[tuple[int, str, str]] = field(default_factory=list)

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
        self._pending = []

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
            self._start()
        self._beginning = beginning
        self._read(report)
        return report

    def _another(self, beginning: bytes) -> bool:
        known = self._beginning
        return bool(known) and (beginning[: len(known)] != known or self.path.stat().st_size < self._raw_position)

    @property
    def _raw_position(self) -> int:
        return 0 if self.form.encoding.startswith("utf-") and self.form.encoding != "utf-8" else self.position

    def _read(self, report: ImportReport) -> None:
        reader = LogReader(
            self.path, self._now or self.form, self.ledger, position=self.position, line=self.line, clock=self._clock,
            growing=True, first_form=self.form,
        )  # fmt: skip
        reader.pending = self._pending
        told, state = FileReport(self.path.name, "grown"), FileState(name=self.path.name, size=0, digest="")
        report.files.append(told)
        run = run_of(self.into, ImportState(self.mapping.source), self.ledger, report, self._judge)
        for parts in reader.blocks(ended=False):
            for part in parts:
                keep_part(part, reader.name, self.mapping, run, told, state)
        add_counts(report, told, reader, state)
        told.held = reader.held
        self.into.commit()
        if self._judge is not None:
            self._judge.committed()
        self.position, self.line, self._now = reader.position, reader.line, reader.form
        self._pending = reader.pending
        # what waits to be named is counted when it is named: so the counts of this look add up by themselves

    def follow(self, period: float, *, looks: int | None = None) -> Iterator[ImportReport]:
        """Yield a report every ``period`` seconds, for ever or so many times."""
        while looks is None or looks > 0:
            yield self.look()
            looks = None if looks is None else looks - 1
            if looks is None or looks > 0:
                time.sleep(period)
