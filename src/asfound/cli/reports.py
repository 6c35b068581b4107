"""`asfound report`: the report of a visit, and the document of each of its readers."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from cyclopts import Parameter

from asfound.cli.answer import answer, harmless, working
from asfound.cli.find import opened, view_of, visit_of
from asfound.cli.handover import free, write
from asfound.cli.options import Home, Paper
from asfound.errors import InputError

if TYPE_CHECKING:
    from contextlib import AbstractContextManager

    from asfound.records.store import Records
    from asfound.records.things import VisitRecord
    from asfound.records.visit import VisitView
    from asfound.report.readers.making import Made

FormName = Literal["pdf", "text", "csv", "json", "calendar"]


def report(
    visit: str,
    /,
    *,
    for_: Annotated[str, Parameter(name="--for")] = "",
    readers: bool = False,
    pdf: bool = False,
    text: bool = False,
    csv: bool = False,
    data: bool = False,
    calendar: bool = False,
    output: Path | None = None,
    shift: bool = False,
    full: bool = False,
    units: Literal["site", "si", "us"] = "site",
    language: Literal["home", "en", "de", "es"] = "home",
    paper: Paper = "home",
    replace: bool = False,
    where: Home = Home(),
) -> None:
    """Write the report of a visit as PDF, or the document of one of its readers.

    asfound report A2

    asfound report A2 --readers                       who there is a document for, and what it lacks

    asfound report A2 --for operator --text           to be read aloud

    asfound report A2 --for compliance --csv --output a2.csv

    Parameters
    ----------
    visit
        Tag of the engine, tag/date, or beginning of the visit's identifier.
    for_
        Reader: operator, site_manager, compliance, reliability, parts, planning, engineering, office, next_engineer,
        accountant.
    readers
        List the readers with the form of their document and what this record does not hold for them.
    pdf
        The reader's document as PDF; so it is without another form.
    text
        As text, to standard output where no --output is given.
    csv
        Its table.
    data
        Its words, table and digest as JSON.
    calendar
        Its calendar (planning).
    output
        File to write; without it, a name made from tag and date in this folder.
    shift
        The half page for the operator on shift: the same as --for operator.
    full
        The full record with every result, trail, look and weight, not the twelve sheets that are read.
    units
        Units of its results: site (as the people there use), si, us.
    language
        Of PDF, text and calendar: that of the home, or en, de, es. Tables and JSON are English.
    paper
        Sheet of the PDF: that of the home, or a4, letter.
    replace
        Write over a file that is there.
    """
    records = opened(where)
    system = None if units == "site" else units
    if readers:
        _list(where, records, view_of(records, visit))
        return
    name = "operator" if shift and not for_ else for_
    forms: list[FormName] = [form for form, wanted in _wanted(pdf, text, csv, data, calendar) if wanted]
    if not name:
        if forms and forms != ["pdf"]:
            raise InputError("for", "", "is missing", try_next="Say whom it is for: --for operator. See --readers.")
        with _speaking(records, language, paper):
            _whole(where, records, visit_of(records, visit), output, system, full=full, replace=replace)
        return
    if len(forms) > 1:
        raise InputError("form", " ".join(forms), "is more than one", try_next="Ask for one at a time.")
    from asfound.report.readers import document

    with _speaking(records, language, paper):
        seen = view_of(records, visit)
        made = document(records, seen, name, system=system)
        _write(where, seen, made, forms[0] if forms else "pdf", output, replace=replace)


def _speaking(records: Records, language: str, paper: str) -> AbstractContextManager[None]:
    from asfound.cli.speaking import reader_of_home
    from asfound.language import reading_as

    return reading_as(reader_of_home(records, language, paper))


def _wanted(pdf: bool, text: bool, csv: bool, data: bool, calendar: bool) -> tuple[tuple[FormName, bool], ...]:
    return (("pdf", pdf), ("text", text), ("csv", csv), ("json", data), ("calendar", calendar))


def _whole(
    where: Home, records: Records, visit: VisitRecord, output: Path | None, system: Any, *, full: bool, replace: bool
) -> None:
    from asfound.report.kept_paper import report_of

    file = output or Path(f"{visit.name.replace('/', '-')}.pdf")
    free(file, replace)
    with working("Typesetting"):
        content = report_of(records, visit, system=system, full=full)
    _written(where, visit.name, file, content)


def _write(where: Home, seen: VisitView, made: Made, form: FormName, output: Path | None, *, replace: bool) -> None:
    """Write one form of a document; text and tables go to standard output where no file is named."""
    from asfound.report.readers.files import FORMS
    from asfound.report.readers.files import write as content_of

    name = seen.visit.name.replace("/", "-")
    if output is None and form in ("text", "csv", "json"):
        said = content_of(made, form).decode("utf-8-sig")
        said = harmless(said.replace("\r\n", "\n")) if sys.stdout.isatty() else said
        print(said, end="" if said.endswith("\n") else "\n")
        return
    named = "shift" if made.reader.name == "operator" and form == "pdf" else made.reader.name.replace("_", "-")
    file = output or Path(f"{name}-{named}{FORMS[form].ending}")
    free(file, replace)
    with working("Typesetting"):
        content = content_of(made, form)
    _written(where, seen.visit.name, file, content, made)


def _written(where: Home, visit: str, file: Path, content: bytes, made: Made | None = None) -> None:
    write(file, content)
    data: dict[str, Any] = {"file": str(file), "bytes": len(content), "visit": visit}
    lines = [f"Written: {file}, {len(content):,} bytes"]
    if made is not None:
        data |= {"for": made.reader.name, "content_sha256": made.digest, "lacks": [one.what for one in made.lacks]}
        lines += [f"Not in this record: {one.what}" for one in made.lacks]
    answer(where, data, lambda: lines)


def _list(where: Home, records: Records, seen: VisitView) -> None:
    from asfound.report.readers import document, readers
    from asfound.report.readers.files import forms_of

    rows = [
        {
            "for": one.name,
            "title": one.title,
            "wants": one.wants,
            "form": one.form,
            "forms": [form.name for form in forms_of(one)],
            "lacks": [lack.what for lack in document(records, seen, one.name).lacks],
        }
        for one in readers().values()
    ]

    def lines() -> list[str]:
        told = []
        for one in rows:
            told += [f"{one['for']}: {one['form']} ({', '.join(one['forms'])})"]
            told += [f"    not in this record: {lack}" for lack in one["lacks"]]
        return told

    answer(where, rows, lines)
