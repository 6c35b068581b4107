"""Emission tests from files: a table (CSV, xlsx, ods) in a layout of our own, or YAML with the fields of the dict.

A table has three parts under each other. First rows of a field and its value (``rule``, ``by``, ``stack_diameter_mm``);
then a row that begins with ``gas`` and under it a row for each gas; then a row that begins with ``run`` and under it a
row for each gas of each run. Cells with several numbers: ``direct`` as ``0=0.1 100=100.4``, lists as ``51.2 50.8``.
Columns of a run that are none of the layout's are quantities of the visit, typed with their unit: ``engine_power``.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import yaml

from asfound.errors import InputError
from asfound.exhaust.test_run import EmissionTest
from asfound.exhaust.test_run_dict import TEST_FIELDS
from asfound.fuel.analysis_files import LARGEST, SPREADSHEETS, Cells, read_cells, rows_of_csv
from asfound.quantities.numerals import parse_number
from asfound.sources.yaml_plain import load_plain

GAS_NUMBERS = ("span", "zero_gas", "upscale_gas", "gas_uncertainty_percent", "limit")
GAS_LISTS = ("zero_readings", "stratification")
GAS_COLUMNS = ("gas", "method", "unit", "basis", *GAS_NUMBERS, *GAS_LISTS, "direct", "converter", "checks")
RUN_FIELDS = ("start", "end", "load_percent", "undisturbed")
RUN_COLUMNS = (
    "run", "gas", *RUN_FIELDS, "average", "zero_before", "zero_after", "upscale_before", "upscale_after", "minutes",
    "upscale_readings",
)  # fmt: skip
TEST_NUMBERS = ("stack_diameter_mm", "sample_points", "engine_hours", "peak_power_kw")


def read_test(path: Path | str, *, sheet: str | None = None) -> EmissionTest:
    """Return the emission test of a file.

    Parameters
    ----------
    path : Path or str
        ``.csv``, ``.xlsx``, ``.ods`` in the layout above; ``.yaml`` with the fields of `EmissionTest.from_dict`.
    sheet : str, optional
        Of a spreadsheet; the first when left out.

    Raises
    ------
    InputError
        The file cannot be read, a cell cannot be, or the test is incomplete; names row, column or field.
    """
    path = Path(path)
    if path.suffix.casefold() in (".yaml", ".yml"):
        if not path.is_file():
            raise InputError("file", str(path), "is not there")
        if path.stat().st_size > LARGEST:
            raise InputError("file", path.name, "is too large", allowed="up to 50 MB")
        return emission_test_of_yaml(path.read_text(encoding="utf-8-sig", errors="replace"), name=path.name)
    spreadsheet = path.suffix.casefold() in SPREADSHEETS
    return EmissionTest.from_dict(dict_of_cells(read_cells(path, sheet=sheet) if spreadsheet else _text_cells(path)))


def _text_cells(path: Path) -> Cells:
    """Return the cells of a text file; what follows the word ``gas`` at the head of its part is between them."""
    if not path.is_file():
        raise InputError("file", str(path), "is not there")
    if path.stat().st_size > LARGEST:
        raise InputError("file", path.name, "is too large", allowed="up to 50 MB")
    text = path.read_text(encoding="utf-8-sig", errors="replace")
    head = re.search(r'^\s*"?gas"?\s*([,;\t])', text, re.MULTILINE | re.IGNORECASE)
    return rows_of_csv(text, path.name, head[1] if head else ",")


def emission_test_of_yaml(text: str, *, name: str = "file") -> EmissionTest:
    """Return the emission test that YAML text holds; errors as `read_test`."""
    try:
        given = load_plain(text)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = f"line {mark.line + 1}" if mark else name
        raise InputError(
            name, line, "is not YAML there", try_next="Look at the indent and colons of this line."
        ) from error
    if not isinstance(given, dict):
        raise InputError(name, str(given)[:40], "holds no fields of a test", allowed=", ".join(TEST_FIELDS))
    return EmissionTest.from_dict(given)


def dict_of_cells(cells: Cells) -> dict[str, Any]:
    """Return the plain dict of a test from the cells of a table; see the layout above.

    Raises
    ------
    InputError
        There is no row that begins with ``gas`` or ``run``, a head is not known, or a cell is no number.
    """
    rows = [(number, [cell.strip() for cell in row]) for number, row in enumerate(cells, start=1)]
    rows = [(number, row) for number, row in rows if any(row) and not row[0].startswith("#")]
    at = {row[0].casefold(): index for index, (_, row) in reversed(list(enumerate(rows)))}
    for word in ("gas", "run"):
        if word not in at:
            raise InputError("table", "", f"has no row that begins with '{word}'", allowed="see docs/exhaust.md",
                             try_next=f"Head the part of each {word} with a row of names, '{word}' first.")  # fmt: skip
    out: dict[str, Any] = {}
    for number, row in rows[: min(at["gas"], at["run"])]:
        name, value = row[0].casefold(), row[1] if len(row) > 1 else ""
        if not name or name in out:
            raise InputError(
                f"row {number}", name or value, "stands under no name" if not name else "is named twice",
                allowed=", ".join(TEST_FIELDS[:-2]), try_next="Write the field first, its value in the next cell.",
            )  # fmt: skip
        out[name] = _number(value, f"row {number}, {name}") if name in TEST_NUMBERS and value else value
    runs = _part(rows, at, "run", None)
    out["gases"] = _gases(_part(rows, at, "gas", GAS_COLUMNS))
    out["runs"] = _runs(runs)
    return out


def _part(
    rows: list[tuple[int, list[str]]], at: dict[str, int], word: str, known: tuple[str, ...] | None
) -> list[tuple[int, dict[str, str]]]:
    """Return the rows under the head that begins with a word, by column; only cells that hold something."""
    start = at[word]
    end = min((other for other in (at["gas"], at["run"]) if other > start), default=len(rows))
    number, head = rows[start]
    names = [name.casefold() for name in head]
    for name in names:
        if name and known is not None and name not in known:
            raise InputError(f"row {number}", name, "is no column of this part", allowed=", ".join(known))
        if name and names.count(name) > 1:
            raise InputError(f"row {number}", name, "heads two columns", try_next="Leave one of them out.")
    return [
        (line, {name: cell for name, cell in zip(names, row, strict=False) if name and cell})
        for line, row in rows[start + 1 : end]
    ]


def _gases(rows: list[tuple[int, dict[str, str]]]) -> dict[str, dict[str, Any]]:
    """Return the gases of the test, each once."""
    found: dict[str, dict[str, Any]] = {}
    for number, row in rows:
        gas = row.get("gas", "").casefold()
        if not gas or gas in found:
            raise InputError(
                f"row {number}, gas", gas, "stands twice" if gas else "is missing", allowed="each gas in one row",
                try_next="Write the gas in the first cell of its row.",
            )  # fmt: skip
        found[gas] = _gas(row, number)
    return found


def _gas(row: dict[str, str], number: int) -> dict[str, Any]:
    """Return one gas of the test."""
    out: dict[str, Any] = {name: value for name, value in row.items() if name in ("method", "unit", "basis")}
    for name in GAS_NUMBERS:
        if name in row:
            out[name] = _number(row[name], f"row {number}, {name}")
    for name in GAS_LISTS:
        if name in row:
            out[name] = _list(row[name], f"row {number}, {name}")
    for name in ("direct", "converter"):
        if name in row:
            field = f"row {number}, {name}"
            pairs = [[_number(one, field) for one in pair] for pair in _pairs(row[name], field)]
            if name == "converter" and len(pairs) != 1:
                raise InputError(field, row[name], "is not one pair", allowed="50=47.1: NO2 gas, NOx read on it")
            out[name] = pairs if name == "direct" else pairs[0]
    if "checks" in row:
        out["checks"] = {
            name: _number(value, f"row {number}, checks {name}")
            for name, value in _pairs(row["checks"], f"row {number}, checks")
        }
    return out


def _runs(rows: list[tuple[int, dict[str, str]]]) -> list[dict[str, Any]]:
    """Return the runs; what is of the run as a whole may stand in any of its rows, but only one value of it."""
    runs: dict[float, dict[str, Any]] = {}
    for number, row in rows:
        if "run" not in row:
            raise InputError(f"row {number}", "", "names no run", try_next="Write the number of the run in each row.")
        key = _number(row["run"], f"row {number}, run")
        run = runs.setdefault(key, {"number": key, "readings": {}, "gases": {}})
        for name, cell in row.items():
            if name in RUN_FIELDS:
                value: Any = _number(cell, f"row {number}, {name}") if name == "load_percent" else cell
                _same(run, name, value, number)
            elif name not in RUN_COLUMNS:
                _same(run["readings"], name, cell, number)
        if "gas" in row:
            gas = row["gas"].casefold()
            if gas in run["gases"]:
                raise InputError(f"row {number}, gas", gas, f"stands twice in run {key:g}", allowed="one row each")
            run["gases"][gas] = _read(row, number)
    return list(runs.values())


def _read(row: dict[str, str], number: int) -> dict[str, Any]:
    """Return what was read of a gas in a run."""
    out: dict[str, Any] = {}
    if "average" in row:
        out["average"] = _number(row["average"], f"row {number}, average")
    for name in ("zero", "upscale"):
        both = [row.get(f"{name}_{when}") for when in ("before", "after")]
        if all(both):
            out[name] = [_number(str(one), f"row {number}, {name}") for one in both]
        elif any(both):
            raise InputError(
                f"row {number}, {name}", str(both[0] or both[1]), "stands alone",
                allowed=f"{name}_before and {name}_after", try_next="Enter both readings.",
            )  # fmt: skip
    for name in ("minutes", "upscale_readings"):
        if name in row:
            out[name] = _list(row[name], f"row {number}, {name}")
    return out


def _same(into: dict[str, Any], name: str, value: Any, number: int) -> None:
    """Put a value of the run in its place, or refuse a second one that differs."""
    if into.setdefault(name, value) != value:
        raise InputError(
            f"row {number}, {name}", str(value), f"differs from {into[name]} in another row of the same run",
            try_next="Write it in one row of the run only.",
        )  # fmt: skip


def _number(text: str, field: str) -> float:
    """Return a cell as a number; a comma alone is a decimal sign."""
    sign = "comma" if "," in text and "." not in text else "point"
    found = parse_number(text, decimal="comma" if sign == "comma" else "point", field=field).value
    if found is None:
        raise InputError(field, text, "is no number", try_next="Read it again.")
    return found


def _list(text: str, field: str) -> list[float]:
    """Return a cell with several numbers: semicolons between them, or spaces."""
    return [_number(one, field) for one in text.replace(";", " ").split()]


def _pairs(text: str, field: str) -> list[tuple[str, str]]:
    """Return a cell with several ``a=b``."""
    found = []
    for one in re.sub(r"\s*=\s*", "=", text).replace(";", " ").split():
        left, equals, right = one.partition("=")
        if not equals:
            raise InputError(field, one, "is no pair", allowed="0=0.1; 100=100.4")
        found.append((left.strip(), right.strip()))
    return found
