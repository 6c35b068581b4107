"""Dirty logs as they come, and the law over all of them: kept + refused + duplicates + conflicts = read."""

from __future__ import annotations

import gzip
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.history.workbooks import Serial, workbook

from asfound.errors import AmbiguousError
from asfound.history.channels import Channels
from asfound.history.importing import MemorySink, import_files
from asfound.history.mapping import ColumnIs, Mapping
from asfound.history.proposing import propose

HEAD = "Time;Speed [rpm];Oil press [psig];State\n"


def log(path: Path, rows: list[str], head: str = HEAD, encoding: str = "utf-8", end: str = "\n") -> Path:
    path.write_bytes((head + "".join(row + "\n" for row in rows)).replace("\n", end).encode(encoding))
    return path


def minutes(count: int, start: int = 0, day: int = 27) -> list[str]:
    return [f"2024-10-{day} {(start + m) // 60:02d}:{(start + m) % 60:02d}:00;{900 + m % 7};{60 + m % 5}.5;RUN"
            for m in range(count)]  # fmt: skip


def read(paths, **given):
    sink = MemorySink()
    report = import_files(paths if isinstance(paths, list) else [paths], sink, source="x",
                          **({"zone": "UTC"} | given))  # fmt: skip
    assert report.adds_up
    return report, sink.rows()


@pytest.mark.parametrize(
    "encoding", ["utf-8", "utf-8-sig", "windows-1252", "utf-16", "utf-16-le", "utf-16-be", "utf-32"]
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_encodings_and_line_ends(tmp_path, encoding, end):
    if end == "\r" and encoding.startswith(("utf-16", "utf-32")):
        pytest.skip("no such log is known")
    head = "Zeit;Drehzahl [1/min];Öldruck [psig];Zustand\n"
    rows = [row.replace("RUN", "läuft") for row in minutes(50)]
    report, found = read(log(tmp_path / "a.csv", rows, head, encoding, end))
    assert report.kept == 50
    assert set(report.words["raw:Zustand@engine"]) == {"läuft"}
    np.testing.assert_allclose(found.values["engine_speed@engine"][0], 900 * np.pi / 30)
    assert "oil_pressure@engine" in found.values


@pytest.mark.parametrize("delimiter", [";", ",", "\t", "|"])
@pytest.mark.parametrize("quoted", [True, False])
def test_separators_and_quotes(tmp_path, delimiter, quoted):
    mark = '"' if quoted else ""
    rows = [delimiter.join(f"{mark}{field}{mark}" for field in row.split(";")) for row in minutes(30)]
    head = HEAD.replace(";", delimiter)
    report, _ = read(log(tmp_path / "a.csv", rows, head))
    assert (report.kept, report.refused) == (30, 0)


def test_packed_log(tmp_path):
    path = tmp_path / "a.csv.gz"
    path.write_bytes(gzip.compress((HEAD + "\n".join(minutes(30)) + "\n").encode()))
    assert read(path)[0].kept == 30


def test_quoted_fields_over_lines_and_marks_in_notes(tmp_path):
    head = "Time,Speed [rpm],Note\n"
    rows = ['2024-10-27 00:00,900,"two lines,', 'one note"', '2024-10-27 00:01,901,5" pipe and 6" pipe',
            '2024-10-27 00:02,902,"never closed', "2024-10-27 00:03,903,", '2024-10-27 00:04,904,"he said ""stop"""',
            *[f"2024-10-27 00:{m:02d},905," for m in range(5, 60)]]  # fmt: skip
    report, found = read(log(tmp_path / "a.csv", rows, head))
    notes = [text for text in found.texts["raw:Note@engine"].array() if text]
    assert notes == ["two lines,\none note", '5" pipe and 6" pipe', 'he said "stop"']
    assert [(one.line, one.why) for one in report.refusals] == [(5, "quotation mark not closed")]
    assert report.kept == 59


def test_fixed_width(tmp_path):
    rows = [f"27.10.2024 00:{m:02d}:00 {900 + m:6d}  {60 + m / 10:5.1f}  RUN " for m in range(59)]
    rows[7] = rows[7][:30] + "  " + rows[7][30:]
    head = "Date       Time       Speed  OilP   State\n"
    report, found = read(log(tmp_path / "a.txt", rows, head))
    assert report.kept == 58
    assert report.refused == 1
    assert int(found.time[1] - found.time[0]) == 60_000_000


def test_date_and_clock_and_offset_in_columns(tmp_path):
    rows = [f"27.10.2024,{h:02d}:00:00,+02:00,{900 + h}" for h in range(24)]
    report, found = read(log(tmp_path / "a.csv", rows, "Date,Time,Offset,Speed [rpm]\n"), zone="")
    assert report.kept == 24
    assert int(found.time[0]) == 1729980000_000000  # 2024-10-26 22:00 UTC


def test_decimal_comma_and_thousands(tmp_path):
    rows = [f"27.10.2024 00:{m:02d};1.2{m:02d},5;0,9" for m in range(40)]
    _, found = read(log(tmp_path / "a.csv", rows, "Zeit;Leistung [kW];cos phi\n"))
    np.testing.assert_allclose(found.values["engine_power@engine"][3], 1203.5e3)


def test_what_a_file_does_not_decide_is_asked(tmp_path):
    path = log(tmp_path / "a.csv", [f"03/04/2024 10:{m:02d},9{m:02d}" for m in range(30)], "Time,Speed [rpm]\n")
    with pytest.raises(AmbiguousError, match="no part of a date is above 12") as asked:
        read(path)
    assert set(asked.value.choices) == {"dmy", "mdy"}
    with pytest.raises(AmbiguousError, match="where its clock stood"):
        read(path, zone="", order="mdy")
    assert read(path, order="mdy")[0].kept == 30


def test_columns_renamed_in_mid_file_after_a_change_of_the_panel(tmp_path):
    later = ["Timestamp;RPM [rpm];P oil [bar g];Mode;Load [%]",
             *[f"2024-10-28 00:{m:02d}:00;{900 + m};4.{m:02d};ON;75" for m in range(30)]]  # fmt: skip
    report, found = read(log(tmp_path / "a.csv", [*minutes(30), *later]))
    assert report.kept == 60
    assert [(one.line, one.why) for one in report.refusals] == [(32, "new header")]
    assert len(found) == 60
    mapping = Mapping(columns=tuple(
        ColumnIs(head=head, unit=unit, quantity=name) for head, unit, name in (
            ("Speed", "rpm", "engine_speed"), ("RPM", "rpm", "engine_speed"),
            ("Oil press", "psig", "oil_pressure"), ("P oil", "bar g", "oil_pressure"), ("Load", "%", "engine_load"),
        )))  # fmt: skip
    _, found = read(tmp_path / "a.csv", mapping=mapping)
    assert np.isfinite(found.values["engine_speed@engine"]).all()
    assert np.isfinite(found.values["oil_pressure@engine"]).all()
    assert np.isnan(found.values["engine_load@engine"][:30]).all()


def test_a_header_and_its_units_again_in_mid_file(tmp_path):
    report, _ = read(log(tmp_path / "a.csv", [*minutes(10), HEAD.strip(), *minutes(10, 10)]))
    assert report.kept == 20
    assert [one.why for one in report.refusals] == ["repeated header"]


def test_files_that_overlap(tmp_path):
    first, second = log(tmp_path / "a.csv", minutes(60)), log(tmp_path / "b.csv", minutes(60, 30))
    changed = second.read_text().splitlines()
    changed[5] = changed[5].replace(";RUN", ";STOP")
    second.write_text("\n".join(changed) + "\n")
    report, found = read([first, second])
    assert (report.read, report.kept, report.duplicates, report.conflicts) == (120, 60 + 30 - 0, 0, 30)  # speeds differ
    assert len(found) == 90


def test_the_same_rows_in_two_files_are_duplicates(tmp_path):
    rows = minutes(90)
    report, found = read([log(tmp_path / "a.csv", rows[:60]), log(tmp_path / "b.csv", rows[30:])])
    assert (report.kept, report.duplicates, report.conflicts) == (90, 30, 0)
    np.testing.assert_array_equal(np.diff(found.time), 60_000_000)


def test_spreadsheets(tmp_path):
    rows = [["Log of engine 3"], ["Time", "Speed", "Oil press", "State"], ["", "rpm", "psig", ""]]
    rows += [[Serial(45592 + m / 1440), 900 + m, 60.5 if m != 7 else "fault", "RUN"] for m in range(50)]
    report, found = read(workbook(tmp_path / "a.xlsx", rows))
    assert report.kept == 50
    assert [(one.line, one.column, one.text) for one in report.refusals] == [(11, "Oil press", "fault")]
    np.testing.assert_array_equal(np.diff(found.time), 60_000_000)
    assert int(found.time[0]) == 1729987200_000000
    np.testing.assert_allclose(found.values["engine_speed@engine"][2], 902 * np.pi / 30)


def test_parquet(tmp_path):
    import duckdb

    path = tmp_path / "a.parquet"
    duckdb.sql(
        f"COPY (SELECT TIMESTAMP '2024-10-27 01:30:00' + INTERVAL (i) MINUTE AS time, 900.0 + i AS \"Speed [rpm]\", "
        f"CASE WHEN i = 3 THEN NULL ELSE 'RUN' END AS state FROM range(60) t(i)) TO '{path}' (FORMAT parquet)"
    )
    report, _ = read(path, zone="Europe/Berlin")
    assert report.kept == 60
    assert report.words["raw:state@engine"] == {"RUN": 59}
    assert "passed once" in report.notes[-1]


# --- laws

JUNK = st.text(st.characters(codec="utf-8", exclude_characters="\r\n"), max_size=30)
ROW = st.one_of(
    st.tuples(st.integers(0, 59), st.integers(0, 99)).map(lambda p: f"2024-10-27 00:{p[0]:02d}:00;{p[1]};60.5;RUN"),
    st.tuples(st.integers(0, 99), JUNK).map(lambda p: f"2024-10-27 00:{p[0]:02d}:00;{p[1]};;"),
    JUNK,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=150)
@given(rows=st.lists(ROW, max_size=40))
def test_kept_and_refused_are_all_that_was_read(tmp_path, rows):
    path = log(tmp_path / "law.csv", [*minutes(5, 600), *rows])
    form = propose(log(tmp_path / "form.csv", minutes(20)), zone="UTC").form
    report, found = read(path, form=form, mapping=Mapping())
    assert report.kept == len(found)
    per_row = [one for one in report.refusals if one.kind != "cell"]
    assert len(per_row) == report.refused + report.duplicates + report.conflicts
    lines = path.read_bytes().count(b"\n")
    joined = sum(row.count('"') for row in rows)  # a quoted field may run over several lines
    assert report.read + report.blank <= lines - 1
    assert joined or report.read + report.blank == lines - 1
    assert all(1 < one.line <= lines for one in report.refusals)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=40)
@given(rows=st.lists(ROW, max_size=30), cut=st.integers(0, 30))
def test_parting_a_log_into_two_files_changes_nothing(tmp_path, rows, cut):
    rows = [row for row in rows if '"' not in row]
    form = propose(log(tmp_path / "form.csv", minutes(20)), zone="UTC").form
    one, whole = read(log(tmp_path / "w.csv", [*minutes(3, 600), *rows]), form=form, mapping=Mapping())
    cut = min(cut, len(rows))
    parts = [log(tmp_path / "p.csv", [*minutes(3, 600), *rows[:cut]]), log(tmp_path / "q.csv", rows[cut:])]
    two, parted = read(parts, form=form, mapping=Mapping())
    assert (one.read, one.kept, one.duplicates, one.conflicts) == (two.read, two.kept, two.duplicates, two.conflicts)
    assert same(whole, parted)


def same(one: Channels, other: Channels) -> bool:
    return bool(np.array_equal(one.time, other.time)) and all(
        np.array_equal(one.values[name], other.values[name], equal_nan=True) for name in one.values
    )


def test_units_cannot_change_a_result(tmp_path):
    psi = [f"2024-10-27 00:{m:02d}:00;{900 + m};{(40 + m) * 14.503773773020923:.10f}" for m in range(50)]
    bar = [f"2024-10-27 00:{m:02d}:00;{(900 + m) * np.pi / 30:.12f};{40 + m}" for m in range(50)]
    one = Mapping(columns=(ColumnIs(head="n", unit="rpm", quantity="engine_speed"),
                           ColumnIs(head="p", unit="psig", quantity="fuel_pressure")))  # fmt: skip
    other = Mapping(columns=(ColumnIs(head="n", unit="rad/s", quantity="engine_speed"),
                             ColumnIs(head="p", unit="bar g", quantity="fuel_pressure")))  # fmt: skip
    _, first = read(log(tmp_path / "a.csv", psi, "Time;n;p\n"), mapping=one)
    _, second = read(log(tmp_path / "b.csv", bar, "Time;n;p\n"), mapping=other)
    for name, column in first.values.items():
        np.testing.assert_allclose(second.values[name], column, rtol=1e-9)
