"""What an import does behind a page: read the file into the store, then work out what changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from asfound.history.log_form import LogForm
from asfound.history.mapping import Mapping
from asfound.web import history_jobs as jobs

if TYPE_CHECKING:
    from pathlib import Path

    from asfound.history.import_report import ImportReport
    from asfound.records.store import Records

COMMIT_ROWS = 50_000
"""Rows between two words to the person who waits."""
Tell = Callable[[jobs.Job], None]


def work(who: str) -> Callable[[Records, jobs.Job, Tell], jobs.Job]:
    """Return what reads a file for a person."""

    def run(records: Records, job: jobs.Job, tell: Tell) -> jobs.Job:
        return work_out(records, _read(records, job, tell, who), tell)

    return run


def _read(records: Records, job: jobs.Job, tell: Tell, who: str) -> jobs.Job:
    from asfound.records.logs_of_engine import import_logs

    path = jobs.file_of(records, job)
    rows = max(_lines(path), 1)
    now = job

    def said(report: ImportReport) -> None:
        nonlocal now
        now = replace(now, read=report.read, kept=report.kept, share=min(report.read / rows, 0.99))
        tell(now)

    form = LogForm.from_dict(job.form)
    form = form.with_(order=job.answers.get("order") or form.order, zone=job.answers.get("zone") or form.zone)
    done = import_logs(
        records, records.engine(job.engine), [path], source=job.source, form=form,
        mapping=Mapping.from_dict(job.mapping), state=jobs.folder_of(records, job.id) / "state",
        commit_rows=COMMIT_ROWS, tell=said, who=who,
    )  # fmt: skip
    return replace(now, report=done.report.as_dict(), read=done.report.read, kept=done.report.kept, share=1.0)


def _lines(path: Path) -> float:
    """Return about how many rows a file holds, from its first lines."""
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(1 << 16)
    return size * head.count(b"\n") / max(len(head), 1)


def work_out(records: Records, job: jobs.Job, tell: Tell) -> jobs.Job:
    """Work out what changed, and keep it."""
    from asfound.records.logs_of_engine import look_at_engine

    tell(replace(job, stage="working_out", says="Working out what changed."))
    look_at_engine(records, records.engine(job.engine))
    return replace(job, stage="done", says="", share=1.0)
