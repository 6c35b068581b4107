"""On the whole demo every conclusion is the true one; the page that says so is as it would be made now."""

from __future__ import annotations

import pytest
from benchmarks.demo_truth import BEGIN, END, PAGE, rows, table


@pytest.fixture(scope="module")
def found():
    return list(rows())


def test_every_truth_is_found(found):
    assert [(one.visit, one.truth, one.says) for one in found if not one.met] == []


def test_the_page_tells_what_is_found_now(found):
    said = PAGE.read_text(encoding="utf-8").split(BEGIN)[1].split(END)[0].strip()
    assert said == table(found), "python -m benchmarks.demo_truth --write"
