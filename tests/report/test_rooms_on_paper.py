"""Fuel gas, load and exhaust on the sheets: what is there stands there, what is not is not, nothing overflows."""

from __future__ import annotations

import io
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import yaml
from pypdf import PdfReader

from asfound.exhaust.limits import adopt
from asfound.exhaust.limits_table import rules
from asfound.records.demo import make_demo_home
from asfound.records.emission_tests import bring_in, read_content
from asfound.records.store import Records
from asfound.records.visit import VisitView, view
from asfound.report.content import report_content
from asfound.report.content_results import used_results
from asfound.report.typeset import visit_report

from . import story
from .boxes import cut, overlaps

VISITS = ("A2/2032-07-08", "A3/2032-03-15", "D1/2032-06-20", "N1/2032-02-12")
TAGS = (*(name[:2] for name in VISITS), "T")
RULE = "us.jjjj.lean_500_1350.2010.nox.g"


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Records]:
    folder = tmp_path_factory.mktemp("paper") / "demo"
    make_demo_home(folder)
    with Records.open(folder) as opened:
        yield opened


@pytest.fixture(scope="module")
def views(records: Records) -> dict[str, VisitView]:
    """Return the visits by tag; ``T`` is A2 with a formal test in which a run drifted, and a general rule on record."""
    found = {name[:2]: view(records, name) for name in VISITS}
    written = yaml.safe_dump(story.formal_test()).encode()
    test = read_content(written, "test.yaml")
    bring_in(records, found["A2"], test, content=written, filename="test.yaml", who="T", source="test crew")
    rule = next(one for one in rules() if one.id == RULE)
    records.append("limit", adopt(rule), engine=found["A2"].engine.id, who="T")
    return found | {"T": view(records, VISITS[0])}


@pytest.fixture(scope="module")
def contents(views: dict[str, VisitView]) -> dict[str, dict[str, Any]]:
    return {name: report_content(one, proof=False) for name, one in views.items()}


@pytest.fixture(scope="module")
def papers(views: dict[str, VisitView]) -> dict[str, bytes]:
    return {name: visit_report(one, proof=False) for name, one in views.items()}


def text_of(pdf: bytes) -> str:
    pages = (page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return " ".join(" ".join(pages).replace("\u200b", "").split())


def pictures(value: Any) -> Iterator[str]:
    if isinstance(value, dict):
        for key, one in value.items():
            if key.endswith("svg") and one:
                yield one
            else:
                yield from pictures(one)
    elif isinstance(value, list):
        for one in value:
            yield from pictures(one)


def test_all_of_a_full_visit_stands_on_its_sheets(papers: dict[str, bytes]) -> None:
    words = text_of(papers["A2"])
    for said in (
        "What burns",
        "The analysis adds up to",
        "Does anything drop out in the line?",
        "build needs 70",
        "From the plate to the site rating, and the load carried",
        "Where the heat of the fuel goes",
        "Efficiency beside published figures",
        "Against the permit",
        "The limit of the permit at hand is the one used",
        "What settles it best",
        "general rule, not your permit",
        "Mixture that meets the permit 1.0 g/hp-h",
        "Before anything is turned.",
        "Methods beside each other",
        "Does not agree: Site rating",
        "Since the visit of 8 April 2032",
        "that it went up",
        "Assumed, because nobody read it",
    ):
        assert said in words, said


def test_a_visit_with_little_stays_short(papers: dict[str, bytes], contents: dict[str, dict[str, Any]]) -> None:
    words = text_of(papers["N1"])
    for absent in ("What burns", "Where the heat of the fuel goes", "Converted, before to after", "Since the visit of"):
        assert absent not in words
    assert not contents["N1"]["rooms"].get("fuel", {}).get("shown")
    assert len(PdfReader(io.BytesIO(papers["N1"])).pages) < len(PdfReader(io.BytesIO(papers["A2"])).pages)


def test_a_catalyst_is_drawn_where_both_sides_were_read(papers: dict[str, bytes]) -> None:
    words = text_of(papers["D1"])
    assert "Converted, before to after, in per cent" in words
    assert "Temperature rise across it" in words
    assert "the rise is the one that belongs to what was converted" in words


def test_a_formal_test_names_the_run_and_the_clause(papers: dict[str, bytes], contents: dict[str, Any]) -> None:
    """The drift of run 2 is over 3 % of span: Method 7E, section 8.5 (from memory, as the program says)."""
    words = text_of(papers["T"])
    for said in ("Test of 2 May 2032 by test crew", "The test is not complete", "invalid:", "Not kept", "60.4244(c)"):
        assert said in words, said
    test = contents["T"]["rooms"]["exhaust"]["tests"][0]
    nox = next(row for row in test["rows"] if row["gas"] == "NOx")
    assert [bool(why) for _, why in nox["values"]] == [False, True, False]


def test_single_runs_are_no_line_of_sheet_1(contents: dict[str, Any]) -> None:
    ledger = contents["T"]["ledger"]
    assert "run" not in " ".join(f"{row['name']} {row['note']}" for row in ledger).split()
    assert not [one for one in contents["T"]["limits"] if "run " in one["name"]]


def test_a_general_rule_says_that_it_is_no_permit_and_how_it_was_seen(contents: dict[str, Any]) -> None:
    rule = next(one for one in contents["T"]["limits"] if one["general"])
    assert "general rule, not your permit" in rule["limit"]
    assert "Subpart JJJJ, Table 1" in rule["text"]
    assert "The text was read" in rule["text"]
    permit = [one for one in contents["T"]["limits"] if not one["general"]]
    assert permit
    assert all("permit of A2" in one["text"] for one in permit)


@pytest.mark.parametrize("name", TAGS)
def test_every_result_in_use_stands_once(
    name: str, views: dict[str, VisitView], contents: dict[str, dict[str, Any]]
) -> None:
    content = contents[name]
    tables = [table for room in content["rooms"].values() for table in room["tables"]] + content["results"]
    rows = [(row["name"], row["where"]) for table in tables for row in table["rows"]]
    alike = sum(len(part["head"]) for table in content["results"] for one in table["alike"] for part in one["parts"])
    assert len(rows) == len(set(rows))
    assert len(rows) + alike == len(used_results(views[name]))


@pytest.mark.parametrize("name", TAGS)
def test_no_picture_of_the_rooms_is_cut_or_crowded(name: str, contents: dict[str, dict[str, Any]]) -> None:
    found = list(pictures(contents[name]["rooms"]))
    assert found
    for one in found:
        assert overlaps(one) == []
        assert cut(one) == []


@pytest.mark.parametrize("name", TAGS)
def test_no_word_stands_over_the_edge_or_alone_at_the_foot(
    name: str, papers: dict[str, bytes], contents: dict[str, dict[str, Any]], tmp_path: Path
) -> None:
    """All words between the margins (17 and 15 mm); no chapter's heading is the last line above the footer."""
    if shutil.which("pdftotext") is None:
        pytest.skip("pdftotext is not installed")
    file = tmp_path / "one.pdf"
    file.write_bytes(papers[name])
    boxes = subprocess.run(["pdftotext", "-bbox", str(file), "-"], check=True, capture_output=True, text=True).stdout
    mm = 72 / 25.4
    ends = [
        (float(a), float(b)) for a, b in re.findall(r'<word xMin="(-?[\d.]+)" yMin="[-\d.]+" xMax="([\d.]+)"', boxes)
    ]
    assert min(a for a, _ in ends) >= 17 * mm - 1
    assert max(b for _, b in ends) <= (210 - 15) * mm + 1
    titles = {room["title"] for room in contents[name]["rooms"].values()}
    titles |= {"Results", "Readings", "Methods beside each other", "Against the permit", "The mixture", "Catalyst"}
    for page in PdfReader(io.BytesIO(papers[name])).pages:
        lines = [line.strip() for line in page.extract_text().splitlines() if line.strip()]
        body = [line for line in lines if "Bars hold the true value" not in line and not line.startswith("sheet ")]
        assert body[-1] not in titles


@pytest.mark.parametrize("name", TAGS)
def test_pictures_are_figures_with_a_sentence(name: str, papers: dict[str, bytes]) -> None:
    """PDF/UA-1 (ISO 14289-1 7.3, from memory): figures carry an alternative text."""
    root = PdfReader(io.BytesIO(papers[name])).trailer["/Root"]["/StructTreeRoot"]  # type: ignore[index]
    found: list[Any] = []
    kinds: set[str] = set()

    def walk(node: Any) -> None:
        node = node.get_object()
        if isinstance(node, list):
            for one in node:
                walk(one)
        elif hasattr(node, "get"):
            kinds.add(str(node.get("/S")))
            if node.get("/S") == "/Figure":
                found.append(node.get("/Alt"))
            if "/K" in node:
                walk(node["/K"])

    walk(root)
    assert all(found)
    assert {"/H1", "/H2", "/Table", "/TH", "/TD"} <= kinds


def test_what_gave_no_answer_is_said_in_words(contents: dict[str, dict[str, Any]]) -> None:
    """Neither keys nor names of the register stand on a sheet."""
    for content in contents.values():
        assert not [one for one in content["no_answer"] if re.search(r"as_(found|left)/|[a-z]_[a-z]", one)]


def test_an_engine_without_any_limit_says_that_nothing_is_judged(views: dict[str, VisitView]) -> None:
    bare = replace(views["N1"], limits=(), limit_states=())
    said = report_content(bare, proof=False)["rooms"]["exhaust"]["general"]["says"]
    assert said == "No limit of a permit is on the record: nothing is judged."
