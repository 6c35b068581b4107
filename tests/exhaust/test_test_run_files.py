"""An emission test from a table or YAML: the same test whatever the file, and complaints with row and column."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.exhaust.test_run import GASES, EmissionTest, methods, rules_of_tests
from asfound.exhaust.test_run_dict import READ_FIELDS, RUN_FIELDS, SETUP_FIELDS, TEST_FIELDS
from asfound.exhaust.test_run_files import dict_of_cells, emission_test_of_yaml, read_test

from .emission_tests import run, three_runs

HEAD = ["run", "gas", "start", "end", "load_percent", "average", "zero_before", "zero_after", "upscale_before",
        "upscale_after", "engine_power", "fuel_heat_input"]  # fmt: skip


def cells(given: dict[str, Any]) -> list[list[str]]:
    """Return a test as the table that a person would write."""
    rows: list[list[Any]] = [["# emission test"], ["rule", given["rule"]], ["by", given["by"]]]
    rows += [[name, given[name]] for name in ("stack_diameter_mm", "sample_points", "engine_hours")]
    rows += [[], ["gas", "method", "span", "upscale_gas", "direct", "gas_uncertainty_percent", "converter"]]
    for gas, one in given["gases"].items():
        direct = "; ".join(f"{certified}={read}" for certified, read in one["direct"])
        converter = "{}={}".format(*one["converter"]) if "converter" in one else ""
        certificate = one.get("gas_uncertainty_percent", "")
        rows.append([gas, one["method"], one["span"], one["upscale_gas"], direct, certificate, converter])
    rows += [[], HEAD]
    for one in given["runs"]:
        for at, (gas, read) in enumerate(one["gases"].items()):
            whole = [one["start"], one["end"], one["load_percent"]] if at == 0 else ["", "", ""]
            others = [one["readings"]["engine_power"], one["readings"]["fuel_heat_input"]] if at == 0 else ["", ""]
            rows.append([one["number"], gas, *whole, read["average"], *read["zero"], *read["upscale"], *others])
    return [[str(cell) for cell in row] for row in rows]


def comma_file(folder: Path, table: list[list[str]], name: str = "test.csv", sign: str = ",") -> Path:
    text = io.StringIO()
    csv.writer(text, delimiter=sign).writerows(table)
    path = folder / name
    path.write_text(text.getvalue(), encoding="utf-8")
    return path


def test_a_table_and_yaml_hold_the_same_test(tmp_path: Path) -> None:
    expected = EmissionTest.from_dict(three_runs())
    assert read_test(comma_file(tmp_path, cells(three_runs()))) == expected
    path = tmp_path / "test.yaml"
    path.write_text(yaml.safe_dump(three_runs()), encoding="utf-8")
    assert read_test(path) == expected


def test_semicolons_with_decimal_commas(tmp_path: Path) -> None:
    def comma(cell: str) -> str:
        return cell.replace(".", ",") if cell.replace(".", "").isdigit() or "=" in cell else cell

    table = [[comma(cell) for cell in row] for row in cells(three_runs())]
    assert read_test(comma_file(tmp_path, table, sign=";")) == EmissionTest.from_dict(three_runs())


def test_minutes_stand_in_one_cell_and_make_the_average() -> None:
    table = cells(three_runs(runs=[run(1)]))
    head = next(row for row in table if row and row[0] == "run")
    at = table.index(head)
    head.append("minutes")
    table[at + 1] += [""] * (len(head) - 1 - len(table[at + 1])) + ["81; 82; 83"]
    table[at + 1][head.index("average")] = ""
    test = EmissionTest.from_dict(dict_of_cells(table))
    assert test.runs[0].gases["nox"].minutes == (81.0, 82.0, 83.0)
    assert test.runs[0].gases["nox"].average == pytest.approx(82.0)


def spoiled(find: str, put: str) -> list[list[str]]:
    return [[put if cell == find else cell for cell in row] for row in cells(three_runs())]


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ([["rule", "jjjj"]], "begins with 'gas'"),
        (spoiled("upscale_gas", "upscale gass"), "upscale gass"),
        (spoiled("0=0.1; 100=100.4; 200=199.3", "0, 100, 200"), "is no pair"),
        (spoiled("83.0", "eighty"), "row 17, average"),
        (spoiled("zero_after", "zero_later"), "row 14, zero"),
        (spoiled("average", "avrage"), "avrage"),
        (spoiled("co", "nox"), "row 10, gas"),
        (spoiled("by", "rule"), "named twice"),
        (spoiled("1420 kW", "1420 kg"), "engine_power"),
    ],
)
def test_a_complaint_names_row_and_column(table: list[list[str]], says: str) -> None:
    with pytest.raises(InputError) as caught:
        EmissionTest.from_dict(dict_of_cells(table))
    assert says in str(caught.value)


def test_a_run_says_one_load_only() -> None:
    table = cells(three_runs())
    second = next(at for at, row in enumerate(table) if row[:2] == ["1", "co"])
    table[second][4] = "71"
    with pytest.raises(InputError, match="differs from 98"):
        dict_of_cells(table)


@pytest.mark.parametrize("text", ["- a\n- b", "rule: [jjjj", "just words", ""])
def test_yaml_that_is_no_test(text: str) -> None:
    with pytest.raises(InputError):
        emission_test_of_yaml(text)


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="is not there"):
        read_test(tmp_path / "none.yaml")


def test_the_table_of_the_documentation_is_a_test(tmp_path: Path) -> None:
    page = (Path(__file__).parents[2] / "docs" / "exhaust.md").read_text(encoding="utf-8")
    table = page.split("### As a table")[1].split("```")[1]
    path = tmp_path / "test.csv"
    path.write_text(table, encoding="utf-8")
    test = read_test(path)
    assert test.gases["nox"].direct == ((0, 0.1), (100, 100.4), (200, 199.3))
    assert test.runs[0].gases["o2"].upscale == (9.98, 9.95)
    assert test.runs[0].readings == {"engine_power": "1420 kW"}


def test_every_field_and_method_is_in_the_documentation() -> None:
    page = (Path(__file__).parents[2] / "docs" / "exhaust.md").read_text(encoding="utf-8").split("### Fields")[1]
    for name in (*TEST_FIELDS, *SETUP_FIELDS, *RUN_FIELDS, *READ_FIELDS, *methods(), *GASES, *rules_of_tests()):
        assert name in page, name


@given(
    st.data(),
    st.text(max_size=20) | st.sampled_from(["gas", "run", "1", "nox", "=", "0=1 2", "1,5", "-", "NaN", "1e999"]),
)
def test_any_cell_may_hold_anything(data: st.DataObject, put: str) -> None:
    """A spoiled cell gives another test or a complaint, never anything else."""
    table = cells(three_runs())
    row = data.draw(st.integers(0, len(table) - 1))
    if not table[row]:
        return
    table[row][data.draw(st.integers(0, len(table[row]) - 1))] = put
    try:
        EmissionTest.from_dict(dict_of_cells(table))
    except InputError as refused:
        said = refused
    else:
        return
    assert said.field
