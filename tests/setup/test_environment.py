"""`make` says plainly what is wrong with the Python that it is given."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
needs_make = pytest.mark.skipif(shutil.which("make") is None, reason="there is no make here; on Windows see README.md")


def make(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["make", "-C", str(ROOT), *words], capture_output=True, text=True, check=False)


@pytest.fixture
def older_python(tmp_path):
    """A command that answers as Python 3.10 does."""
    python = tmp_path / "python3.10"
    python.write_text(
        '#!/bin/sh\ncase "$*" in *version_info*) exit 1;; *) echo "Python 3.10.14";; esac\n', encoding="utf-8"
    )
    python.chmod(0o755)
    return python


@needs_make
def test_an_older_python_is_refused_with_its_version(older_python, tmp_path):
    said = make("env", f"PYTHON={older_python}", f"VENV={tmp_path / 'venv'}")
    assert said.returncode != 0
    assert "3.11 or newer" in said.stderr
    assert "Python 3.10.14" in said.stderr
    assert not (tmp_path / "venv").exists()


@needs_make
def test_no_python_at_all_is_said(tmp_path):
    said = make("env", "PYTHON=no-such-python", f"VENV={tmp_path / 'venv'}")
    assert said.returncode != 0
    assert "no-such-python" in said.stderr


@needs_make
def test_help_lists_the_targets():
    said = make("help").stdout
    assert all(f"make {target} " in said for target in ("run", "test", "check", "bench", "lock", "bundle", "clean"))


def test_python_dash_m_is_the_command():
    from asfound import __version__

    said = subprocess.run([sys.executable, "-m", "asfound", "--version"], capture_output=True, text=True, check=True)
    assert said.stdout.strip() == __version__
