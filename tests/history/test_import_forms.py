"""Forms in which logs come that were found by trying to break the import: each was misread or refused once."""

from __future__ import annotations

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
