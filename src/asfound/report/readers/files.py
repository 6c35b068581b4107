"""What a reader's document leaves as: names of forms, their content, their kind for a browser."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.errors import InputError
from asfound.report.readers.blocks import bare

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.report.readers.making import Made, Reader


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """One form in which a document leaves."""

    name: str
    ending: str
    media_type: str


FORMS: Mapping[str, Form] = {
    one.name: one
    for one in (
        Form(name="pdf", ending=".pdf", media_type="application/pdf"),
        Form(name="text", ending=".txt", media_type="text/plain; charset=utf-8"),
        Form(name="csv", ending=".csv", media_type="text/csv; charset=utf-8"),
        Form(name="json", ending=".json", media_type="application/json"),
        Form(name="calendar", ending=".ics", media_type="text/calendar; charset=utf-8"),
    )
}


def forms_of(reader: Reader) -> tuple[Form, ...]:
    """Return the forms that a reader's document has."""
    there = {"pdf", "text", "json", *(("csv",) if reader.table else ()), *(("calendar",) if reader.calendar else ())}
    return tuple(form for name, form in FORMS.items() if name in there)


def write(made: Made, form: str) -> bytes:
    """Return a document in one of its forms.

    Raises
    ------
    InputError
        This reader's document has no such form; names those it has.
    """
    if form not in {one.name for one in forms_of(made.reader)}:
        allowed = ", ".join(one.name for one in forms_of(made.reader))
        raise InputError("form", form, f"is no form of the document for {made.reader.title.lower()}", allowed=allowed)
    if form == "pdf":
        from asfound.report.readers.paper import pdf

        return pdf(made)
    if form == "text":
        from asfound.report.readers.words_of import text

        return text(made).encode()
    if form == "csv":
        return csv(made).encode("utf-8-sig")
    if form == "calendar":
        return calendar(made)
    return (json.dumps(data(made), ensure_ascii=False, indent=1, default=str) + "\n").encode()


def csv(made: Made) -> str:
    """Return the table of a document; without a row where the record has none."""
    from asfound.records.tables_csv import table

    given = made.document.data
    return table(given.columns, given.rows) if given is not None else table(("nothing on record",), ())


def calendar(made: Made) -> bytes:
    """Return tasks and stops as a calendar (RFC 5545); the same identifiers in every export of one record."""
    from asfound.report.due_files import due_calendar

    view = made.ground.view
    number, moment = made.ground.written
    return due_calendar([(view.engine.id, view.due, number, moment)])


def data(made: Made) -> dict[str, Any]:
    """Return a document as plain data: its words, its table, what it lacks, and its digest."""
    given = made.document.data
    rows = [dict(zip(given.columns, row, strict=True)) for row in given.rows] if given is not None else []
    content = {name: value for name, value in made.content.items() if name != "blocks"}
    blocks = [{name: value for name, value in one.items() if name != "svg"} for one in made.content["blocks"]]
    whole: dict[str, Any] = bare({**content, "blocks": blocks, "rows": rows, "facts": dict(made.document.facts),
                  "content_sha256": made.digest})  # fmt: skip
    return whole
