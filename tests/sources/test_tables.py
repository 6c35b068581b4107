"""A row that does not say where it comes from is not loaded."""

from __future__ import annotations

import pytest

from asfound.errors import KnowledgeError
from asfound.sources import yaml_lines
from asfound.sources.tables import check_rows, csv_rows, load_csv, package_folder

GOOD = "name,value,source\na,1,jcgm_100\nb,2,common_practice; from_memory\n"


def refused(text: str) -> KnowledgeError:
    with pytest.raises(KnowledgeError) as caught:
        csv_rows(text, file="t.csv")
    return caught.value


def test_rows_come_with_their_source():
    assert csv_rows(GOOD, file="t.csv")[1] == {"name": "b", "value": "2", "source": "common_practice; from_memory"}


def test_one_source_may_serve_the_whole_file():
    rows = csv_rows("# a remark\n# source: common_practice\nname,value\na,1\n", file="t.csv")
    assert rows == [{"name": "a", "value": "1", "source": "common_practice"}]


@pytest.mark.parametrize(
    ("text", "line", "because"),
    [
        ("name,value,source\na,1,jcgm_100\nb,2,\n", 3, "without source"),
        ("# remark\nname,value,source\na,1,jcgm_100\nb,2,hearsay\n", 4, "hearsay"),
        ("name,value,source\na,1,jcgm_100;\n", 2, "without source"),
        ("name,value\na,1\n", 1, "no column 'source'"),
        ("name,value,source\na,1\n", 2, "2 fields under 3"),
        ("", 1, "empty"),
        ('name,value,source\n"a,1,jcgm_100\n', 2, "not CSV"),
    ],
)
def test_a_wrong_row_is_refused_at_its_line(text, line, because):
    error = refused(text)
    assert error.line == line
    assert because in str(error)


def test_a_missing_column_is_named():
    with pytest.raises(KnowledgeError, match="'unit' is missing"):
        csv_rows(GOOD, file="t.csv", columns=("name", "unit"))


def test_packaged_tables_load():
    assert len(load_csv("asfound.quantities", "data/units.csv", columns=("symbol", "definition"))) > 100
    with pytest.raises(ValueError, match="no package"):
        package_folder("numpy.core")


@pytest.mark.parametrize(
    "text",
    [
        "source: common_practice\nrows: [{a: 1}, {a: 2}]\n",
        "- {a: 1, source: jcgm_100}\n- {a: 2, source: jcgm_100}\n",
        "x: {a: 1, source: jcgm_100}\ny: {a: 2, source: common_practice}\n",
        "rows: [{a: 1, source: jcgm_100}]\nothers: {x: {a: 2, source: jcgm_100}}\n",
    ],
)
def test_yaml_rows_with_source_are_taken(text):
    check_rows(yaml_lines.load(text))


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("- {a: 1, source: jcgm_100}\n- {a: 2}\n", 2),
        ("x: {a: 1, source: jcgm_100}\ny: {a: 2}\n", 2),
        ("- {a: 1, source: hearsay}\n", 1),
        ("rows:\n  - {a: 1, source: jcgm_100}\n  - {a: 2}\n", 3),
        ("x: 3\n", 1),
        ("- {a: 1, source: 3}\n", 1),
    ],
)
def test_yaml_rows_without_source_are_refused_at_their_line(text, line):
    with pytest.raises(KnowledgeError) as caught:
        check_rows(yaml_lines.load(text, file="t.yaml"))
    assert caught.value.line == line
