"""What is proposed for a log and what is asked: form, zone, columns; and what a person made of it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from asfound.errors import AsFoundError
from asfound.history.ledger import Ledger
from asfound.history.log_form import LogForm, Order, order_words
from asfound.history.mapping import Mapping
from asfound.history.mapping_proposal import TAKEN_FROM
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantities, quantity
from asfound.web import history_jobs as jobs
from asfound.web.forms import text
from asfound.web.pages import house_of, page

if TYPE_CHECKING:
    from collections.abc import Mapping as MappingOf
    from collections.abc import Sequence
    from pathlib import Path

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.things import EngineRecord
    from asfound.web.pages import Crumb

ORDERS: tuple[Order, ...] = ("ymd", "dmy", "mdy")
TIMES = ("time", "date", "clock", "offset", "empty")
"""Columns that are no readings."""
PREVIEW = 6
COLUMNS = 12
"""Columns of the preview; the table of columns has all."""


def asked_page(
    request: Request,
    job: jobs.Job,
    engine: EngineRecord,
    base: str,
    crumbs: Sequence[Crumb],
    *,
    complaints: MappingOf[str, str] | None = None,
) -> Response:
    """Show the proposal as a form with its reasons."""
    records = house_of(request).records
    form, asked = LogForm.from_dict(job.form), job.report.get("questions", [])
    path = jobs.file_of(records, job)
    return page(
        request,
        "history_asked.html",
        title=f"{job.title}, {engine.tag}",
        crumbs=crumbs,
        status=422 if complaints else 200,
        engine=engine,
        base=base,
        job=job,
        form=form,
        orders=[(one, order_words(one)) for one in ORDERS],
        questions={one["field"]: one for one in asked},
        reasons=job.report.get("reasons", []),
        columns=[
            _row(i, one, asked)
            for i, one in enumerate(job.mapping.get("columns", ()))
            if one["head"] not in {each.head for each in form.columns if each.role in TIMES}
        ],
        titles=sorted((one.title, name) for name, one in quantities().items()),
        preview=_preview(path, form, job),
        complaints=complaints or {},
    )


def _row(i: int, one: MappingOf[str, Any], asked: Sequence[MappingOf[str, Any]]) -> dict[str, Any]:
    """Return one column as a row of the form; what is not sure enough begins as kept raw, with what it may be."""
    question = next((q for q in asked if q["field"] == one["head"]), None)
    sure = one.get("score", 1.0) >= TAKEN_FROM
    name = one.get("quantity", "")
    return {
        "i": i,
        "head": one["head"],
        "unit": one.get("unit", ""),
        "title": quantity(name).title if name and (sure or question) else "",
        "maybe": quantity(name).title if name and not (sure or question) else "",
        "place": one.get("place", "engine"),
        "score": round(100 * one.get("score", 1.0)),
        "why": one.get("why", ()),
        "question": question,
    }


def mapping_typed(job: jobs.Job, form: FormData) -> tuple[jobs.Job, dict[str, str]]:
    """Return the import with what was typed, and what cannot be, by field."""
    complaints: dict[str, str] = {}
    by_title = {one.title.casefold(): name for name, one in quantities().items()}
    columns = []
    for i, one in enumerate(job.mapping.get("columns", ())):
        title, place = text(form, f"q{i}"), text(form, f"p{i}") or "engine"
        written = text(form, f"u{i}", one.get("unit", ""))
        name = by_title.get(title.casefold(), title if title in quantities() else "")
        if title and not name:
            complaints[f"q{i}"] = (
                f"{one['head']}: '{title}' is no reading of the register. "
                "Choose one of the list, or leave it empty to keep the column as it is."
            )
        columns.append(
            {**one, "quantity": name, "place": place.lower().replace(" ", "_"), "unit": written, "score": 1.0}
        )
    order = text(form, "order") or job.answers.get("order", "")
    zone = text(form, "zone")
    mapping = {**job.mapping, "columns": columns}
    barometer = text(form, "barometer")
    if barometer:
        try:
            amount = parse_amount(barometer, quantity="barometric_pressure", field="barometer")
            mapping["barometer"] = amount.value
        except AsFoundError as refused:
            complaints["barometer"] = str(refused)
    answers = {**job.answers, "order": order, "zone": zone, "barometer": barometer}
    typed = replace(job, answers=answers, mapping=mapping, source=text(form, "source")[:60] or job.source)
    if not order:
        complaints["order"] = "The file does not say in which order its dates are written. Choose it."
    if not zone and not job.report.get("offsets"):
        complaints["zone"] = (
            "The file does not say in which zone its clock was set. Write it as Europe/Berlin, UTC or -06:00."
        )
    elif zone and (said := _zone_complaint(zone)):
        complaints["zone"] = said
    if not complaints:
        try:
            units = {one.head: one.unit for one in LogForm.from_dict(job.form).columns}
            Mapping.from_dict(mapping).check(units)
        except AsFoundError as refused:
            field = getattr(refused, "field", "")
            at = next((f"u{i}" for i, one in enumerate(columns) if field in (one["head"], one["quantity"])), "mapping")
            complaints[at] = str(refused)
    return typed, complaints


def _zone_complaint(zone: str) -> str:
    from asfound.history.zones import ToUTC

    try:
        ToUTC(zone, 60.0)
    except AsFoundError as refused:
        return str(refused)
    except Exception:
        return f"'{zone}' is no zone. Write it as Europe/Berlin, UTC or -06:00."
    return ""


def _preview(path: Path, form: LogForm, job: jobs.Job) -> dict[str, Any]:
    """Return the first rows as they will be read, in the units of the file; empty where the dates are open still."""
    from asfound.history.bytes_in import layout_of
    from asfound.history.parquet_in import ParquetReader
    from asfound.history.reading import LogReader
    from asfound.report.time_axis import moment

    zone = job.answers.get("zone") or form.zone
    decided = form.with_(zone=zone or "UTC", order=job.answers.get("order") or form.order)
    clock = f"Time, UTC; the file's clock at {zone}" if zone not in ("", "UTC") else "Time, UTC"
    if not zone and not job.report.get("offsets"):
        clock = "Time as written; UTC is known with the zone"
    heads = [one.head for one in form.columns if one.role == "number"][:COLUMNS]
    try:
        reader: Any = (
            ParquetReader(path, decided, Ledger(None))
            if layout_of(path) == "parquet"
            else LogReader(path, decided, Ledger(None))
        )
        for parts in reader.blocks():
            for part in parts:
                if len(part.time):
                    rows = [
                        [
                            f"{moment(int(part.time[i])):%Y-%m-%d %H:%M:%S}",
                            *(_cell(part.values.get(h), i) for h in heads),
                        ]
                        for i in range(min(PREVIEW, len(part.time)))
                    ]
                    return {"clock": clock, "heads": heads, "rows": rows}
            break
    except Exception as refused:  # a preview that cannot be made is no reason to refuse the file
        return {"heads": [], "rows": [], "says": str(refused)}
    return {"heads": [], "rows": []}


def _cell(values: Any, i: int) -> str:
    import math

    if values is None or not math.isfinite(float(values[i])):
        return "–"
    return f"{float(values[i]):,.6g}".replace("-", "−")
