"""Papers as PDF: the record of a visit, and half a sheet for the shift. PDF/A-3a and PDF/UA-1, same bytes each time."""

from __future__ import annotations

import json
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from asfound.errors import RecordError
from asfound.language import reader, told
from asfound.language.catalogues import messages
from asfound.language.sheets import translated
from asfound.report.wording import System, clean, unbroken, written_out

if TYPE_CHECKING:
    from datetime import date

    from asfound.records.things import EngineRecord
    from asfound.records.upgrade_of_engine import UpgradeOfEngine
    from asfound.records.visit import VisitView
    from asfound.upkeep.engine_due import EngineDue

STANDARDS: Any = ["a-3a", "ua-1"]
TEMPLATES = (
    "parts.typ",
    "rooms.typ",
    "cylinders.typ",
    "crosscheck.typ",
    "trouble.typ",
    "whatif.typ",
    "visit.typ",
    "shift.typ",
    "due.typ",
    "history.typ",
    "stops.typ",
    "manager.typ",
    "readers.typ",
    "reader.typ",
)


SHEETS = {"a4": "a4", "letter": "us-letter"}
"""What the typesetter calls the sheets of `language.PAPERS`."""
AS_WRITTEN = frozenset({"who", "people", "typed", "statement", "owner", "digest", "notes", "addenda"})
"""Keys whose text a person wrote, or that names somebody or something: the same in every language."""
CODES = frozenset({"paper", "kind", "arrow", "weight", "step", "severity", "sheet", "reader"})
"""Keys whose text a template decides by."""


def visit_report(
    view: VisitView,
    *,
    system: System | None = None,
    record: Mapping[str, Any] | bytes | None = None,
    proof: bool = True,
    full: bool = True,
    before: Mapping[str, Any] | None = None,
) -> bytes:
    """Return the report of a visit as PDF.

    Parameters
    ----------
    view : VisitView
    system : {'si', 'us'}, optional
        Units of the reader; those of the site when None.
    record : mapping or bytes, optional
        The record as JSON that lies inside the PDF (``records.export.visit_record``); the standing entries when None.
    proof : bool
        With the published values recomputed: some seconds the first time in a process, nothing after.
    full : bool
        The full record: every result, trail, look and weight. Without it what the pages lead with: some twelve sheets.
    before : mapping, optional
        Content of a reader's document (`report.readers`) that stands behind the first sheet.

    Raises
    ------
    RecordError
        The sheets cannot be set; says why.
    """
    from asfound.report.content import report_content

    content = report_content(view, system=system, proof=proof, full=full)
    inside = record if isinstance(record, bytes) else _json(record if record is not None else _entries(view))
    content |= {"title": f"Record of a visit, {content['visit_line']}", "attach": True}
    content |= {"full": full, "before": before}
    return typeset("visit.typ", content, {"record.json": inside})


def operator_sheet(view: VisitView, *, system: System | None = None) -> bytes:
    """Return the half sheet for the shift as PDF: safe or not, watch, leave alone, was done, call."""
    from asfound.report.readers import document
    from asfound.report.readers.paper import pdf

    return pdf(document(None, view, "operator", system=system))


def stop_sheets(due: EngineDue, engine: EngineRecord) -> bytes:
    """Return the due list and the stop plan of an engine as PDF."""
    from asfound.report.content_due_paper import due_content

    return typeset("stops.typ", due_content(due, engine), {})


def manager_sheet(found: UpgradeOfEngine, engine: EngineRecord, day: date) -> bytes:
    """Return the page for the manager as PDF: targets, the way, what it is worth, every assumption."""
    from asfound.report.content_upgrade_paper import manager_content

    return typeset("manager.typ", manager_content(found, engine, day), {})


def typeset(template: str, content: Mapping[str, Any], attached: Mapping[str, bytes]) -> bytes:
    """Return a PDF from a template of this room and its content.

    Parameters
    ----------
    template : str
        ``visit.typ`` or ``shift.typ``.
    content : mapping
        JSON-ready.
    attached : mapping
        Files that the template puts inside, by name.
    """
    import typst

    year, month, day = content["date"]
    who = reader()
    content = {**content, "paper": SHEETS[who.paper]}
    language = "" if who.plain else who.language
    if language:
        content = _told(content)
    # files by name, all in memory: the typesetter takes them, though its type hints do not say so
    sources: Any = {
        "main.typ": _template(template, language),
        **{n: _template(n, language) for n in TEMPLATES},
        "content.json": _json(content),
        **attached,
    }

    def pdf() -> bytes:
        return bytes(
            typst.compile(
                sources, format="pdf", pdf_standards=STANDARDS, ignore_system_fonts=True, font_paths=[_fonts()],
                timestamp=_seconds(year, month, day),
            )
        )  # fmt: skip

    try:
        try:
            return pdf()
        except BaseException as fault:
            if type(fault).__name__ != "PanicException":  # raised by the typesetter on some rare sequences of signs
                raise
            sources["content.json"] = _json(written_out(content))
            return pdf()
    except typst.TypstError as refused:
        raise RecordError(
            f"The sheets of this visit cannot be set: {refused}. The record is not touched; hand it over as JSON."
        ) from refused


def _fonts() -> str:
    return str(files("asfound.report").joinpath("fonts"))


def _told(value: Any, key: str = "") -> Any:
    """Return content as the reader reads it; what was told may be hyphenated, what was not may break as before."""
    if isinstance(value, Mapping):
        left = AS_WRITTEN | CODES | ({"state"} if key in {"now", "then"} else set())
        return {k: v if k in left else _told(v, k) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [_told(one, key) for one in value]
    if not isinstance(value, str) or key.endswith("svg"):
        return value
    whole = unbroken(value)
    said = told(whole)
    return value if said == whole else clean(said)


@cache
def _template(name: str, language: str = "") -> bytes:
    """Return a template; in another language with its own words replaced and its language set for the typesetter."""
    source = files("asfound.report").joinpath(f"typst/{name}").read_bytes()
    return translated(source.decode(), messages(language).get, language=language).encode() if language else source


def _json(content: Mapping[str, Any]) -> bytes:
    return json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":")).encode()


def _entries(view: VisitView) -> dict[str, Any]:
    return {"visit": view.id, "name": view.visit.name, "entries": [one.as_dict() for one in view.entries_all]}


def _seconds(year: int, month: int, day: int) -> int:
    """Return noon of the visit's day as seconds since 1970: the date in the file must not depend on when it is made."""
    from datetime import UTC, datetime

    return int(datetime(year, month, day, 12, tzinfo=UTC).timestamp())
