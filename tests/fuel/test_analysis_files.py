"""Analyses from CSV and spreadsheets; the spreadsheets are made here, by hand, as zip files."""

from __future__ import annotations

import zipfile
from pathlib import Path
from xml.sax.saxutils import escape

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError, UnknownNameError
from asfound.fuel.analysis_files import read_analysis, read_cells
from asfound.fuel.composition import composition
from asfound.fuel.gas_log import log_of, read_log
from asfound.fuel.iso6976 import properties
from asfound.quantities.numerals import missing

ONE = [["Report 4711", ""], ["Component", "Mol %"], ["Methane", 95.5], ["Ethane", 3.25], ["N2", 1.25], ["Total", 100.0]]
LOG = [
    ["time", "CH4 [mol%]", "C2H6 [mol%]", "C6+", "N2", "H2O dew point"],
    ["2032-05-01 00:00", 95.0, 3.0, 0.5, 1.5, -20.0],
    ["2032-05-01 01:00", 94.0, 4.0, 0.5, 1.5, -20.0],
    ["2032-05-01 02:00", "", 4.0, 0.5, 1.5, -20.0],
]


def xlsx(path: Path, rows: list[list[object]]) -> Path:
    """Write the least that a spreadsheet program would call xlsx."""
    cells = "".join(
        f'<row r="{r}">' + "".join(_cell(r, c, one) for c, one in enumerate(row)) + "</row>"
        for r, row in enumerate(rows, start=1)
    )
    ns = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
    rel = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    package = "http://schemas.openxmlformats.org/package/2006"
    with zipfile.ZipFile(path, "w") as file:
        file.writestr(
            "[Content_Types].xml",
            f'<Types xmlns="{package}/content-types"><Default Extension="xml" ContentType="application/xml"/></Types>',
        )
        file.writestr(
            "_rels/.rels",
            f'<Relationships xmlns="{package}/relationships"><Relationship Id="r1" Type="{rel}/officeDocument" '
            'Target="xl/workbook.xml"/></Relationships>',
        )
        file.writestr(
            "xl/workbook.xml",
            f'<workbook {ns} xmlns:r="{rel}"><sheets><sheet name="gas" sheetId="1" r:id="r1"/></sheets></workbook>',
        )
        file.writestr(
            "xl/_rels/workbook.xml.rels",
            f'<Relationships xmlns="{package}/relationships"><Relationship Id="r1" Type="{rel}/worksheet" '
            'Target="worksheets/sheet1.xml"/></Relationships>',
        )
        file.writestr("xl/worksheets/sheet1.xml", f"<worksheet {ns}><sheetData>{cells}</sheetData></worksheet>")
    return path


def _cell(row: int, column: int, one: object) -> str:
    at = f"{chr(65 + column)}{row}"
    if isinstance(one, float):
        return f'<c r="{at}"><v>{one!r}</v></c>'
    return f'<c r="{at}" t="inlineStr"><is><t>{escape(str(one))}</t></is></c>' if one else ""


def ods(path: Path, rows: list[list[object]]) -> Path:
    """Write the least that a spreadsheet program would call ods."""
    urn = "urn:oasis:names:tc:opendocument:xmlns"
    table = "".join(
        "<table:table-row>"
        + "".join(
            f'<table:table-cell office:value-type="float" office:value="{one!r}"/>'
            if isinstance(one, float)
            else f'<table:table-cell office:value-type="string"><text:p>{escape(str(one))}</text:p></table:table-cell>'
            for one in row
        )
        + "</table:table-row>"
        for row in rows
    )
    with zipfile.ZipFile(path, "w") as file:
        kind = "application/vnd.oasis.opendocument.spreadsheet"
        file.writestr("mimetype", kind)
        file.writestr(
            "META-INF/manifest.xml",
            f'<manifest:manifest xmlns:manifest="{urn}:manifest:1.0"><manifest:file-entry manifest:full-path="/" '
            f'manifest:media-type="{kind}"/></manifest:manifest>',
        )
        file.writestr(
            "content.xml",
            f'<office:document-content xmlns:office="{urn}:office:1.0" xmlns:table="{urn}:table:1.0" '
            f'xmlns:text="{urn}:text:1.0"><office:body><office:spreadsheet><table:table table:name="gas">{table}'
            "</table:table></office:spreadsheet></office:body></office:document-content>",
        )
    return path


def csv_file(path: Path, rows: list[list[object]], *, delimiter: str = ",", decimal: str = ".") -> Path:
    path.write_text(
        "\n".join(
            delimiter.join(str(one).replace(".", decimal) if isinstance(one, float) else str(one) for one in row)
            for row in rows
        ),
        encoding="utf-8",
    )
    return path


def files(folder: Path, rows: list[list[object]]) -> list[Path]:
    return [
        xlsx(folder / "gas.xlsx", rows),
        ods(folder / "gas.ods", rows),
        csv_file(folder / "gas.csv", rows),
        csv_file(folder / "gas_de.csv", rows, delimiter=";", decimal=","),
        csv_file(folder / "gas.tsv", rows, delimiter="\t"),
    ]


def test_one_analysis_from_every_kind_of_file(tmp_path):
    for path in files(tmp_path, ONE):
        report = read_analysis(path)
        assert report.composition.by_name == pytest.approx({"methane": 0.955, "ethane": 0.0325, "nitrogen": 0.0125}), (
            path
        )
        assert report.composition.source == path.name
        assert report.stated_total == pytest.approx(1.0)


def test_a_log_from_every_kind_of_file(tmp_path):
    for path in files(tmp_path, LOG):
        log = read_log(path, heavier="60/30/10")
        assert log.components == ("methane", "ethane", "n-hexane", "n-heptane", "n-octane", "nitrogen"), path
        assert log.fractions[0] == pytest.approx([0.95, 0.03, 0.003, 0.0015, 0.0005, 0.015])
        assert log.totals[:2] == pytest.approx(1.0)
        assert np.isnan(log.totals[2])  # an empty cell is missing, not zero
        assert log.rows == (2, 3, 4)
        assert log.labels[1] == "2032-05-01 01:00"
        heat = properties(log.fractions, log.components).volume_gross
        assert np.isfinite(heat).tolist() == [True, True, False]
        assert heat[1] > heat[0]


def test_a_sheet_is_chosen_by_name(tmp_path):
    path = xlsx(tmp_path / "gas.xlsx", ONE)
    assert read_cells(path, sheet="gas")[2][0] == "Methane"
    with pytest.raises(InputError, match="Allowed: gas"):
        read_cells(path, sheet="other")


def test_files_that_are_none(tmp_path):
    with pytest.raises(InputError, match="not there"):
        read_cells(tmp_path / "no.csv")
    (tmp_path / "broken.xlsx").write_bytes(b"PK not a workbook")
    with pytest.raises(InputError, match="spreadsheet"):
        read_cells(tmp_path / "broken.xlsx")
    (tmp_path / "empty.csv").write_text("\n\n")
    with pytest.raises(InputError, match="empty"):
        read_cells(tmp_path / "empty.csv")


@pytest.mark.parametrize(
    ("cells", "error", "says"),
    [
        ([["a", "b"], ["1", "2"]], InputError, "at least two components"),
        ([["CH4", "methane"], ["50", "50"]], InputError, "two columns"),
        ([["CH4", "N2"], ["95", "five and 5"]], InputError, "row 2, nitrogen"),
        ([["CH4", "N2"], ["9.5", "0.5"]], InputError, "neither"),
        ([["CH4", "N2"]], InputError, "no row with numbers"),
        ([["CH4 vol%", "N2 mass%"], ["95", "5"]], InputError, "headed"),
        ([["CH4", "C6+"], ["95", "5"]], InputError, "split is not stated"),
    ],
)
def test_a_log_that_cannot_be_read_is_named_by_row_and_column(cells, error, says):
    with pytest.raises(error, match=says):
        log_of(cells)


def test_fractions_are_seen_from_the_sum():
    log = log_of([["CH4", "N2"], ["0.95", "0.05"], ["0.9", "0.1"]])
    assert log.fractions.tolist() == [[0.95, 0.05], [0.9, 0.1]]
    assert issubclass(UnknownNameError, LookupError)


@pytest.mark.parametrize(("head", "basis"), [("vol%", "volume"), ("mass %", "mass"), ("mol%", "mole")])
def test_a_log_in_any_basis_is_what_each_gas_alone_is(head, basis):
    rows = [["95.0", "3.0", "0.5", "1.5"], ["80.0", "12.0", "2.0", "6.0"]]
    names = ("CH4", "C2H6", "C6+", "N2")
    log = log_of([[f"{name} [{head}]" for name in names], *rows], heavier="60/30/10")
    assert log.basis == basis
    for gas, row in zip(log.fractions, rows, strict=True):
        amounts = dict(
            zip(("methane", "ethane", "hexanes_plus", "nitrogen"), (float(one) / 100 for one in row), strict=True)
        )
        alone = composition(amounts, basis=basis, heavier="60/30/10")
        assert gas == pytest.approx(alone.fractions, rel=1e-12)
        assert log.components == alone.components


CELLS = st.one_of(st.sampled_from(("95", "4,5", "", "n.d.", "x", "1e999", "5 %", "-3", "--")), st.text(max_size=8))


@given(st.lists(st.tuples(CELLS, CELLS), max_size=8))
def test_every_cell_of_a_log_is_kept_empty_or_refused(rows):
    cells = [["CH4", "N2"], ["95", "5"], *(list(row) for row in rows)]
    try:
        log = log_of(cells, strict=False)
    except InputError:
        return  # the table as a whole: what its rows add up to
    taken = [row for row in rows if any(sign.isdigit() for text in row for sign in text)]
    assert len(log.rows) == 1 + len(taken)
    empty = sum(missing(text) is not None for row in taken for text in row)
    kept = int(np.isfinite(log.fractions[1:]).sum())
    assert kept + len(log.refused) + empty == 2 * len(taken)
    for one in log.refused:
        assert cells[one.row - 1][("methane", "nitrogen").index(one.component)] == one.text


@given(st.lists(st.lists(st.text(max_size=6), max_size=4), max_size=6))
def test_no_table_crashes_it(cells):
    try:
        log_of(cells)
    except InputError:
        return
