"""What several rooms' tests share: one browser."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import settings

# What fails must fail for whoever broke it, at once and on every machine: the examples are the same in each run. New
# ones are looked for on purpose: `make explore`. A slow machine is no fault of a law, so none has a deadline.
settings.register_profile("same", derandomize=True, deadline=None)
settings.register_profile("explore", max_examples=1_000, deadline=None, print_blob=True)
settings.load_profile(os.environ.get("ASFOUND_EXAMPLES", "same"))

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="session")
def browser_type_launch_args() -> dict[str, object]:
    """Use the system's Chromium; without one say so, or fail where a browser is asked for."""
    if not Path(CHROMIUM).exists():
        if os.environ.get("ASFOUND_REQUIRE_BROWSER") == "1":
            pytest.fail("ASFOUND_REQUIRE_BROWSER is set and there is no chromium.")
        pytest.skip("No chromium here: install the package chromium to run the tests of the pages in a browser.")
    return {"executable_path": CHROMIUM, "args": list(FLAGS)}


@pytest.fixture
def disk(tmp_path: Path) -> Iterator[Callable[[int], Path]]:
    """Give a small disk of its own: a number of bytes makes one; who is not root is told that none can be had.

    It may be filled, made read-only (`remount`) and pulled out like any other.
    """
    mounted: list[Path] = []

    def make(size: int) -> Path:
        place = tmp_path / f"disk{len(mounted)}"
        place.mkdir()
        command = ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)]
        if shutil.which("mount") is None or subprocess.run(command, capture_output=True, check=False).returncode:
            pytest.skip("Only root can mount a disk to fill it, and not in every container.")
        mounted.append(place)
        return place

    yield make
    for place in mounted:
        subprocess.run(["umount", "--lazy", str(place)], capture_output=True, check=False)


def read_only(place: Path) -> None:
    """Let nothing be written to a mounted disk any more."""
    subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True, capture_output=True)
