"""Consoles of other systems: code pages without a minus sign, pipes on Windows, no list of time zones."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from asfound.cli import console


def asfound(home: Path, *words: str, python: tuple[str, ...] = (), **variables: str) -> bytes:
    """Run a command in a process of its own, as bytes."""
    command = [sys.executable, *python, "-m", "asfound", *words]
    done = subprocess.run(
        command, capture_output=True, check=False, env={**os.environ, "ASFOUND_HOME": str(home), **variables}
    )
    assert done.returncode == 0, done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def told(demo_master):
    """What a console that knows every sign is told, with differences below nothing."""
    return asfound(demo_master, "crosscheck", "A2", PYTHONIOENCODING="utf-8").decode("utf-8")


@pytest.mark.parametrize(
    ("python", "variables", "encoding"),
    [
        ((), {"PYTHONIOENCODING": "cp1252"}, "cp1252"),
        (("-X", "utf8=0"), {"LC_ALL": "POSIX", "PYTHONCOERCECLOCALE": "0", "PYTHONTZPATH": ""}, "ascii"),
    ],
    ids=["code page 1252", "no language set, no list of time zones"],
)
def test_a_console_without_a_minus_sign_shows_another(demo_master, told, python, variables, encoding):
    shown = asfound(demo_master, "crosscheck", "A2", python=python, **variables).decode(encoding)
    assert "−" in told
    assert shown.count("?") == told.count("?")
    assert shown.count("-") == told.count("-") + told.count("−") + told.count("–")


@pytest.mark.parametrize("encoding", ["cp437", "cp850", "cp1250", "cp1252", "ascii"])
def test_every_sign_has_a_stand_in(told, encoding):
    assert told.encode(encoding, console.register()).count(b"?") == told.count("?")


def test_what_is_piped_on_windows_is_utf_8(monkeypatch):
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.delenv("PYTHONIOENCODING", raising=False)
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="cp1252")
    console.open_up(stream)
    stream.write(json.dumps({"difference": "−9 °F", "by": "Łukasz 王"}, ensure_ascii=False))
    stream.flush()
    assert json.loads(raw.getvalue().decode("utf-8")) == {"difference": "−9 °F", "by": "Łukasz 王"}


def test_an_encoding_that_was_asked_for_is_kept(monkeypatch):
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("PYTHONIOENCODING", "cp1252")
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="cp1252")
    console.open_up(stream)
    stream.write("−9 °F, 10⁻³, λ ≥ 1.6, 王")
    stream.flush()
    assert raw.getvalue().decode("cp1252") == "-9 °F, 10-³, lambda >= 1.6, ?"


def test_no_stand_in_needs_a_stand_in():
    assert all(text.isascii() and '"' not in text for text in console.PLAIN.values())  # also in a text of JSON


def test_a_stream_that_is_no_file_is_left_alone():
    for stream in (None, io.StringIO()):
        console.open_up(stream)
