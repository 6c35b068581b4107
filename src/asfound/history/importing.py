"""Logs into the store: read, mapped, duplicates judged, handed on block by block, and resumed where it broke off."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from asfound.errors import AmbiguousError, InputError
from asfound.history.bytes_in import layout_of
from asfound.history.channels import Channels
from asfound.history.dates_above import Above
from asfound.history.duplicates import CONFLICT, DROP, KEEP, OTHER, SAME, Duplicates
from asfound.history.heads_changed import other_heads
from asfound.history.import_report import FileReport, ImportReport
from asfound.history.import_state import FileState, ImportState
from asfound.history.ledger import Ledger
from asfound.history.log_form import LogForm
from asfound.history.mapping import Mapping
from asfound.history.parquet_in import ParquetReader
from asfound.history.proposing import Proposal, propose
from asfound.history.reading import LogReader, Part
from asfound.history.zones import ToUTC

COMMIT_ROWS = 500_000
_COUNTS = ("read", "refused", "blank", "cells", "cells_empty", "cells_refused")


class Sink(Protocol):
    """Where rows go. `commit` makes durable what was added; it is called before the state of the import is saved."""

    def add(self, block: Channels) -> object:
        """Take rows, in the order of the file."""

    def existing(self, start: int, end: int) -> Channels | None:
        """Return the rows of this source kept for good, ``start`` to ``end`` with both ends, in microseconds."""

    def commit(self) -> object:
        """Make durable what was added."""


@dataclass(slots=True)
class MemorySink:
    """Keeps rows in memory: for tests, and for looking at one file."""

    blocks: list[Channels] = field(default_factory=list)
    held: list[Channels] = field(default_factory=list)

    def add(self, block: Channels) -> None:
        """Take rows."""
        self.held.append(block)

    def existing(self, start: int, end: int) -> Channels | None:
        """Return kept rows of a span."""
        near = [b for b in self.blocks if len(b) and int(b.time.min()) <= end and int(b.time.max()) >= start]
        found = [block.take((block.time >= start) & (block.time <= end)) for block in near]
        return Channels.concat(found) if found else None

    def commit(self) -> None:
        """Keep what was added."""
        self.blocks += self.held
        self.held = []

    def rows(self) -> Channels:
        """Return all rows, by time."""
        return Channels.concat([*self.blocks, *self.held]).sorted()


def import_files(
    paths: Iterable[Path | str], into: Sink, *, source: str = "", form: LogForm | None = None,
    mapping: Mapping | None = None, zone: str = "", order: str = "", state: Path | None = None, growing: bool = False,
    commit_rows: int = COMMIT_ROWS, tell: Callable[[ImportReport], None] | None = None,
) -> ImportReport:  # fmt: skip
    """Import files of one source, in the order given, and return what became of every row.

    Parameters
    ----------
    paths : iterable of path
    into : Sink
    source : str
        Name of the logger or panel; it goes with every row.
    form : LogForm, optional
        How the files are written; proposed for each file from its own lines where not given.
    mapping : Mapping, optional
        What the columns are; proposed where not given. A pressure that can be gauge or absolute is kept raw then.
    zone, order : str
        Answers to what a file does not decide: ``Europe/Berlin``, ``dmy``.
    state : path, optional
        Folder for the state and the ledger of refusals; without it nothing can be resumed.
    growing : bool
        A last line without a line end is left for the next time.
    tell : callable, optional
        Is given the report after each commit.

    Raises
    ------
    InputError
        A file cannot be read at all.
    AmbiguousError
        The order of the dates or the time zone is not decided by the file and not told.
    """
    kept = ImportState.load(source, state)
    ledger = Ledger(kept.ledger, size=kept.ledger_size if kept.ledger else None)
    report = ImportReport(source, refusals=ledger)
    judge = Duplicates(into.existing)
    run = _Run(into, kept, ledger, report, judge, commit_rows, tell)
    try:
        for path in paths:
            _import_one(Path(path), run, form, mapping, zone, order, growing)
    finally:
        ledger.close()
    return report


def run_of(
    into: Sink, state: ImportState, ledger: Ledger, report: ImportReport, judge: Duplicates | None = None
) -> _Run:
    """Return what `keep_part` works on, for whoever reads by other means than `import_files`."""
    return _Run(into, state, ledger, report, judge or Duplicates(into.existing), COMMIT_ROWS, None)


@dataclass(slots=True)
class _Run:
    into: Sink
    state: ImportState
    ledger: Ledger
    report: ImportReport
    judge: Duplicates
    commit_rows: int
    tell: Callable[[ImportReport], None] | None
    since: int = 0
    first_units: dict[str, str] = field(default_factory=dict)
    """What the mapping was decided on: units over the heads above the first row of the file at hand."""

    def commit(self, file: FileState, reader: LogReader | ParquetReader, *, done: bool) -> None:
        """Make the rows durable, then the state: a break between the two repeats rows, which are then duplicates."""
        self.into.commit()
        self.judge.committed()
        self.state.ledger_size = self.ledger.flush()
        file.position, file.line, file.done = reader.position, reader.line, done
        file.pending, file.form = reader.pending, reader.form.as_dict()
        file.above = asdict(reader.above) if isinstance(reader, LogReader) and reader.above else {}
        if reader.clock is not None:
            passes = {str(at): count for at, count in (reader.clock.passes or {}).items()}
            file.clock = {"last": reader.clock.last, "passes": passes}
        self.state.save()
        self.since = 0
        if self.tell is not None:
            self.tell(self.report)


def _import_one(
    path: Path, run: _Run, form: LogForm | None, mapping: Mapping | None, zone: str, order: str, growing: bool
) -> None:  # fmt: skip
    if not path.is_file():
        raise InputError("file", str(path), "is no file", try_next="Give the path of a log.")
    file, what = run.state.of(path)
    told = FileReport(path.name, what)
    run.report.files.append(told)
    if what == "same":
        run.report.notes.append(f"{path.name}: has been imported before, nothing was done")
        return
    form, mapping = _decided(path, run, file, form, mapping, zone, order)
    reader = _reader(path, form, run.ledger, file, growing=growing)
    file.name = file.name or path.name
    file.first_form = file.first_form or form.as_dict()
    run.first_units = {column.head: column.unit for column in LogForm.from_dict(file.first_form).columns}
    add_counts(run.report, told, reader, file)
    for parts in reader.blocks():
        for part in parts:
            keep_part(part, reader.name, mapping, run, told, file)
        if run.since >= run.commit_rows:
            add_counts(run.report, told, reader, file)
            run.commit(file, reader, done=False)
    add_counts(run.report, told, reader, file)
    told.held = reader.held
    _say_clock(run.report, reader, path.name)
    run.commit(file, reader, done=True)


def _decided(
    path: Path, run: _Run, file: FileState, form: LogForm | None, mapping: Mapping | None, zone: str, order: str
) -> tuple[LogForm, Mapping]:
    """Return form and mapping, of the state, as given, or proposed; AmbiguousError for what stays open."""
    if file.form:
        form = LogForm.from_dict(file.form)
    elif form is not None and other_heads(path, form):
        run.report.notes.append(f"{path.name}: has other heads than the form that was given, and is read by its own")
        zone, order = form.zone or zone, form.order or order
        form = None
    proposal: Proposal | None = None
    if form is None or mapping is None:
        proposal = propose(path, zone=zone, order=order, source=run.report.source, form=form)
        form = form or proposal.form
        if mapping is None:
            mapping = proposal.mapping_for_import()
            run.report.notes += [f"{path.name}: {note}" for note in proposal.kept_raw()]
    form = form.with_(zone=form.zone or zone, order=form.order or order)
    if proposal is not None:
        for question in proposal.questions:
            if question.field in ("order", "zone") and not getattr(form, question.field):
                raise AmbiguousError(
                    question.field, path.name, question.because, choices=question.choices, try_next=question.try_next
                )
    if mapping.source != run.report.source:
        mapping = Mapping(
            source=run.report.source, columns=mapping.columns, barometer=mapping.barometer,
            gas_state=mapping.gas_state, clock=mapping.clock,
        )  # fmt: skip
    mapping.check({column.head: column.unit for column in form.columns})
    return form, mapping


def _reader(path: Path, form: LogForm, ledger: Ledger, file: FileState, *, growing: bool) -> LogReader | ParquetReader:
    clock = None
    if form.zone:
        passes = {int(at): int(count) for at, count in file.clock.get("passes", {}).items()}
        clock = ToUTC(
            form.zone, form.step or 60.0, **({"last": file.clock["last"]} if file.clock else {}), passes=passes
        )
    if layout_of(path) == "parquet":
        return ParquetReader(path, form, ledger, position=file.position, clock=clock)
    reader = LogReader(
        path, form, ledger, position=file.position, line=file.line, clock=clock, growing=growing,
        first_form=LogForm.from_dict(file.first_form) if file.first_form else None,
        above=Above(**file.above) if file.above else None,
    )  # fmt: skip
    reader.pending = file.pending
    return reader


def add_counts(report: ImportReport, told: FileReport, reader: Any, file: FileState) -> None:
    """Move what the reader counted into the report, the file's report and the file's state."""
    for name in _COUNTS:
        count = getattr(reader.counts, name)
        setattr(report, name, getattr(report, name) + count)
        if hasattr(told, name):
            setattr(told, name, getattr(told, name) + count)
        file.counts[name] = file.counts.get(name, 0) + count
        setattr(reader.counts, name, 0)


def keep_part(part: Part, name: str, mapping: Mapping, run: _Run, told: FileReport, file: FileState) -> None:
    """Judge the rows of a part, hand on those that are kept, and put the others into the ledger."""
    if not len(part.lines):
        return
    units = {column.head: column.unit for column in part.form.columns}
    instead = {head: unit for head, unit in units.items() if unit and run.first_units.get(head) not in (None, "", unit)}
    block = mapping.channels(part.time, part.values, part.texts, units, instead)
    verdict = run.judge.judge(block)
    kept = block if not verdict.any() else block.take(verdict == KEEP)
    for row in np.flatnonzero(verdict):
        kind, why = ("duplicate", SAME) if verdict[row] == DROP else ("conflict", OTHER)
        run.ledger.row(name, int(part.lines[row]), part.text(int(row)), why, kind)
    counts = {
        "kept": len(kept),
        "duplicates": int((verdict == DROP).sum()),
        "conflicts": int((verdict == CONFLICT).sum()),
    }
    for one, count in counts.items():
        setattr(run.report, one, getattr(run.report, one) + count)
        setattr(told, one, getattr(told, one) + count)
        file.counts[one] = file.counts.get(one, 0) + count
    if len(kept):
        run.into.add(kept)
        run.since += len(kept)
    run.report.take(kept, part.form.step)


def _say_clock(report: ImportReport, reader: LogReader | ParquetReader, name: str) -> None:
    """Say what stays uncertain of a repeated hour."""
    from asfound.history.mapping import moment_text

    if reader.clock is None:
        return
    for at, count in (reader.clock.passes or {}).items():
        if count == 1:
            report.notes.append(
                f"{name}: the hour that occurred twice at {moment_text(at)} ({reader.clock.zone}) was passed once in "
                "the file; its rows were taken for the first of the two"
            )


def counts_of(state: FileState) -> dict[str, Any]:
    """Return what became of the rows of a file over all imports of it."""
    return asdict(state)["counts"]  # type: ignore[no-any-return]
