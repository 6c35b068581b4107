"""Documents for readers as PDF: PDF/A-3a and PDF/UA-1, the same bytes for the same record."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from asfound.language import reader
from asfound.report.marks import house_sign
from asfound.report.readers.blocks import bare
from asfound.report.readers.making import content_of
from asfound.report.typeset import typeset

if TYPE_CHECKING:
    from asfound.report.readers.making import Made

FOOT = "content {digest}"


def pdf(made: Made) -> bytes:
    """Return a document as PDF.

    Raises
    ------
    RecordError
        It cannot be set; says why.
    """
    if not reader().plain:
        made = replace(made, content=content_of(made.reader, made.ground)[1])
    if made.reader.sheet == "record":
        return _record(made)
    content = {
        **made.content,
        "signs": {"house_svg": house_sign(size=26, paper=True)},
        "fit": made.reader.sheet == "page",
        "foot": FOOT.format(digest=groups(made.digest)),
    }
    if made.reader.sheet == "half":
        return typeset("shift.typ", content | _shift(made), {})
    return typeset("reader.typ", content | {"blocks": _with_photos(made)}, {})


def groups(digest: str) -> str:
    """Return the beginning of a digest in groups of four."""
    return " ".join(digest[at : at + 4] for at in range(0, 16, 4))


def _shift(made: Made) -> dict[str, Any]:
    """Return the half sheet's four lists from the blocks of the operator."""
    titles = [one["text"] for one in made.content["blocks"] if one["kind"] == "head"]
    lists = [one["rows"] for one in made.content["blocks"] if one["kind"] == "lines"]
    return {"lists": [{"title": title, "rows": rows} for title, rows in zip(titles, lists, strict=True)]}


def _with_photos(made: Made) -> list[dict[str, Any]]:
    """Return the blocks with the bytes of each photo, as numbers; none where it cannot be shown."""
    blocks = []
    for one in made.content["blocks"]:
        if one["kind"] == "shots":
            rows = [{**shot, "picture": list(made.ground.photo(bare(shot["digest"])) or b"")} for shot in one["rows"]]
            one = {**one, "rows": rows}
        blocks.append(one)
    return blocks


def _record(made: Made) -> bytes:
    """Return the sheet of the next engineer before the full record of the visit."""
    from asfound.records.export import visit_record
    from asfound.report.typeset import visit_report

    ground = made.ground
    record = visit_record(ground.records, ground.view.id)
    return visit_report(ground.view, system=ground.system, record=record, before=made.content, full=True)
