"""The page of claims names only tests and benchmarks that are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
NAMED = sorted(set(re.findall(r"`((?:tests|benchmarks)/[\w/]+\.py)`", (ROOT / "docs/shown.md").read_text("utf-8"))))


def test_it_names_many():
    assert len(NAMED) > 40


@pytest.mark.parametrize("name", NAMED)
def test_what_is_named_is_there(name):
    assert (ROOT / name).is_file()
