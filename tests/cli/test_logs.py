"""`asfound log...`: a log in, what is asked, what is there, what it says, and back out."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from asfound.cli.door import run
from asfound.history.store import Store


def write(path: Path, days: int = 40, wrong: bool = False) -> Path:
    """A log of three channels every half an hour; with one line cut short where asked."""
    random = np.random.default_rng(5)
    time = np.datetime64("2031-01-01") + np.arange(days * 48) * np.timedelta64(30, "m")
    lines = ["time_utc,engine_power [kW],jacket_water_outlet_temperature [°C],t_exhaust_1 [°C]"]
    for at, load in zip(time, 800 + 20 * random.standard_normal(len(time)), strict=True):
        lines.append(f"{str(at).replace('T', ' ')}:00,{load:.1f},{82 + 0.01 * (load - 800):.2f},{500 + load / 50:.1f}")
    if wrong:
        lines[20] = lines[20][:22]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("ASFOUND_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("ASFOUND_WHO", "T")
    assert run(["engine", "add", "E1"]) == 0
    return tmp_path


def said(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    capsys.readouterr()
    code = run(list(words))
    out = capsys.readouterr()
    return code, out.out + out.err


def told(capsys: pytest.CaptureFixture[str], *words: str) -> dict:  # type: ignore[type-arg]
    code, text = said(capsys, *words, "--json")
    assert code == 0, text
    return json.loads(text)  # type: ignore[no-any-return]


def test_gauge_pressures_are_counted_from_the_air_of_the_site(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """ISO 2533 at 1,460 m: 849.97 hPa (its table: 850.0 at 1,457 m), not the 1,013.25 of the sea."""
    assert run(["site", "add", "High", "--height", "1460 m"]) == 0
    assert run(["engine", "add", "E2", "--site", "High"]) == 0
    path = home / "g.csv"
    rows = "\n".join(f"2031-01-01 {hour:02d}:00:00,900,1.50" for hour in range(24))
    path.write_text(f"time_utc,engine_power [kW],manifold_pressure [bar g]\n{rows}\n", encoding="utf-8")
    for tag, air in (("E1", 101_325.0), ("E2", 84_997.0)):
        told(capsys, "log-import", tag, str(path))
        name = "manifold_pressure@engine"
        kept = Store(home / "home" / "logs").read(tag, [name]).values[name]
        assert kept == pytest.approx(150_000.0 + air, abs=60.0)


def test_in_seen_and_out_again(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(home / "a.csv", days=60, wrong=True)
    done = told(capsys, "log-import", "E1", str(path))
    assert (done["read"], done["refused"]) == (60 * 48, 1)
    assert told(capsys, "log-import", "E1", str(path))["known"] == ["a.csv"]
    there = told(capsys, "log", "E1")
    assert there["channels"]["engine_power@engine"]["n"] == 60 * 48 - 1
    look = told(capsys, "log-look", "E1", "2031-03-01")
    assert look["day"] == "2031-03-01"
    assert told(capsys, "log", "E1")["looks"] == ["2031-03-01"]
    code, text = said(capsys, "log-look", "E1", "2031-03-01")
    assert code == 0
    assert "indicators stand still" in text
    back = told(capsys, "log-import", "E1", "--take-back", done["entry"][-8:])
    assert back["rows"] == 60 * 48 - 1
    assert told(capsys, "log", "E1")["channels"] == {}


def test_undo_of_an_import_takes_its_rows_too(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(home / "a.csv", days=10)
    done = told(capsys, "log-import", "E1", str(path))
    undone = told(capsys, "undo", done["entry"])
    assert undone["rows"] == done["kept"] > 0
    assert told(capsys, "log", "E1")["channels"] == {}
    code, text = said(capsys, "undo", undone["entry"])
    assert code == 2
    assert "asfound log-import E1 a.csv" in text
    assert told(capsys, "log-import", "E1", str(path))["kept"] == done["kept"]


def test_the_fleet_is_listed_with_engines_that_have_no_log(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told(capsys, "log-import", "E1", str(write(home / "a.csv", days=30)))
    run(["engine", "add", "E2"])
    found = told(capsys, "log-fleet", "--workers", "1", "--day", "2031-01-30")
    assert {one["engine"]: one["day"] for one in found["engines"]} == {"E1": "2031-01-30", "E2": None}
    assert found["faults"] == {}


def test_a_mapping_is_written_edited_and_used(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(home / "a.csv")
    path.write_text(path.read_text(encoding="utf-8").replace("t_exhaust_1 [°C]", "TI-77"), encoding="utf-8")
    code, text = said(capsys, "log-mapping", str(path))
    assert code == 0
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    at = next(row for row, line in enumerate(lines) if "TI-77" in line)
    end = next((row for row in range(at + 1, len(lines)) if lines[row].startswith("- head")), len(lines))
    answer = ["- head: TI-77", "  unit: °C", "  quantity: cylinder_exhaust_temperature", "  place: cylinder_1"]
    mapping = home / "mapping.yaml"
    mapping.write_text("\n".join([*lines[:at], *answer, *lines[end:]]) + "\n", encoding="utf-8")
    told(capsys, "log-import", "E1", str(path), "--mapping", str(mapping))
    assert "cylinder_exhaust_temperature@cylinder_1" in told(capsys, "log", "E1")["channels"]


def test_what_was_answered_for_a_logger_is_taken_at_its_next_import(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one = write(home / "a.csv", days=30)
    one.write_text(one.read_text(encoding="utf-8").replace("t_exhaust_1 [°C]", "TI-77"), encoding="utf-8")
    mapping = home / "mapping.yaml"
    mapping.write_text(
        "columns:\n- {head: TI-77, unit: °C, quantity: cylinder_exhaust_temperature, place: cylinder_1}\n",
        encoding="utf-8",
    )
    told(capsys, "log-import", "E1", str(one), "--source", "panel", "--mapping", str(mapping))
    two = home / "b.csv"
    two.write_text(one.read_text(encoding="utf-8").replace("2031-01", "2031-03"), encoding="utf-8")
    assert told(capsys, "log-import", "E1", str(two), "--source", "panel")["open"] == []
    there = told(capsys, "log", "E1")["channels"]
    assert there["cylinder_exhaust_temperature@cylinder_1"]["n"] == 2 * 30 * 48
    three = home / "c.csv"  # a unit that stands over it now, and another logger: asked anew
    three.write_text(
        two.read_text(encoding="utf-8").replace("2031-03", "2031-05").replace("TI-77", "TI-77 [°F]"), encoding="utf-8"
    )
    told(capsys, "log-import", "E1", str(three), "--source", "panel")
    four = home / "d.csv"
    four.write_text(one.read_text(encoding="utf-8").replace("2031-01", "2031-07"), encoding="utf-8")
    told(capsys, "log-import", "E1", str(four), "--source", "scanner")
    assert told(capsys, "log", "E1")["channels"]["cylinder_exhaust_temperature@cylinder_1"]["n"] == 2 * 30 * 48


def test_a_file_that_grows_is_followed(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(home / "a.csv", days=10)
    done = told(capsys, "log-follow", "E1", str(path), "--looks", "1", "--period", "0.01")
    assert done["rows"] == 480
    assert told(capsys, "log", "E1")["imports"][0]["what"] == "live"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("log-import", "E1"), "are missing"),
        (("log-import", "E1", "nothing.csv"), "is no file"),
        (("log-import", "E1", "--take-back", "12345678"), "no import"),
        (("log-look", "E1"), "no log yet"),
        (("log-look", "E9"), "E9"),
        (("log-mapping", "nothing.csv"), "is no file"),
        (("log-follow", "E1"), "one of the two"),
        (("demo", "somewhere", "--until", "2033-07-01"), "outside"),
        (("demo", "somewhere", "--logs", "--until", "1999-01-01"), "outside"),
    ],
)
def test_what_cannot_be_done_says_why(
    home: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], says: str
) -> None:
    code, text = said(capsys, *words)
    assert code == 2
    assert says in text


def test_what_each_visit_did_is_told_and_one_that_is_not_there_is_named(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told(capsys, "log-import", "E1", str(write(home / "a.csv", days=60)))
    code, text = said(capsys, "log-visits", "E1")
    assert code != 0
    assert "asfound log-look E1" in text
    told(capsys, "log-look", "E1", "2031-03-01")
    assert told(capsys, "log-visits", "E1") == {"engine": "E1", "up_to": "2031-03-01", "visits": []}
    code, text = said(capsys, "log-visits", "E1", "2031-02-01")
    assert code != 0
    assert "No visit of E1 of that name" in text


def test_a_clock_that_drifts_and_was_set_is_put_right_by_another_log(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The second logger is 2 min fast, gains 4 s a day, and was put back an hour on day 60; both saw the same load."""
    random = np.random.default_rng(4)
    time = np.datetime64("2031-01-01") + np.arange(120 * 144) * np.timedelta64(10, "m")
    load = 800 + 80 * np.cumsum(random.standard_normal(len(time)) * (random.random(len(time)) < 0.02))
    day = np.arange(len(time)) / 144
    shown = time + (1e3 * (120 + 4 * day - 3600 * (day > 60))).astype("timedelta64[ms]")

    def log(path: Path, at: np.ndarray, name: str, values: np.ndarray) -> Path:  # type: ignore[type-arg]
        rows = [
            f"{str(when)[:19].replace('T', ' ')},{value:.1f},{80 + value / 100:.2f}"
            for when, value in zip(at, values, strict=True)
        ]
        path.write_text(f"time_utc,engine_power [kW],{name}\n" + "\n".join(rows) + "\n", encoding="utf-8")
        return path

    told(capsys, "log-import", "E1", str(log(home / "right.csv", time, "oil_temperature [°C]", load)))
    order = np.argsort(shown, kind="stable")
    wrong = log(home / "wrong.csv", shown[order], "jacket_water_outlet_temperature [°C]", load[order])
    done = told(capsys, "log-import", "E1", str(wrong), "--clock", "right")
    assert done["clock"].count("found against 'right'") == 2
    assert "gains" in done["clock"]
    store = Store(home / "home" / "logs")
    water = store.read("E1", ["jacket_water_outlet_temperature@engine"])
    there = np.isfinite(water.values["jacket_water_outlet_temperature@engine"])
    expected = np.interp(water.time[there], time.astype("datetime64[us]").astype(np.int64), 273.15 + 80 + load / 100)
    off = np.abs(water.values["jacket_water_outlet_temperature@engine"][there] - expected)
    assert np.mean(off < 0.05) > 0.9
    other = write(home / "other.csv", days=3)
    code, text = said(capsys, "log-import", "E1", str(other), "--clock", "nobody")
    assert code == 2
    assert "no import of this engine" in text
    code, text = said(capsys, "log-import", "E1", str(other), "--clock", "right")
    assert code == 2
    assert "does not tell the time" in text
