"""Kill -9 through every door, shortly; a thousand saves: ``python -m benchmarks.kill``."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="kill -9 is not of that system")
@pytest.mark.parametrize("how", [[], ["--locked"]], ids=["plain", "locked"])
def test_nothing_answered_is_lost_through_any_door(how):
    if how:
        pytest.importorskip("sqlcipher3")
    command = [sys.executable, "-m", "benchmarks.kill", "--saves", "20", *how]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("nothing lost, nothing by half") == 3
