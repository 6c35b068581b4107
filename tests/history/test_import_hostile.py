"""Files that mean harm, or that a broken logger wrote: a clear error or a counted refusal, bounded memory, no crash."""

from __future__ import annotations

import random
import resource
import zipfile

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.history.test_import import HEAD, log, minutes
from tests.history.workbooks import workbook

from asfound.errors import AsFoundError
from asfound.history.importing import MemorySink, import_files
from asfound.history.log_form import LogForm
from asfound.history.mapping import Mapping
from asfound.history.proposing import propose


def tried(path, **more):
    """Import a file; return the report, or the error that was said."""
    try:
        report = import_files([path], MemorySink(), source="x", **({"zone": "UTC", "order": "ymd"} | more))
    except AsFoundError as error:
        return error
    assert report.adds_up
    return report


@pytest.fixture(scope="module")
def form(tmp_path_factory):
    return propose(log(tmp_path_factory.mktemp("form") / "a.csv", minutes(30)), zone="UTC").form


def test_runs_of_zeros_cost_their_own_line(tmp_path, form):
    path = log(tmp_path / "a.csv", minutes(60))
    lines = path.read_bytes().split(b"\n")
    lines[20] = b"\0" * 5000 + lines[20]
    path.write_bytes(b"\n".join(lines))
    report = tried(path)
    assert (report.kept, report.refused) == (59, 1)
    assert [one.why for one in report.refusals] == ["bytes of zero"]


@pytest.mark.parametrize("size", [200_000, 5_000_000, 40_000_000])
def test_a_field_that_does_not_end(tmp_path, form, size):
    path = log(tmp_path / "a.csv", [*minutes(30), "x" * size, *minutes(30, 30)])
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    report = tried(path, form=form, mapping=Mapping())
    assert (report.kept, report.refused) == (60, 1)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 200_000  # kB
    assert [one.line for one in report.refusals] == [32]


def test_a_quotation_mark_that_swallows_the_rest(tmp_path, form):
    report = tried(log(tmp_path / "a.csv", [*minutes(30), '2024-10-27 00:30:00;"900;60.5;RUN', *minutes(400, 31)]))
    assert (report.kept, report.refused) == (430, 1)


def test_ten_thousand_columns(tmp_path):
    head = "Time," + ",".join(f"c{n}" for n in range(10_000)) + "\n"
    rows = [f"2024-10-27 00:{m:02d}," + ",".join("1.5" for _ in range(10_000)) for m in range(20)]
    path = log(tmp_path / "a.csv", rows, head)
    report = tried(path, mapping=Mapping(), form=LogForm.from_dict(
        {"order": "ymd", "zone": "UTC", "first_row": 2, "header_line": 1,
         "columns": [{"head": "Time", "role": "time"}, *({"head": f"c{n}"} for n in range(10_000))]}))  # fmt: skip
    assert report.kept == 20
    assert len(report.channels) == 10_000
    tried(log(tmp_path / "b.csv", rows[:3], head[:5000] + "\n"))


def test_a_workbook_that_unpacks_without_end(tmp_path, monkeypatch):
    monkeypatch.setattr("asfound.history.tables_in.LARGEST", 4 << 20)  # the real limit would take long to write
    path = workbook(tmp_path / "bomb.xlsx", [], "<worksheet>" + " " * (8 << 20) + "</worksheet>")
    assert path.stat().st_size < 20_000
    error = tried(path)
    assert "when unpacked" in str(error)


def test_a_workbook_with_two_cells_a_world_apart(tmp_path):
    sheet = (
        '<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
        '<row r="1"><c r="A1"><v>1</v></c></row><row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'
        "</sheetData></worksheet>"
    )
    error = tried(workbook(tmp_path / "a.xlsx", [], sheet))
    assert "row 1048576, column 16384" in str(error)


def test_an_opendocument_sheet_that_repeats_itself(tmp_path):
    path = tmp_path / "a.ods"
    content = (
        '<office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
        'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0"><office:body><office:spreadsheet>'
        '<table:table table:name="a"><table:table-row table:number-rows-repeated="1000000">'
        '<table:table-cell office:value-type="float" office:value="1" table:number-columns-repeated="16000"/>'
        "</table:table-row></table:table></office:spreadsheet></office:body></office:document-content>"
    )
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        book.writestr("content.xml", content)
    assert "at most" in str(tried(path))


@pytest.mark.parametrize("name", ["a.xlsx", "a.csv", "a.parquet", "a.ods", "a.csv.gz"])
@pytest.mark.parametrize("start", [b"", b"PK\x03\x04", b"PAR1", b"\x1f\x8b\x08", b"\xff\xfe", b"\xef\xbb\xbf"])
def test_rubbish_under_any_name(tmp_path, name, start):
    draw = random.Random(name + repr(start))
    path = tmp_path / name
    path.write_bytes(start + draw.randbytes(20_000))
    assert isinstance(tried(path), AsFoundError)


def test_a_packed_file_that_breaks_off(tmp_path):
    import gzip

    path = tmp_path / "a.csv.gz"
    path.write_bytes(gzip.compress((HEAD + "\n".join(minutes(600))).encode())[:-400])
    assert isinstance(tried(path), AsFoundError)


def test_empty_files(tmp_path):
    for text in ("", "\n", "\n\n\n", HEAD, "a", "\ufeff"):
        path = tmp_path / "a.csv"
        path.write_text(text)
        assert isinstance(tried(path), AsFoundError)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150)
@given(data=st.binary(max_size=3000))
def test_any_bytes_below_a_head(tmp_path, form, data):
    path = tmp_path / "a.csv"
    path.write_bytes(HEAD.encode() + "\n".join(minutes(3, 900)).encode() + b"\n" + data)
    report = tried(path, form=form, mapping=Mapping())
    assert not isinstance(report, AsFoundError)
    assert report.kept >= 3


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=100)
@given(data=st.one_of(st.binary(max_size=600), st.text("0123456789.,;:- \t\n\"'ABCäT/", max_size=600).map(str.encode)))
def test_any_bytes_at_all(tmp_path, data):
    path = tmp_path / "a.csv"
    path.write_bytes(data)
    tried(path)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=60)
@given(seed=st.integers(0, 10**6), hits=st.integers(1, 30))
def test_a_log_with_bytes_overwritten(tmp_path, seed, hits):
    draw = random.Random(seed)
    path = log(tmp_path / "a.csv", minutes(200))
    data = bytearray(path.read_bytes())
    for _ in range(hits):
        data[draw.randrange(len(data))] = draw.randrange(256)
    path.write_bytes(bytes(data))
    tried(path)
