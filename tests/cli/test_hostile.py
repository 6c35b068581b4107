"""The command line on a bad day: full disk, closed output, broken home, Ctrl+C, two at once."""

from __future__ import annotations

import json
import os
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from asfound.cli import CANNOT, DONE, INTERRUPTED, main

POSIX = pytest.mark.skipif(os.name == "nt", reason="shell of that system")


def shell(command, **variables):
    """Run a command line in which ``asfound`` is this program."""
    program = f"{sys.executable} -m asfound"
    environment = {**os.environ, "ASFOUND_WHO": "J. Orme", **variables}
    return subprocess.run(
        ["bash", "-c", command.replace("asfound", program)], capture_output=True, text=True, check=False,
        env=environment, stdin=subprocess.DEVNULL,
    )  # fmt: skip


@POSIX
@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("words", ["--help", "--version", "units"])
def test_a_full_disk_under_the_output_is_said(words):
    done = shell(f"asfound {words} > /dev/full")
    assert done.returncode == CANNOT
    assert "The system refuses" in done.stderr
    assert "Traceback" not in done.stderr
    assert "Exception ignored" not in done.stderr


@POSIX
@pytest.mark.parametrize("closed", [">&-", "2>&- >/dev/null", "<&-"])
def test_closed_streams_do_no_harm(closed):
    done = shell(f"asfound units {closed}")
    assert done.returncode == DONE
    assert done.stderr == ""


def test_a_library_that_breaks_when_interrupted_is_no_fault(monkeypatch, capsys):
    def pressed():
        os.kill(os.getpid(), signal.SIGINT) if os.name != "nt" else signal.raise_signal(signal.SIGINT)

    def broken(*_words, **_more):
        try:
            pressed()
        except KeyboardInterrupt:
            raise ImportError("a library failed to import") from None

    before = signal.getsignal(signal.SIGINT)
    signal.signal(signal.SIGINT, signal.default_int_handler)
    monkeypatch.setattr("asfound.cli.door.build", lambda: broken)
    monkeypatch.setattr(sys, "argv", ["asfound", "units"])
    try:
        assert main() == INTERRUPTED
    finally:
        signal.signal(signal.SIGINT, before)
    assert "Traceback" not in capsys.readouterr().err


@POSIX
def test_three_that_begin_one_home_at_once_all_keep_what_they_have(tmp_path):
    home = tmp_path / "home"
    done = shell(
        f"for n in 1 2 3; do asfound engine add E$n --home {home} & done; "
        "bad=0; for job in $(jobs -p); do wait $job || bad=1; done; exit $bad"
    )
    assert done.returncode == DONE, done.stderr
    engines = shell(f"asfound engines --json --home {home}")
    assert {one["tag"] for one in json.loads(engines.stdout)} == {"E1", "E2", "E3"}


@pytest.mark.parametrize(
    "settings",
    [
        "",
        "{",
        "[]",
        '"a"',
        "[" * 100_000,
        '{"clock_offset": "x"}',
        '{"clock_offset": NaN}',
        '{"clock_offset": 1e300}',
        '{"zone": 5}',
        '{"device": 7}',
        '{"person": "a\\ud800"}',
        '{"units": "furlong"}',
        '{"catalogue": 5}',
        '{"demo": "yes"}',
    ],
    ids=lambda text: text[:24],
)
def test_broken_settings_are_named_and_nothing_is_written(asfound, demo, settings):
    (demo / "settings.json").write_text(settings)
    before = (demo / "record.sqlite").read_bytes()
    for words in (("engines",), ("note", "A2", "hello")):
        said = asfound(*words, "--home", demo)
        assert said.code == CANNOT
        assert "settings.json" in said.err
        assert "Traceback" not in said.err
    assert (demo / "record.sqlite").read_bytes() == before


def test_a_home_that_cannot_be_is_said(asfound, tmp_path):
    (tmp_path / "file").write_text("x")
    (tmp_path / "odd" / "record.sqlite").mkdir(parents=True)
    for home in (tmp_path / "file", tmp_path / "file" / "under", tmp_path / "odd"):
        said = asfound("engine", "add", "E1", "--home", home)
        assert said.code == CANNOT
        assert "Traceback" not in said.err


@pytest.mark.parametrize("seed", range(6))
def test_a_damaged_record_is_said_and_what_can_be_read_is_read(asfound, demo, seed):
    import random

    chance = random.Random(seed)
    file = demo / "record.sqlite"
    whole = bytearray(file.read_bytes())
    if seed % 2:
        for _ in range(60):
            whole[chance.randrange(4096, len(whole))] ^= 1 << chance.randrange(8)
    else:
        at = chance.randrange(len(whole) - 4096)
        whole[at : at + 300] = chance.randbytes(300)
    file.write_bytes(whole)
    for words in (("engines",), ("visit", "show", "A2"), ("note", "A2", "x"), ("visit", "verify", "A3")):
        said = asfound(*words, "--home", demo, *(("--who", "J. Orme") if words[0] == "note" else ()))
        assert said.code in (0, 1, CANNOT), said.err
        assert "Traceback" not in said.err


def test_a_name_that_no_copy_could_carry_is_not_kept(asfound, demo):
    for who in ("x" * 500, "a\0b"):
        said = asfound("note", "A2", "hello", "--home", demo, "--who", who)
        assert said.code == CANNOT
        assert said.err.startswith("asfound: who")
    shutil.rmtree(demo)


@pytest.mark.parametrize("time", ["2032-13-45T10:00-06:00", "2032-07-08T25:00-06:00", "2032-02-30T10:00Z"])
def test_a_time_that_no_calendar_has_is_refused(asfound, demo, time):
    said = asfound("note", "A2", "hello", "--home", demo, "--who", "J. Orme", "--at", time)
    assert said.code == CANNOT


HOSTILE = "hello\x1b[2J\x1b]0;owned\x07\x9b31m\r\u202egnp.exe"


def test_what_stands_in_a_record_steers_no_terminal(asfound, demo):
    """A visit that was brought in from elsewhere may hold anything that is text."""
    assert asfound("note", "A2", HOSTILE, "--home", demo, "--who", "J. Orme").code == DONE
    assert asfound("point", "add", "A2", HOSTILE, "--home", demo, "--who", HOSTILE).code in (DONE, CANNOT)
    for words in (("visit", "show", "A2"), ("visit", "show", "A2", "--json"), ("export", "A2"), ("engines",)):
        said = asfound(*words, "--home", demo)
        assert said.code == DONE
        assert not set(said.out) & set("\x1b\x07\x9b\r\u202e")
    refused = asfound("visit", "show", HOSTILE, "--home", demo)
    assert refused.code == CANNOT
    assert not set(refused.err) & set("\x1b\x07\x9b\r\u202e")
    notes = json.loads(asfound("export", "A2", "--home", demo).out)["entries"]
    assert any(one["content"].get("text") == HOSTILE for one in notes), "and nothing of it is lost"
