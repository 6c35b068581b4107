"""Papers on A4 and on US letter: the sheet is the one asked for, and nothing that is said stands beyond its margins."""

from __future__ import annotations

import io
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from pypdf import PageObject, PdfReader

from asfound.language import PAPERS, Reader, reading_as
from asfound.records.demo import make_demo_home
from asfound.records.store import Records
from asfound.records.upgrade_of_engine import upgrade_of
from asfound.records.upkeep_of_engine import upkeep_of
from asfound.records.visit import view
from asfound.report.readers import document, readers
from asfound.report.readers.paper import pdf
from asfound.report.typeset import manager_sheet, stop_sheets, visit_report

MM = 72 / 25.4
SIZES = {"a4": (210 * MM, 297 * MM), "letter": (8.5 * 72, 11 * 72)}
"""ISO 216:2007, A4: 210 mm by 297 mm; ANSI/ASME Y14.1, size A: 8.5 in by 11 in (from memory). [pt]"""
HALVES = {"a4": (210 * MM, 148 * MM), "letter": (8.5 * 72, 5.5 * 72)}
LEFT, RIGHT, BOTTOM = 17 * MM, 15 * MM, 5 * MM
SLACK = 2.0
"""A sign may stand so far outside its line. [pt]"""


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Records]:
    home: Path = tmp_path_factory.mktemp("sizes") / "home"
    make_demo_home(home)
    with Records.open(home) as opened:
        yield opened


def size(page: PageObject) -> tuple[float, float]:
    return float(page.mediabox.width), float(page.mediabox.height)


def begins(page: PageObject) -> list[tuple[float, float]]:
    """Return where the texts of a sheet begin, from its lower left. [pt]"""
    found: list[tuple[float, float]] = []

    def seen(text: str, cm: list[float], tm: list[float], *_rest: object) -> None:
        if text.strip():
            x, y = tm[4], tm[5]
            found.append((cm[0] * x + cm[2] * y + cm[4], cm[1] * x + cm[3] * y + cm[5]))

    page.extract_text(visitor_text=seen)
    return found


def papers(records: Records) -> Iterator[tuple[str, bytes]]:
    """Set every kind of paper for the reader in force."""
    seen = view(records, records.visit("A2/2032-07-08").id)
    engine = records.engine("D1")
    yield "report", visit_report(seen, proof=False, full=False)
    for name in readers():
        if readers()[name].sheet != "record":  # the report once more, with a sheet before it
            yield name, pdf(document(records, seen, name))
    yield "due", stop_sheets(upkeep_of(records, engine), engine)
    engine = records.engine("A1")
    yield "upgrade", manager_sheet(upgrade_of(records, engine), engine, date(2032, 7, 8))


@pytest.mark.parametrize("paper", PAPERS)
def test_every_paper_is_set_on_the_sheet_that_was_asked_for(records: Records, paper: str) -> None:
    with reading_as(Reader(paper=paper)):
        made = dict(papers(records))
    for name, content in made.items():
        pages = PdfReader(io.BytesIO(content)).pages
        width, height = (HALVES if name == "operator" else SIZES)[paper]
        for page in pages:
            assert size(page) == pytest.approx((width, height), abs=0.1), name
            places = begins(page)
            assert places, f"{name}: an empty sheet"
            assert min(x for x, _ in places) >= LEFT - SLACK, name
            assert max(x for x, _ in places) <= width - RIGHT + SLACK, name
            assert min(y for _, y in places) >= BOTTOM, name
            assert max(y for _, y in places) <= height - BOTTOM, name
    one_sheet = ("operator", "site_manager", "upgrade", "accountant", "office")
    assert {name: len(PdfReader(io.BytesIO(made[name])).pages) for name in one_sheet} == dict.fromkeys(one_sheet, 1)


def test_the_words_do_not_depend_on_the_sheet(records: Records) -> None:
    seen = view(records, records.visit("A2/2032-07-08").id)
    made = document(records, seen, "planning")
    said = []
    for paper in PAPERS:
        with reading_as(Reader(paper=paper)):
            text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf(made))).pages)
        said.append({word for word in text.split() if len(word) > 3})
    assert said[0] == said[1]
