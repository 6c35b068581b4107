"""What the first page waits for: none of the rooms, and no library that only they need."""

from __future__ import annotations

import subprocess
import sys

import pytest

NOT_AT_ONCE = (
    "numpy", "scipy", "duckdb", "typst", "PIL", "yaml", "asfound.troubleshoot.belief", "asfound.evidence",
    "asfound.fitout.catalogue", "asfound.whatif", "asfound.crosscheck", "asfound.history.store",
)  # fmt: skip


@pytest.fixture(scope="module")
def loaded() -> set[str]:
    words = (
        "import sys, asfound.web.serve, asfound.web.app, asfound.records.store, asfound.web.home; print(*sys.modules)"
    )
    said = subprocess.run([sys.executable, "-c", words], check=True, capture_output=True, text=True).stdout
    return set(said.split())


@pytest.mark.parametrize("name", NOT_AT_ONCE)
def test_the_first_page_does_not_load(loaded: set[str], name: str) -> None:
    assert name not in loaded
