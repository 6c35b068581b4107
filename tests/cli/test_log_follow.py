"""`asfound log-follow` as a process of its own: registers of a device on the network, and a file that grows."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
import yaml

from asfound.cli import main as run
from asfound.history.store import Store

pytest.importorskip("pymodbus")

from tests.history.test_live import REGISTERS, Device, holding_registers

POSIX = pytest.mark.skipif(os.name != "posix", reason="an interruption is sent as a signal")
HEAD = "Time,Engine Speed [rpm],Jacket Water Out [°C]\n"


def rows(first: int, count: int) -> str:
    return "".join(f"2032-05-01 00:{at:02d}:00,{1000 + at},{85 + 0.1 * at:.1f}\n" for at in range(first, first + count))


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("ASFOUND_HOME", str(tmp_path / "home"))
    monkeypatch.setenv("ASFOUND_WHO", "T")
    assert run(["engine", "add", "E1"]) == 0
    return tmp_path


def begun(*words: str) -> subprocess.Popen[str]:
    command = [sys.executable, "-c", "import sys; from asfound.cli import main; sys.exit(main())", "log-follow", *words]
    return subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def ended(process: subprocess.Popen[str]) -> str:
    out, wrong = process.communicate(timeout=60)
    assert process.returncode == 0, wrong
    return out


def until(what: Callable[[], bool]) -> None:
    late = time.monotonic() + 60
    while not what():
        assert time.monotonic() < late
        time.sleep(0.05)


def kept(home: Path) -> int:
    store = Store(home / "home" / "logs")
    return len(store.read("E1")) if store.span("E1") else 0


def test_registers_come_into_the_log(home: Path) -> None:
    with Device({100: 602, 101: 65536 - 5}, holding_registers()) as device:
        plain = {"host": "127.0.0.1", "port": device.port, "period": 0.2, "timeout": 1.0, "registers": REGISTERS}
        (home / "panel.yaml").write_text(yaml.safe_dump(plain), encoding="utf-8")
        told = json.loads(ended(begun("E1", "--registers", "panel.yaml", "--looks", "3", "--json")))
    assert told["rows"] == 3
    log = Store(home / "home" / "logs").read("E1", with_source=True)
    assert len(log) == 3
    assert log.values["engine_power@engine"].tolist() == [731.5e3] * 3
    assert log.values["engine_hours@engine"].tolist() == [41230 * 3600.0] * 3
    assert log.texts["source"].array() == ["panel #1"] * 3
    assert abs(log.time[-1] / 1e6 - time.time()) < 60


def test_a_device_that_is_not_there_is_said_and_nothing_is_kept(home: Path) -> None:
    plain = {"host": "127.0.0.1", "port": 1, "period": 0.2, "timeout": 0.3, "registers": REGISTERS}
    (home / "panel.yaml").write_text(yaml.safe_dump(plain), encoding="utf-8")
    out = ended(begun("E1", "--registers", "panel.yaml", "--looks", "1"))
    assert "does not take a connection" in out
    assert "0 rows" in out
    assert kept(home) == 0


@POSIX
def test_a_growing_file_until_it_is_interrupted(home: Path) -> None:
    path = home / "panel.csv"
    path.write_text(HEAD + rows(0, 20), encoding="utf-8")
    process = begun("E1", str(path), "--zone=-06:00", "--period", "0.05")
    until(lambda: kept(home) == 20)
    with path.open("a", encoding="utf-8") as file:
        file.write(rows(20, 3) + "2032-05-01 00:2")  # a line that is being written
    until(lambda: kept(home) == 23)
    with path.open("a", encoding="utf-8") as file:
        file.write("3:00,1023,87.3\nnothing that is a row\n" + rows(24, 1))
    until(lambda: kept(home) == 25)
    path.rename(home / "panel.csv.1")
    path.write_text(HEAD + rows(25, 5), encoding="utf-8")
    until(lambda: kept(home) == 30)
    process.send_signal(signal.SIGINT)
    out = ended(process)
    assert "30 rows taken in" in out
    assert "is another file than before" in out
    log = Store(home / "home" / "logs").read("E1", ["jacket_water_outlet_temperature@engine"])
    found = log.values["jacket_water_outlet_temperature@engine"]
    assert found.tolist() == pytest.approx([273.15 + 85 + 0.1 * at for at in range(30)])
    assert log.time[0] == 1_967_004_000_000_000  # 2032-05-01 06:00 UTC
    assert run(["log", "E1"]) == 0
