"""A log brought in from a page: uploaded, looked at, asked about, read behind the page, and reported row by row."""

from __future__ import annotations

import csv
import io
import itertools
import secrets
import shutil
import time
from dataclasses import replace
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any

from starlette.responses import JSONResponse, StreamingResponse
from starlette.routing import Route

from asfound.errors import AsFoundError
from asfound.report.history_logs import zone_of
from asfound.web import history_jobs as jobs
from asfound.web.forms import acting, text
from asfound.web.history_asked import asked_page, mapping_typed
from asfound.web.history_work import work, work_out
from asfound.web.pages import Crumb, go, house_of, page, prefs_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.things import EngineRecord

LOG_LIMIT = 4 * 1024**3
"""Longest file that is taken over a page; longer ones come by the command, which reads them where they lie. [bytes]"""
MOST_SHOWN = 40


def _engine(request: Request) -> tuple[EngineRecord, str]:
    house = house_of(request)
    engine = house.records.engine(request.path_params["engine"])
    return engine, house.engine_base(engine)


def _crumbs(base: str, tag: str) -> tuple[Crumb, ...]:
    here = Crumb(f"{base}/history/import", "Bring a log in")
    return (Crumb("/", "Engines"), Crumb(base, tag), Crumb(f"{base}/history", "History"), here)


def choose_file(request: Request, *, complaint: str = "") -> Response:
    """Ask for a file, and show what was brought in before."""
    engine, base = _engine(request)
    return page(
        request,
        "history_import.html",
        title=f"Bring in a log, {engine.tag}",
        crumbs=_crumbs(base, engine.tag),
        status=422 if complaint else 200,
        engine=engine,
        base=base,
        complaint=complaint,
        jobs=jobs.jobs_of(house_of(request).records, engine.id),
    )


def upload(request: Request, form: FormData) -> Response:
    """Keep the file in a folder of its own, look at its form and columns, and show what is proposed."""
    engine, base = _engine(request)
    records = house_of(request).records
    file = form.get("log")
    if file is None or isinstance(file, str) or not file.filename:
        return choose_file(request, complaint="No file was chosen.")
    name = PurePath(file.filename.replace("\\", "/")).name[:120].lstrip(".") or "log"
    job = jobs.Job(
        id=time.strftime("%Y%m%d%H%M%S", time.gmtime()) + "-" + secrets.token_hex(4),
        engine=engine.id,
        title=name,
        source=text(form, "source")[:60] or f"{engine.tag} panel",
    )
    folder = jobs.folder_of(records, job.id) / "file"
    folder.mkdir(parents=True)
    with (folder / name).open("wb") as kept:
        shutil.copyfileobj(file.file, kept, 1 << 20)
    job = replace(job, size=(folder / name).stat().st_size)
    from asfound.records.log_plan import alarm_list, usual_barometer

    if alarm_list(folder / name):
        jobs.start(records, jobs.save(records, job), work(prefs_of(request).who))
        return go(f"{base}/history/import/{job.id}")
    try:
        from asfound.history.proposing import propose

        found = propose(folder / name, source=job.source, changes=False, barometer=usual_barometer(engine))
    except AsFoundError as refused:
        shutil.rmtree(jobs.folder_of(records, job.id), ignore_errors=True)
        return choose_file(request, complaint=f"{name}: {refused}")
    except Exception as broken:  # a file of any kind may come here
        shutil.rmtree(jobs.folder_of(records, job.id), ignore_errors=True)
        return choose_file(request, complaint=f"{name} cannot be read as a log: {broken}")
    from asfound.records.log_mapping import as_before, mapping_before

    before = mapping_before(records, engine, job.source)
    known = as_before(found.mapping.columns, found.form, before)
    mapping = replace(found.mapping, columns=tuple(known.get(one.head, one) for one in found.mapping.columns))
    if before is not None:
        mapping = replace(mapping, barometer=before.barometer, gas_state=before.gas_state)
    offset = str(engine.site.content.get("zone", "")) if engine.site else ""
    asked = [
        {"field": q.field, "because": q.because, "choices": q.choices, "try_next": q.try_next}
        for q in found.questions
        if q.field not in known
    ]
    jobs.save(
        records,
        replace(
            job,
            answers={"zone": found.form.zone or offset, "order": found.form.order},
            form=found.form.as_dict(),
            mapping=mapping.as_dict(),
            report={"questions": asked, "reasons": list(found.reasons), "proposed_zone": found.form.zone},
        ),
    )
    return go(f"{base}/history/import/{job.id}")


def show_job(request: Request) -> Response:
    """Show an import: what is proposed, how far it is, or what became of every row."""
    engine, base = _engine(request)
    records = house_of(request).records
    job = jobs.load(records, request.path_params["job"])
    if job.stage == "asked":
        return asked_page(request, job, engine, base, _crumbs(base, engine.tag))
    return page(
        request,
        "history_job.html",
        title=f"{job.title}, {engine.tag}",
        crumbs=_crumbs(base, engine.tag),
        engine=engine,
        base=base,
        job=job,
        zone=zone_of(engine),
        refused=list(_refusals(job, MOST_SHOWN)),
    )


def begin(request: Request, form: FormData) -> Response:
    """Take the answers, and let the import begin; what cannot be is said beside its field."""
    engine, base = _engine(request)
    records = house_of(request).records
    job = jobs.load(records, request.path_params["job"])
    if job.going:
        return go(f"{base}/history/import/{job.id}")
    do = text(form, "do")
    if do == "drop":
        shutil.rmtree(jobs.folder_of(records, job.id), ignore_errors=True)
        return go(f"{base}/history/import")
    if do == "withdraw" and job.report.get("entry"):
        from asfound.records.log_import import withdraw

        _, gone = withdraw(records, records.entry(job.report["entry"]), who=prefs_of(request).who)
        said = f"Taken out again: {gone:,} rows left the store."
        jobs.save(records, replace(job, says=said, report={**job.report, "entry": ""}))
        return go(f"{base}/history/import/{job.id}")
    if do == "again":
        jobs.start(records, job, work(prefs_of(request).who))
        return go(f"{base}/history/import/{job.id}")
    typed, complaints = mapping_typed(job, form)
    if complaints:
        return asked_page(request, typed, engine, base, _crumbs(base, engine.tag), complaints=complaints)
    if do == "look":  # nothing is read in yet: the first rows as these answers make them
        jobs.save(records, typed)
        return go(f"{base}/history/import/{job.id}")
    jobs.start(records, typed, work(prefs_of(request).who))
    return go(f"{base}/history/import/{job.id}")


def look_again(request: Request, _form: FormData) -> Response:
    """Let what changed be worked out behind the page."""
    engine, base = _engine(request)
    records = house_of(request).records
    going = next((one for one in jobs.jobs_of(records, engine.id) if one.going), None)
    if going is None:
        name = time.strftime("%Y%m%d%H%M%S", time.gmtime()) + "-" + secrets.token_hex(4)
        going = jobs.Job(id=name, engine=engine.id, title="What changed", stage="working_out")
        jobs.start(records, going, work_out)
    return go(f"{base}/history/import/{going.id}")


def show_state(request: Request) -> Response:
    """Return how far an import is, for the script."""
    job = jobs.load(house_of(request).records, request.path_params["job"])
    return JSONResponse(
        {"id": job.id, "stage": job.stage, "read": job.read, "kept": job.kept, "share": job.share, "says": job.says}
    )


def _refusals(job: jobs.Job, most: int | None = None) -> Iterator[Any]:
    from asfound.history.ledger import read_ledger

    path = Path(str(job.report.get("ledger", "")))
    if job.report.get("ledger") and path.is_file():
        yield from itertools.islice(read_ledger(path), most)


def give_refused(request: Request) -> Response:
    """Return every row and cell that was not taken, with file, line and why, as CSV."""
    job = jobs.load(house_of(request).records, request.path_params["job"])

    def lines() -> Iterator[str]:
        out = io.StringIO()
        write = csv.writer(out)
        write.writerow(("file", "line", "last line", "rows", "column", "kind", "why", "text"))
        for one in _refusals(job):
            said = f"'{one.text}" if one.text[:1] in "=+-@\t\r" else one.text  # a spreadsheet must not work it out
            write.writerow((one.file, one.line, one.last or one.line, one.count, one.column, one.kind, one.why, said))
            yield out.getvalue()
            out.seek(0)
            out.truncate()
        yield out.getvalue()

    name = f"not-taken-{job.id}.csv"
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return StreamingResponse(lines(), media_type="text/csv; charset=utf-8", headers=headers)


WHERE = "/engines/{engine}/history/import"
ROUTES = [
    Route(WHERE, choose_file),
    Route(WHERE, acting(upload), methods=["POST"], max_body_size=LOG_LIMIT),
    Route("/engines/{engine}/history/look", acting(look_again), methods=["POST"]),
    Route(WHERE + "/{job}", show_job),
    Route(WHERE + "/{job}", acting(begin), methods=["POST"]),
    Route(WHERE + "/{job}/state", show_state),
    Route(WHERE + "/{job}/not-taken.csv", give_refused),
]
