"""Tables of a visit by columns and as DataFrames, and what a notebook shows of results and beliefs."""

from __future__ import annotations

import csv
import io
import subprocess
import sys
from html.parser import HTMLParser

import pytest

from asfound.errors import AsFoundError, UnknownNameError
from asfound.quantities.columns import frame as frame_of
from asfound.quantities.notebook import finding_html, html_table
from asfound.quantities.words import Finding
from asfound.records.demo import make_demo_home
from asfound.records.frames import TABLES, columns, frame
from asfound.records.store import Records
from asfound.records.tables_csv import TABLES as CSV
from asfound.records.visit import view

HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(1)>"


@pytest.fixture(scope="module")
def seen(tmp_path_factory):
    folder = tmp_path_factory.mktemp("frames") / "home"
    make_demo_home(folder)
    with Records.open(folder) as opened:
        yield view(opened, "A2/2032-07-08")


class Tags(HTMLParser):
    """Collects what stands in a piece of a page."""

    def __init__(self, text):
        super().__init__()
        self.found, self.attributes, self.open = set(), set(), []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.found.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def plain(text):
    tags = Tags(text)
    assert tags.open == []
    assert tags.found <= {"table", "caption", "thead", "tbody", "tr", "th", "td", "p"}
    assert tags.attributes <= {"scope"}


@pytest.mark.parametrize("table", TABLES)
def test_columns_are_of_one_length(seen, table):
    found = columns(seen, table)
    assert len({len(one) for one in found.values()}) == 1


@pytest.mark.parametrize("table", ["readings", "results", "looks", "differences", "trouble"])
def test_columns_and_csv_say_the_same(seen, table):
    rows = list(csv.reader(io.StringIO(CSV[table](seen), newline="")))
    found = columns(seen, table)
    assert rows[0] == list(found)
    assert len(rows) - 1 == len(found[rows[0][0]])


def test_numbers_stay_numbers(seen):
    found = columns(seen, "results")
    at = {one.key + one.worksheet: one.value for one in seen.worked.results}
    for state, place, name, value, sheet in zip(
        *(found[key] for key in ("state", "place", "quantity", "value_si", "worksheet")), strict=True
    ):
        assert value == pytest.approx(at[f"{state}/{place}/{name}{sheet}"], nan_ok=True)
    assert found == seen.worked.columns()


def test_a_dataframe_holds_the_columns(seen):
    pd = pytest.importorskip("pandas")
    made = frame(seen, "results")
    assert isinstance(made, pd.DataFrame)
    assert list(made.columns) == list(columns(seen, "results"))
    assert made["value_si"].dtype == float
    assert len(seen.worked.frame()) == len(made)
    assert len(seen.due.frame()) == len(seen.due.tasks)


def test_without_pandas_it_is_said(monkeypatch):
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(AsFoundError, match="pandas is not installed"):
        frame_of({"a": [1]})


def test_pandas_is_not_loaded_by_its_side():
    code = "import asfound.records.frames, asfound.records.visit, sys; sys.exit('pandas' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def test_an_unknown_table_is_refused(seen):
    with pytest.raises(UnknownNameError, match="results"):
        columns(seen, "result")


def test_a_notebook_shows_plain_tables(seen):
    shown = [seen.worked, seen.worked.results[0], seen.identification, seen.trouble, seen.due, seen.findings[0]]
    for one in shown:
        text = one._repr_html_()
        plain(text)
        assert len(text) < 60_000
    assert "NOx at reference oxygen" in seen.worked._repr_html_()


def test_hostile_words_are_text():
    plain(html_table((HOSTILE,), [(HOSTILE,)], title=HOSTILE))
    one = Finding(code=HOSTILE, subject="x", says=HOSTILE, severity="note", next_step=HOSTILE, cautions=(HOSTILE,))
    plain(finding_html(one))
    assert "&lt;script&gt;" in finding_html(one)
