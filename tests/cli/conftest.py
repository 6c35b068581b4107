"""The command line as a person calls it: words in; exit code, output and complaint out."""

from __future__ import annotations

import json
import shutil
from dataclasses import dataclass
from typing import Any

import pytest

from asfound.cli import main


@dataclass(frozen=True)
class Said:
    code: int
    out: str
    err: str

    @property
    def data(self) -> Any:
        assert self.code in (0, 1), self.err
        return json.loads(self.out)


@pytest.fixture
def asfound(capsys, monkeypatch):
    """Run one command in this process; nothing of this user's settings comes in."""
    for name in ("ASFOUND_HOME", "ASFOUND_WHO"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("COLUMNS", "120")

    def run(*words: object) -> Said:
        capsys.readouterr()
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        return Said(code, said.out, said.err)

    return run


@pytest.fixture(scope="session")
def demo_master(tmp_path_factory):
    """One demo home, made by the command itself."""
    folder = tmp_path_factory.mktemp("demo") / "home"
    assert main(["demo", str(folder), "--json"]) == 0
    return folder


@pytest.fixture
def demo(demo_master, tmp_path):
    """A fresh copy of the demo home."""
    return shutil.copytree(demo_master, tmp_path / "home")


@pytest.fixture
def at_demo(asfound, demo, monkeypatch):
    """Run a command on a fresh demo home, under a name."""

    def run(*words: object) -> Said:
        monkeypatch.setenv("ASFOUND_HOME", str(demo))
        monkeypatch.setenv("ASFOUND_WHO", "J. Orme")
        return asfound(*words)

    return run
