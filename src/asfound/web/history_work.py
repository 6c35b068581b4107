"""What an import does behind a page: read the file into the store, then work out what changed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from asfound.errors import InputError
from asfound.history.import_state import ImportState
from asfound.history.log_form import LogForm
from asfound.history.mapping import Mapping
from asfound.web import history_jobs as jobs

if TYPE_CHECKING:
    from asfound.history.import_report import ImportReport
    from asfound.records.store import Records

Tell = Callable[[jobs.Job], None]


def work(who: str) -> Callable[[Records, jobs.Job, Tell], jobs.Job]:
    """Return what reads a file for a person."""

    def run(records: Records, job: jobs.Job, tell: Tell) -> jobs.Job:
        return work_out(records, _read(records, job, tell, who), tell)

    return run


def _read(records: Records, job: jobs.Job, tell: Tell, who: str) -> jobs.Job:
    from asfound.records.log_import import STATES, fresh, import_alarms, import_planned, source_for
    from asfound.records.log_plan import FilePlan, Plan, alarm_list
    from asfound.records.logs_of_engine import FOLDER, name_for

    path, engine = jobs.file_of(records, job), records.engine(job.engine)
    if not fresh(records, engine, [path])[0]:
        raise InputError("file", job.title, "has been brought in before", try_next="Take that import out first.")
    if alarm_list(path):
        entry = import_alarms(records, engine, path, who=who)
        return replace(job, kept=int(entry.content["kept"]), report={"entry": entry.id, "alarms": True})
    rows = max(_lines(path), 1)
    now = job

    def said(report: ImportReport) -> None:
        nonlocal now
        now = replace(now, read=report.read, kept=report.kept, share=min(report.read / rows, 0.99))
        tell(now)

    form = LogForm.from_dict(job.form)
    form = form.with_(order=job.answers.get("order") or form.order, zone=job.answers.get("zone") or form.zone)
    source = source_for(records, engine, job.source)
    mapping = replace(Mapping.from_dict(job.mapping), source=source)
    planned = Plan(source=source, files=[FilePlan(path, form)], mapping=mapping, questions=[], notes=[])
    done = import_planned(records, engine, planned, who=who, tell=said)
    state = ImportState(source, Path(records.home.folder) / FOLDER / STATES / name_for(records, engine))
    report = done.reports[0].as_dict() if done.reports else {}
    report |= {"entry": done.entry.id if done.entry else "", "clashes": done.clashes, "ledger": str(state.ledger)}
    return replace(now, report=report, read=done.total("read"), kept=done.total("kept"), share=1.0)


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
