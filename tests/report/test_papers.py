"""The papers: standards, the same bytes each time, the record inside, nothing over the edge, nothing lost."""

from __future__ import annotations

import io
import json
import re
import shutil
import subprocess
import unicodedata
from typing import TYPE_CHECKING, Any

import pytest
from pypdf import PdfReader

from asfound.report.content_results import used_results
from asfound.report.typeset import operator_sheet, visit_report

from . import story

if TYPE_CHECKING:
    from pathlib import Path

    from asfound.records.visit import VisitView

NAMES = ("a2", "open", "empty", "hostile", "many", "shift", "shift of hostile")


def text_of(pdf: bytes) -> str:
    pages = (page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return " ".join(" ".join(pages).replace("\u200b", "").split())


@pytest.mark.parametrize("name", NAMES)
def test_says_that_it_is_archival_and_tagged(papers: dict[str, bytes], name: str) -> None:
    """XMP of PDF/A-3a (ISO 19005-3 6.6.4) and PDF/UA-1 (ISO 14289-1 5): clauses from memory."""
    reader = PdfReader(io.BytesIO(papers[name]))
    xmp = reader.trailer["/Root"]["/Metadata"].get_object().get_data().decode()  # type: ignore[index]
    assert re.search(r"pdfaid:part>?=?\"?>?3", xmp)
    assert re.search(r"pdfaid:conformance>?=?\"?>?A", xmp)
    assert re.search(r"pdfuaid:part>?=?\"?>?1", xmp)
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]  # type: ignore[index]
    assert reader.trailer["/Root"]["/Lang"] == "en"  # type: ignore[index]
    assert "StructTreeRoot" in str(reader.trailer["/Root"])


def test_same_visit_same_bytes(views: dict[str, VisitView], papers: dict[str, bytes]) -> None:
    assert visit_report(views["a2"], proof=False) == papers["a2"]
    assert operator_sheet(views["a2"]) == papers["shift"]


def test_the_record_lies_inside(papers: dict[str, bytes], views: dict[str, VisitView]) -> None:
    inside = PdfReader(io.BytesIO(papers["a2"])).attachments["record.json"][0]
    assert len(json.loads(inside)["entries"]) == len(views["a2"].entries_all)
    given = visit_report(views["a2"], record={"mine": 1}, proof=False)
    assert json.loads(PdfReader(io.BytesIO(given)).attachments["record.json"][0]) == {"mine": 1}


def test_all_faces_are_inside(papers: dict[str, bytes]) -> None:
    for page in PdfReader(io.BytesIO(papers["a2"])).pages:
        for font in page["/Resources"]["/Font"].values():  # type: ignore[index]
            below = font.get_object()["/DescendantFonts"][0].get_object()
            assert any(key.startswith("/FontFile") for key in below["/FontDescriptor"].get_object())


def test_sheet_1_states_the_outcome(papers: dict[str, bytes]) -> None:
    first = PdfReader(io.BytesIO(papers["a2"])).pages[0].extract_text()
    words = " ".join(first.split())
    for said in (
        "A2 is inside its limits again",
        "Safe to run?",
        "Inside the permit?",
        "Decide:",
        "Open points",
        "29 July 2032",
        "for the service",
        "Digest",
    ):
        assert said in words, said
    assert "sheet 1 of" in words


def test_inner_sheets_hold_everything(papers: dict[str, bytes], views: dict[str, VisitView]) -> None:
    words = text_of(papers["a2"])
    for said in (
        "Readings",
        "151 ppm",
        "Results",
        "Beside the limits",
        "How it came to be",
        "What is fitted",
        "All places",
        "Why not another",
        "Next looks",
        "Findings and the day",
        "Cautions",
        "Sources",
        "40 CFR 60.4244",
        "Limits of use",
        "M.2?..6",
        "portable analyser",
    ):
        assert said in words, said
    for pair in used_results(views["a2"]).values():
        for result in pair.values():
            assert result.method.name.split(",")[0] in words


def test_the_half_sheet_is_one_page(papers: dict[str, bytes]) -> None:
    for name in ("shift", "shift of hostile"):
        assert len(PdfReader(io.BytesIO(papers[name])).pages) == 1
    words = text_of(papers["shift"])
    for said in (
        "A2 may run on.",
        "Watch",
        "Leave alone",
        "Was done today",
        "Oxygen sensor changed (22 min).",
        "Call",
        "Oxygen, dry",
        "9.3",
    ):
        assert said in words, said


def test_an_empty_visit_says_so(papers: dict[str, bytes]) -> None:
    words = text_of(papers["empty"])
    for said in (
        "X9: nothing was recorded yet",
        "Not judged: no reading was taken",
        "No permit value is on record",
        "Not sealed",
        "No reading was taken",
    ):
        assert said in words, said


def test_hostile_texts_are_set_as_they_are(papers: dict[str, bytes]) -> None:
    words = text_of(papers["hostile"]).replace(" ", "")
    assert "#setpage(width:1cm)*bold*_it_$x^2$<label>@ref`code`//comment" in words
    assert story.HOSTILE[1] in words
    assert "[U+1F525]" in words
    assert story.HOSTILE[4] in words
    letters = set(unicodedata.normalize("NFKC", words))
    assert {"ق", "ש"} <= letters


@pytest.mark.parametrize("name", NAMES)
def test_no_word_stands_over_the_edge(papers: dict[str, bytes], name: str, tmp_path: Path) -> None:
    """Measured on the finished pages: all words lie between the margins (17 and 15 mm)."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    file = tmp_path / "one.pdf"
    file.write_bytes(papers[name])
    boxes = subprocess.run(["pdftotext", "-bbox", str(file), "-"], check=True, capture_output=True, text=True).stdout
    wide = float(re.search(r'<page width="([\d.]+)"', boxes)[1])  # type: ignore[index]
    mm = 72 / 25.4
    ends = [
        (float(a), float(b)) for a, b in re.findall(r'<word xMin="(-?[\d.]+)" yMin="[-\d.]+" xMax="([\d.]+)"', boxes)
    ]
    assert len(ends) > 20
    assert min(a for a, _ in ends) >= 17 * mm - 1
    assert max(b for _, b in ends) <= wide - 15 * mm + 1


def test_many_results_are_set(views: dict[str, VisitView], papers: dict[str, bytes]) -> None:
    """80 results and more; benchmarks/report.py has the time."""
    assert len(views["many"].worked.results) >= 80
    assert len(papers["many"]) > 0


def test_every_picture_has_its_sentence(papers: dict[str, bytes]) -> None:
    """PDF/UA-1 (ISO 14289-1 7.3, from memory): figures carry an alternative text."""
    found: list[Any] = []

    def walk(node: Any) -> None:
        node = node.get_object()
        if isinstance(node, list):
            for one in node:
                walk(one)
        elif hasattr(node, "get"):
            if node.get("/S") == "/Figure":
                found.append(node.get("/Alt"))
            if "/K" in node:
                walk(node["/K"])

    walk(PdfReader(io.BytesIO(papers["a2"])).trailer["/Root"]["/StructTreeRoot"])  # type: ignore[index]
    assert len(found) >= 8
    assert all(found)
