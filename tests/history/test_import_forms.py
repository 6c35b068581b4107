"""Forms in which logs come that were found by trying to break the import: each was misread or refused once."""

from __future__ import annotations

import zipfile
from pathlib import Path

import numpy as np
import pytest

from asfound.errors import InputError
from asfound.history.importing import MemorySink, import_files
from asfound.history.proposing import propose
from asfound.history.zones import ToUTC

START = np.datetime64("2024-03-13T06:00:00")


def taken(path: Path, text: str, **told: str) -> tuple[MemorySink, object]:
    path.write_text(text, encoding="utf-8")
    proposal = propose(path, zone="UTC", **told)
    sink = MemorySink()
    report = import_files([path], sink, form=proposal.form, mapping=proposal.mapping_for_import())
    assert report.adds_up
    return sink, report


def clock(row: int) -> str:
    return str(START + np.timedelta64(row, "m")).replace("T", " ")


def german(row: int) -> str:
    text = clock(row)
    return f"{text[8:10]}.{text[5:7]}.{text[:4]} {text[11:]}"


def test_a_mark_of_thousands_that_is_the_separator_too_stands_in_quotation_marks(tmp_path: Path) -> None:
    rows = "".join(f'{clock(row)},"1,{400 + row}.5",85.0\n' for row in range(60))
    sink, _ = taken(tmp_path / "a.csv", "Time,Engine power (kW),Jacket water out (°C)\n" + rows)
    assert sink.rows().values["engine_power@engine"].tolist() == [1e3 * (1400.5 + row) for row in range(60)]


def test_quoted_thousands_without_a_decimal_are_asked(tmp_path: Path) -> None:
    rows = "".join(f'{clock(row)},"1,{400 + row}",85\n' for row in range(60))
    path = tmp_path / "a.csv"
    path.write_text("Time,Engine power (kW),Jacket water out (°C)\n" + rows, encoding="utf-8")
    assert "decimal" in [one.field for one in propose(path, zone="UTC").questions]


@pytest.mark.parametrize("blank", ["\xa0", "\u202f", " ", "'"])
def test_thousands_parted_by_any_blank(tmp_path: Path, blank: str) -> None:
    rows = "".join(f"{german(row)};1{blank}{400 + row},5;85,1\n" for row in range(60))
    sink, report = taken(tmp_path / "a.csv", "Zeit;Leistung [kW];Kühlwasser Austritt [°C]\n" + rows)
    assert report.cells_refused == 0  # type: ignore[attr-defined]
    assert sink.rows().values["engine_power@engine"].tolist() == [1e3 * (1400.5 + row) for row in range(60)]


def test_a_column_of_row_numbers_without_a_name_hides_no_head(tmp_path: Path) -> None:
    rows = "".join(f"{row};{german(row)};{1400 + row};4.1\n" for row in range(60))
    sink, _ = taken(tmp_path / "a.csv", "#;Time;Power [kW];Oil Press [bar]\n" + rows)
    assert "raw:column 1@engine" in sink.rows().values
    assert sink.rows().values["engine_power@engine"][5] == 1405e3


def test_a_basic_iso_time_is_year_month_day(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_text("Time,Power [kW]\n" + "".join(f"20240301T06{row:02d}00,{row}\n" for row in range(60)))
    proposal = propose(path, zone="UTC")
    assert (proposal.form.order, proposal.questions) == ("ymd", ())


def test_heads_that_do_not_stand_over_their_columns(tmp_path: Path) -> None:
    rows = "".join(f"{clock(row)} {1400 + row} {4.1 + row / 100:.2f}\n" for row in range(60))
    path = tmp_path / "a.txt"
    path.write_text("Date Time Power OilPress\n" + rows)
    assert propose(path, zone="UTC").form.heads == ("Date", "Time", "Power", "OilPress")


def test_one_reading_a_row_is_told_not_spoiled(tmp_path: Path) -> None:
    tags = (("POWER", 1400, "kW"), ("JW_OUT", 85, "°C"), ("OIL_P", 4, "bar"))
    rows = "".join(
        f"{german(row)};{tag};{value + row / 10:.1f};{unit}\n" for row in range(60) for tag, value, unit in tags
    )
    path = tmp_path / "a.csv"
    path.write_text("Timestamp;Tag;Value;Unit\n" + rows, encoding="utf-8")
    with pytest.raises(InputError, match=r"one reading in a row.*Tag.*POWER"):
        propose(path, zone="UTC")


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/Chicago", "Australia/Lord_Howe"])
def test_the_newest_row_first_gives_the_same_times(zone: str) -> None:
    start = np.datetime64("2024-01-01T00:00").astype("datetime64[us]").astype(np.int64)
    utc = start + np.arange(0, 366 * 48) * 1_800_000_000
    from zoneinfo import ZoneInfo

    from asfound.history.zones import offset_at

    ZoneInfo(zone)
    wall = utc + np.array([offset_at(zone, int(at)) for at in utc])
    forwards, missing = ToUTC(zone, 1800.0)(wall)
    backwards, missing_too = ToUTC(zone, 1800.0)(wall[::-1])
    np.testing.assert_array_equal(forwards, utc)
    np.testing.assert_array_equal(backwards[::-1], utc)
    assert not missing.any()
    assert not missing_too.any()


def minutes(first: int, count: int, swapped: bool = False) -> str:
    head = "Time,Oil Press [bar],Power [kW]\n" if swapped else "Time,Power [kW],Oil Press [bar]\n"
    cells = ((clock(row), str(1400 + row), f"{4 + row % 3 / 10:.1f}") for row in range(first, first + count))
    return head + "".join(
        f"{when},{oil},{power}\n" if swapped else f"{when},{power},{oil}\n" for when, power, oil in cells
    )


@pytest.mark.parametrize("preamble", ["", "Export;of the panel\nSerial;4711\n" + 8 * "a line\n"])
def test_a_form_is_not_forced_on_a_file_with_other_heads(tmp_path: Path, preamble: str) -> None:
    one, two = tmp_path / "one.csv", tmp_path / "two.csv"
    one.write_text(preamble + minutes(0, 80))
    two.write_text(preamble + minutes(60, 60, swapped=True))
    proposal = propose(one, zone="UTC")
    sink = MemorySink()
    report = import_files([one, two], sink, form=proposal.form, mapping=proposal.mapping_for_import())
    assert (report.kept, report.duplicates, report.conflicts) == (120, 20, 0)
    assert sink.rows().values["engine_power@engine"].tolist() == [1e3 * (1400 + row) for row in range(120)]
    assert any("two.csv: has other heads" in note for note in report.notes)
    again = import_files([one], MemorySink(), form=proposal.form, mapping=proposal.mapping_for_import())
    assert again.notes == []


def packed(path: Path, **files: str) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as into:
        for name, text in files.items():
            into.writestr(name.replace("__", "."), text)
    return path


def test_a_zip_of_one_log_is_read(tmp_path: Path) -> None:
    path = packed(tmp_path / "log.zip", log__csv=minutes(0, 3000))
    with zipfile.ZipFile(path, "a") as into:
        into.writestr("__MACOSX/._log.csv", "what a copy leaves")
    sink = MemorySink()
    report = import_files([path], sink, zone="UTC")
    assert (report.read, report.kept) == (3000, 3000)
    assert sink.rows().values["engine_power@engine"][2999] == 4399e3


@pytest.mark.parametrize(
    ("files", "says"),
    [
        ({"a__csv": "x", "b__csv": "y"}, "holds a.csv, b.csv"),
        ({"a__parquet": "x"}, "holds a.parquet"),
        ({}, "holds nothing"),
    ],
)
def test_a_zip_of_anything_else_is_told(tmp_path: Path, files: dict[str, str], says: str) -> None:
    path = packed(tmp_path / "log.zip", **files)
    with pytest.raises(InputError, match=says):
        propose(path, zone="UTC")


def test_a_zip_that_is_damaged_is_told(tmp_path: Path) -> None:
    whole = packed(tmp_path / "log.zip", log__csv=minutes(0, 3000)).read_bytes()
    for at in (40, len(whole) // 2, len(whole) - 30):
        (tmp_path / "broken.zip").write_bytes(whole[:at] + bytes(8) + whole[at + 8 :])
        with pytest.raises(InputError):
            import_files([tmp_path / "broken.zip"], MemorySink(), zone="UTC")


def test_a_first_row_without_values_is_a_row_and_hides_no_head(tmp_path: Path) -> None:
    rows = "".join(f"{clock(row)};{'' if row < 3 else 1400 + row};{'n/a' if row < 3 else 4}\n" for row in range(60))
    sink, report = taken(tmp_path / "a.csv", "Time;Power;Oil pressure\n;kW;bar\n" + rows)
    assert (report.read, report.kept, report.cells_refused) == (60, 60, 3)  # type: ignore[attr-defined]
    assert np.isnan(sink.rows().values["engine_power@engine"][:3]).all()
    assert sink.rows().values["engine_power@engine"][3] == 1403e3


def test_notes_that_go_over_lines_in_every_row(tmp_path: Path) -> None:
    rows = "".join(f'"{german(row)}";"{1400 + row},5";"said ""so""; and\nmore"\n' for row in range(60))
    sink, report = taken(tmp_path / "a.csv", '"Time";"Power [kW]";"Note"\n' + rows)
    assert (report.read, report.kept) == (60, 60)  # type: ignore[attr-defined]
    assert sink.rows().texts["raw:Note@engine"].text(7) == 'said "so"; and\nmore'


def test_words_of_two_parts_under_one_head(tmp_path: Path) -> None:
    head = "Date       Time       Power    OilP   State\n                        kW     bar\n"
    rows = "".join(
        f"{clock(row)} {1400.5 + row:9.1f} {4.1:7.1f} {'RUN' if row % 2 else 'STOP LOCAL':<10}\n" for row in range(60)
    )
    sink, report = taken(tmp_path / "a.txt", head + rows)
    assert report.kept == 60  # type: ignore[attr-defined]
    assert sink.rows().texts["raw:State@engine"].array()[:2] == ["STOP LOCAL", "RUN"]


@pytest.mark.parametrize(
    ("columns", "order"),
    [
        ("epoch_ms(TIMESTAMP '2024-03-13 06:00:00' + to_minutes(i)) AS ts", "epoch_ms"),
        ("epoch(TIMESTAMP '2024-03-13 06:00:00' + to_minutes(i)) AS logged", "epoch_s"),
        ("DATE '2024-03-13' AS day, TIME '06:00:00' + to_minutes(i) AS clock", "ymd"),
        ("strftime(TIMESTAMP '2024-03-13 06:00:00' + to_minutes(i), '%d.%m.%Y %H:%M') AS Zeit", "dmy"),
        ("strftime(TIMESTAMP '2024-03-13 06:00:00' + to_minutes(i), '%m/%d/%Y %H:%M') AS time", "mdy"),
        ("(TIMESTAMP '2024-03-13 06:00:00' + to_minutes(i))::TIMESTAMP_NS AS t", "ymd"),
        ("TIMESTAMPTZ '2024-03-13 07:00:00+01:00' + to_minutes(i) AS t", "ymd"),
    ],
)
def test_times_of_parquet_in_any_form(tmp_path: Path, columns: str, order: str) -> None:
    import duckdb

    path = tmp_path / "a.parquet"
    duckdb.execute(f"COPY (SELECT {columns}, 1400.0 + i AS \"Power [kW]\" FROM range(60) t(i)) TO '{path}'")
    proposal = propose(path, zone="UTC")
    assert proposal.form.order == order
    sink = MemorySink()
    report = import_files([path], sink, form=proposal.form, mapping=proposal.mapping_for_import())
    assert (report.read, report.kept) == (60, 60)
    first = START.astype("datetime64[us]").astype(np.int64)
    np.testing.assert_array_equal(sink.rows().time, first + 60_000_000 * np.arange(60))


@pytest.mark.parametrize("row_of_units", [False, True])
def test_a_head_that_comes_again_with_other_units_is_a_new_one(tmp_path: Path, row_of_units: bool) -> None:
    def head(unit: str) -> str:
        return (
            f"Time,Jacket Water Out,Power\n,{unit},kW\n"
            if row_of_units
            else f"Time,Jacket Water Out [{unit}],Power [kW]\n"
        )

    first = "".join(f"{clock(row)},{85 + row % 3},{1400 + row}\n" for row in range(30))
    second = "".join(f"{clock(row)},{185 + row % 3},{1400 + row}\n" for row in range(30, 60))
    sink, report = taken(tmp_path / "a.csv", head("°C") + first + head("°C") + head("°F") + second)
    found = sink.rows().values["jacket_water_outlet_temperature@engine"]
    assert report.kept == 60  # type: ignore[attr-defined]
    np.testing.assert_allclose(found[:30], 273.15 + 85 + np.arange(30) % 3)
    np.testing.assert_allclose(found[30:], (185 + np.arange(30, 60) % 3 - 32) / 1.8 + 273.15)


def test_a_second_file_with_a_column_more_is_read_by_its_own_heads(tmp_path: Path) -> None:
    one, two = tmp_path / "one.csv", tmp_path / "two.csv"
    one.write_text(minutes(0, 60))
    more = minutes(30, 60).splitlines()
    two.write_text("\n".join([more[0] + ",Jacket Water Out [°C]", *(f"{line},85.5" for line in more[1:])]) + "\n")
    proposal = propose(one, zone="UTC")
    sink = MemorySink()
    report = import_files([one, two], sink, form=proposal.form, zone="UTC")
    assert report.refused == 0
    assert np.isfinite(sink.rows().values["jacket_water_outlet_temperature@engine"]).sum() == 60


def test_a_date_that_stands_once_a_day_holds_for_the_rows_below_it(tmp_path: Path) -> None:
    days = [("2024-03-13", range(0, 1440, 30)), ("2024-03-14", range(0, 1440, 30))]
    rows = "".join(
        f"{day if not number else ''};{minute // 60:02}:{minute % 60:02};{1400 + number};4.1\n"
        for day, minutes in days
        for number, minute in enumerate(minutes)
    )
    sink, report = taken(tmp_path / "a.csv", "Date;Time;Power [kW];Oil Press [bar]\n" + rows)
    assert report.kept == 96  # type: ignore[attr-defined]
    assert sink.rows().time.tolist() == [
        int(np.datetime64("2024-03-13", "us").astype(np.int64)) + 1_800_000_000 * row for row in range(96)
    ]
    (first, second) = [one for one in report.refusals if one.kind == "date from above"]  # type: ignore[attr-defined]
    assert (first.column, first.line, first.last, first.count) == ("Date", 3, 49, 47)
    assert "row above" in first.why
    assert second.count == 47


def test_rows_without_a_date_are_refused_where_the_clock_went_back(tmp_path: Path) -> None:
    """Past midnight without a date a day may have begun, or the clock was set: nobody can know."""
    lines = ["01.03.2024;06:00;1400;4.1", *(f";{7 + hour:02}:00;{1401 + hour};4.1" for hour in range(16))]
    lines += [";00:30;1500;4.1", ";08:00;1501;4.1", "13.03.2024;05:00;1502;4.1", ";05:30;1503;4.1"]
    sink, report = taken(tmp_path / "a.csv", "Date;Time;Power [kW];Oil Press [bar]\n" + "\n".join(lines) + "\n")
    assert (report.kept, report.refused) == (19, 2)  # type: ignore[attr-defined]
    assert {one.why for one in report.refusals if one.kind == "row"} == {  # type: ignore[attr-defined]
        "no date, and the clock went back since the last one"
    }
    assert sink.rows().time.tolist()[-1] == int(np.datetime64("2024-03-13T05:30", "us").astype(np.int64))


def test_rows_above_the_first_date_are_refused(tmp_path: Path) -> None:
    rows = ";05:30;1399;4.1\n2024-03-13;06:00;1400;4.1\n" + "".join(
        f";06:{row:02};14{row:02};4.1\n" for row in range(1, 60)
    )
    _, report = taken(tmp_path / "a.csv", "Date;Time;Power [kW];Oil Press [bar]\n" + rows)
    assert (report.kept, report.refused) == (60, 1)  # type: ignore[attr-defined]


def test_an_import_that_was_broken_off_still_knows_the_date(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    begin = "Date;Time;Power [kW];Oil Press [bar]\n2024-03-13;06:00;1400;4.1\n"
    path.write_text(begin + "".join(f";06:{row:02};14{row:02};4.1\n" for row in range(1, 30)), encoding="utf-8")
    proposal = propose(path, zone="UTC")
    told = {"form": proposal.form, "mapping": proposal.mapping_for_import(), "state": tmp_path / "state"}
    sink = MemorySink()
    assert import_files([path], sink, source="panel", **told).kept == 30
    with path.open("a", encoding="utf-8") as more:
        more.write("".join(f";06:{row:02};14{row:02};4.1\n" for row in range(30, 60)))
    assert import_files([path], sink, source="panel", **told).kept == 30
    assert len(sink.rows().time) == 60


@pytest.mark.parametrize(
    ("before", "behind", "minutes"),
    [
        ("Mi ", "", 0), ("Wed, ", "", 0), ("mié. ", "", 0), ("Mar ", "", 0), ("", " Uhr", 0), ("", "Uhr", 0),
        ("", " h", 0), ("Mittwoch, ", " Uhr", 0), ("", " EDT", -240), ("", " MEZ", 60), ("", " CEST", 120),
        ("", " UTC", 0), ("", " PST", -480), ("Mi. ", " CET", 60),
    ],
)  # fmt: skip
@pytest.mark.parametrize("apart", [False, True])
def test_words_around_a_time(tmp_path: Path, before: str, behind: str, minutes: int, apart: bool) -> None:
    """The day of the week, 'o'clock' and the name of a zone; the last says an offset, with nothing asked."""
    between = ";" if apart else " "
    rows = "".join(f"{before}{german(row).replace(' ', between)}{behind};{1400 + row};4,1\n" for row in range(60))
    head = "Datum;Zeit;" if apart else "Zeit;"
    sink, report = taken(tmp_path / "a.csv", head + "Leistung [kW];Öldruck [bar]\n" + rows)
    assert report.kept == 60  # type: ignore[attr-defined]
    start = int(START.astype("datetime64[us]").astype(np.int64)) - minutes * 60_000_000
    assert sink.rows().time.tolist() == [start + row * 60_000_000 for row in range(60)]


def test_a_name_that_two_zones_have_is_not_read(tmp_path: Path) -> None:
    rows = "".join(f"{clock(row)} CST,{1400 + row},4.1\n" for row in range(60))
    path = tmp_path / "a.csv"
    path.write_text("Time,Power [kW],Oil Press [bar]\n" + rows, encoding="utf-8")
    with pytest.raises(InputError, match="time"):
        propose(path, zone="UTC")


def test_march_is_no_tuesday(tmp_path: Path) -> None:
    rows = "".join(f"Mar 13 2024 06:{row:02}:00;{1400 + row};4.1\n" for row in range(60))
    path = tmp_path / "a.csv"
    path.write_text("Time;Power [kW];Oil Press [bar]\n" + rows, encoding="utf-8")
    try:
        proposal = propose(path, zone="UTC")
    except InputError:
        return  # told
    sink = MemorySink()
    import_files([path], sink, form=proposal.form, mapping=proposal.mapping_for_import())
    assert all(str(np.int64(one).view("datetime64[us]"))[:10] == "2024-03-13" for one in sink.rows().time)


def test_winter_and_summer_are_told_apart_by_their_names(tmp_path: Path) -> None:
    """The hour that occurs twice: the names say which is which."""
    said = ["01:30 MESZ", "02:30 MESZ", "02:30 MEZ", "03:30 MEZ"]
    rows = "".join(f"27.10.2024 {one};{1400 + row};4,1\n" for row, one in enumerate(said))
    rows += "".join(f"27.10.2024 {4 + row}:30 MEZ;{1404 + row};4,1\n" for row in range(10))
    sink, report = taken(tmp_path / "a.csv", "Zeit;Leistung [kW];Öldruck [bar]\n" + rows)
    assert report.kept == 14  # type: ignore[attr-defined]
    first = int(np.datetime64("2024-10-26T23:30", "us").astype(np.int64))
    assert sink.rows().time.tolist() == [first + 3_600_000_000 * row for row in range(14)]


@pytest.mark.parametrize("blank", [" ", "", "\xa0"])
def test_units_within_the_cells_belong_to_their_columns(tmp_path: Path, blank: str) -> None:
    rows = "".join(
        f"{german(row)};{1400 + row},5{blank}kW;85,{row % 10}{blank}°C;{4 + row % 2},1{blank}bar\n" for row in range(60)
    )
    rows += f"{german(60)};1.460,5{blank}kW;---;59{blank}psi\n"
    sink, report = taken(tmp_path / "a.csv", "Zeit;Leistung;Kühlwasser Austritt;Öldruck\n" + rows)
    assert report.kept == 61  # type: ignore[attr-defined]
    assert sink.rows().values["engine_power@engine"][:60] == pytest.approx([1e3 * (1400.5 + row) for row in range(60)])
    told = [(one.text.replace("\xa0", " "), one.why) for one in report.refusals]  # type: ignore[attr-defined]
    assert (f"59{blank}psi".replace("\xa0", " "), "text in a column of numbers") in told
    (pressure,) = [name for name in sink.rows().values if "ldruck" in name or "oil_pressure" in name]
    assert np.isnan(sink.rows().values[pressure][60])


def test_a_unit_in_the_cells_that_is_not_the_one_over_them_is_not_taken(tmp_path: Path) -> None:
    rows = "".join(f"{clock(row)},{1400 + row},4.1 bar\n" for row in range(60))
    path = tmp_path / "a.csv"
    path.write_text("Time,Power (kW),Oil Press (psi)\n" + rows, encoding="utf-8")
    (column,) = [one for one in propose(path, zone="UTC").form.columns if one.head == "Oil Press"]
    assert column.role == "text"


@pytest.mark.parametrize("encoding", ["utf-16", "windows-1252", "utf-8-sig"])
def test_units_within_cells_in_any_encoding(tmp_path: Path, encoding: str) -> None:
    rows = "".join(f"{german(row)};{1400 + row},5 kW;85,{row % 10} °C\n" for row in range(60))
    path = tmp_path / "a.csv"
    path.write_bytes(("Zeit;Leistung;Kühlwasser Austritt\n" + rows).encode(encoding))
    proposal, sink = propose(path, zone="UTC"), MemorySink()
    report = import_files([path], sink, form=proposal.form, mapping=proposal.mapping_for_import())
    assert report.cells_refused == 0
    assert sink.rows().values["engine_power@engine"].tolist() == [1e3 * (1400.5 + row) for row in range(60)]
