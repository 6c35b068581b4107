"""One definition for each reader, and what every document carries whoever reads it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

from asfound import __version__, language
from asfound.report.content_sources import seal
from asfound.report.readers.blocks import Document, Lack, digest_of, plain_block
from asfound.report.readers.said import count, on_day, span_words
from asfound.report.wording import day_words, plain
from asfound.sources.cautions import cautions, cautions_for

if TYPE_CHECKING:
    from asfound.records.visit import VisitView
    from asfound.report.readers.ground import Ground

DEFERS = "The permit, the rules of the site, local codes and the engine's own documents come first."
DRAFT = "The visit is not closed: this is a draft and can still change."


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """Whom a document is for, what that reader wants to know, and how it is made."""

    name: str
    """As the command and the address have it: ``site_manager``."""
    title: str
    to: str
    """How a sheet is addressed: ``the site manager``."""
    wants: str
    """What this reader asks, in few words."""
    form: str
    """What the document is: ``one page with dates``."""
    advice: str
    """What of it is advice, and who decides."""
    make: Callable[[Ground], Document]
    sheet: Literal["half", "page", "sheets", "record"] = "sheets"
    """``half``: half a sheet; ``page``: set smaller until it stands on one page; ``record``: before the full record."""
    table: str = ""
    """What its CSV holds; empty: it has none."""
    calendar: bool = False
    studies: bool = False
    """It rests on the study of an upgrade, which takes seconds where much is in doubt."""
    aloud: Callable[[Ground, Document], str] | None = None
    """Its words to be read aloud; None: the text follows the paper."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """A document as it leaves: its content as plain values, the same for paper, text and data."""

    reader: Reader
    ground: Ground
    document: Document
    content: dict[str, Any]
    digest: str
    """SHA-256 of the content: the same record gives the same."""

    @property
    def lacks(self) -> tuple[Lack, ...]:
        """What the record does not hold for this reader."""
        return self.document.lacks


def made(reader: Reader, ground: Ground) -> Made:
    """Return the document of a reader from the record of a visit; its content is English, whoever reads it."""
    with language.reading_as(replace(language.reader(), language="en", numbers="point", dates="")):
        document, content = content_of(reader, ground)
    return Made(reader=reader, ground=ground, document=document, content=content, digest=digest_of(content))


def content_of(reader: Reader, ground: Ground) -> tuple[Document, dict[str, Any]]:
    """Return what a document says, its pictures as whoever reads now reads them."""
    document = reader.make(ground)
    content: dict[str, Any] = plain(
        {
            **_heading(reader, ground),
            "headline": document.headline,
            "lead": document.lead,
            "blocks": [plain_block(one) for one in document.blocks],
            "signed": [list(one) for one in document.signed],
            "lacks": [{"what": one.what, "fill": one.fill} for one in document.lacks],
            "cautions": _cautions(document.tags),
            "states": _states(ground.view),
            "seal": seal(ground.view),
            "advice": f"{reader.advice} {DEFERS}" + ("" if ground.view.seal else f" {DRAFT}"),
            "program": f"asfound {__version__}",
        }
    )
    return document, content


def _heading(reader: Reader, ground: Ground) -> dict[str, Any]:
    view = ground.view
    engine, site = view.engine.content, view.site
    works = f"works {engine['works_number']}, " if engine.get("works_number") else ""
    year, month, day = (int(part) for part in view.visit.date.split("-"))
    where = f", {site.name}" if site else ""
    visit_line = f"{view.engine.tag}{where}, visit of {day_words(view.visit.date)}"
    return {
        "reader": reader.name,
        "for": reader.title,
        "to": reader.to,
        "wants": reader.wants,
        "title": f"For {reader.to}: {visit_line}",
        "tag": view.engine.tag,
        "name": view.visit.name,
        "owner": str(site.content.get("owner") or site.name) if site else "",
        "works": f"{works}tag {view.engine.tag}",
        "visit_line": visit_line,
        "visit_day": day_words(view.visit.date),
        "date": [year, month, day],
        "people": ", ".join(str(one) for one in view.visit.content.get("people", ())),
    }


def _states(view: VisitView) -> list[dict[str, str]]:
    """Return what stands behind the document as found and as left: how much was taken, and when."""
    told = []
    for state, word in (("as_found", "As found"), ("as_left", "As left")):
        times = sorted(one.time for one in view.readings_all if one.state == state and not one.missing)
        readings = [one for one in view.readings.values() if one.state == state and not one.missing]
        looks = len(view.looks) if state == "as_found" else 0
        parts = [count(len(readings), "reading")] if readings else []
        parts += [count(looks, "look")] if looks else []
        said = f"{' and '.join(parts)}" if parts else "nothing was taken"
        when = span_words(on_day(times[0], view.visit.date), on_day(times[-1], view.visit.date)) if times else ""
        told.append({"state": word, "says": f"{said}{f', {when}' if when else ''}"})
    told.append(
        {
            "state": "The engine",
            "says": f"was left {view.engine_state}"
            if view.readings or view.looks or view.seal
            else f"{view.engine_state}, as far as anybody said",
        }
    )
    return told


def _cautions(tags: tuple[str, ...]) -> list[dict[str, str]]:
    known = {one.tag for one in cautions().values()} | set(cautions())
    return [
        {"hazard": one.hazard, "do": ". ".join(one.do) + ".", "rests_on": one.rests_on}
        for one in cautions_for(tags=[tag for tag in dict.fromkeys(tags) if tag in known])
    ]
