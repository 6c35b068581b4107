"""Every published value of the fuel gas holds; sources and clauses stand in the packaged tables."""

from __future__ import annotations

import pytest

from asfound.fuel import checks_analysis
from asfound.sources.register import sources

FOUND = list(checks_analysis.checks())


def test_there_are_enough_of_them():
    assert len(FOUND) > 450


@pytest.mark.parametrize("source", sorted({one.source for one in FOUND}))
def test_published_values_hold(source):
    assert source in sources()
    assert [
        f"{one.check}: {one.value} for {one.published}" for one in FOUND if one.source == source and not one.holds
    ] == []
