"""The demo logs as files: cells, damage where the truth says, dialects, papers; the same bytes again."""

from __future__ import annotations

import csv
import hashlib
import json
import zipfile

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.history.demo import generate, write_demo_logs
from asfound.history.demo.calendar import moment
from asfound.history.demo.cells import numbers, put, times


@given(st.lists(st.floats(-9e5, 9e5) | st.just(float("nan")), min_size=1, max_size=30), st.integers(0, 4))
def test_cells_write_what_python_would(values, decimals):
    cells = numbers(np.array(values), decimals, missing="-9999")
    for value, cell in zip(values, cells, strict=True):
        text = bytes(cell[cell != 0]).decode()
        if np.isnan(value):
            assert text == "-9999"
        else:
            assert float(text) == pytest.approx(value, abs=0.5001 * 10.0**-decimals, rel=1e-12)
            assert len(text.partition(".")[2]) == decimals


def test_cells_of_times_and_words_put_in():
    cells = times(np.array([moment(48, 190, 13.5), moment(47, 1)]), "M/D/Y h:m:s P")
    assert [bytes(row).decode() for row in cells] == ["07/08/2032 01:30:00 PM", "01/01/2031 12:00:00 AM"]
    changed = put(numbers(np.array([1.5, 2.5]), 1), np.array([1]), "overflow")
    assert [bytes(row[row != 0]).decode() for row in changed] == ["1.5", "overflow"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("logs")
    write_demo_logs(made, engines=("A3", "N1", "D2"))
    return made


def test_the_files_are_the_same_bytes_again(folder, tmp_path):
    write_demo_logs(tmp_path, engines=("A3", "N1", "D2"))
    first, second = (
        {p.relative_to(top): hashlib.sha256(p.read_bytes()).hexdigest() for p in top.rglob("*") if p.is_file()}
        for top in (folder, tmp_path)
    )
    assert first == second


def test_damage_is_where_the_truth_says(folder):
    truth = json.loads((folder / "truth.json").read_text())
    assert len(truth["planted"]) > 60
    for one in (file for file in truth["files"] if file["form"] == "csv"):
        separator = "\t" if one["engine"] == "A3" else ";"
        lines = (folder / "logs" / one["engine"] / one["file"]).read_bytes().decode("latin-1").splitlines()
        fields = {len(line.split(separator)) for line in lines[2:]}
        assert fields <= {3, len(one["columns"]) + 1}
        extra = sum(hurt["what"] in ("row repeated", "head repeated") for hurt in one["damage"])
        assert len(lines) - one["rows"] - extra in (1, 2, 4)  # head, units, preamble
        for hurt in one["damage"]:
            line = lines[hurt["line"] - 1]
            if hurt["what"] == "row repeated":
                assert line == lines[hurt["line"] - 2]
            elif hurt["what"].startswith("'"):
                word = hurt["what"].split("'")[1]
                assert word in line or any(
                    h["what"] == "cut short" and h["line"] == hurt["line"] for h in one["damage"]
                )


def test_a_head_with_a_comma_is_quoted(tmp_path):
    write_demo_logs(tmp_path, engines=("A1",))
    path = sorted((tmp_path / "logs" / "A1").iterdir())[0]
    with path.open(newline="", encoding="utf-8") as file:
        rows = csv.reader(file)
        head, first = next(rows), next(rows)
    assert len(head) == len(first)
    assert "Fuel Flow [scfh (60 F, 14.73 psia)]" in head


def test_n1_changes_names_and_writes_local_time_with_daylight_saving(folder):
    files = sorted((folder / "logs" / "N1").iterdir())
    old, new = files[0].read_bytes().decode("latin-1"), files[-1].read_text()
    assert "Ladedruck L;" in old.splitlines()[2]
    assert "PI-30L" in new.splitlines()[0]
    spring = next(file for file in files if "20310101" in file.name).read_bytes().decode("latin-1")
    assert "30.03.2031 01:50:00" in spring
    assert "30.03.2031 02:00:00" not in spring


def test_a3_writes_a_clock_that_is_72_minutes_fast(folder):
    first = sorted((folder / "logs" / "A3").iterdir())[0].read_text().splitlines()[1]
    assert first.startswith("2031-01-01T01:12:00Z")


def test_the_spreadsheet_opens_in_an_independent_reader(folder):
    calamine = pytest.importorskip("python_calamine")
    path = sorted((folder / "logs" / "D2").iterdir())[0]
    with zipfile.ZipFile(path) as file:
        assert file.testzip() is None
    rows = calamine.load_workbook(str(path)).get_sheet_by_index(0).to_python()
    one = generate("D2")
    head = rows[2]
    at = head.index("t_oil [°C]")
    assert rows[4][0].isoformat() == "2031-01-01T00:10:00"
    assert rows[3][at] == pytest.approx(one.channels.values["oil_temperature@engine"][0] - 273.15, abs=0.051)


def test_papers_speak_three_languages_and_half_the_codes_are_missing(tmp_path):
    write_demo_logs(tmp_path, engines=("A1", "N2", "D1"))
    with (tmp_path / "papers" / "work_orders.csv").open(newline="") as file:
        orders = list(csv.DictReader(file))
    assert {row["language"] for row in orders} == {"en", "de", "es"}
    story = [row for row in orders if row["failure code"]]
    assert 0.1 < len(story) / len(orders) < 0.7
    with (tmp_path / "papers" / "portable_analyser.csv").open(newline="") as file:
        readings = list(csv.DictReader(file))
    assert {row["basis"] for row in readings} >= {"", "dry"}
    with (tmp_path / "papers" / "oil_samples.csv").open(newline="") as file:
        oil = [
            float(r["acid number mg KOH/g"]) - float(r["acid number new"])
            for r in csv.DictReader(file)
            if r["engine"] == "D1"
        ]
    assert max(oil) > 3.0  # 40 CFR 63.6625(j): more than 3.0 mg KOH/g over new oil is condemned
