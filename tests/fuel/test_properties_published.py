"""Every published value of the gas's properties holds; sources stand in the packaged tables."""

from __future__ import annotations

import pytest

from asfound.fuel import checks_properties
from asfound.sources.register import sources

FOUND = list(checks_properties.checks())


def test_all_points_of_the_equations_of_state_are_there():
    """204 printed points and ten of the 21-component gas; eight gases for the methane number."""
    assert len([one for one in FOUND if one.source == "nist_aga8"]) == 214
    assert len([one for one in FOUND if one.source == "en_16726_public"]) == 16


@pytest.mark.parametrize("source", sorted({one.source for one in FOUND}))
def test_published_values_hold(source):
    assert source in sources()
    assert [
        f"{one.check}: {one.value} for {one.published}" for one in FOUND if one.source == source and not one.holds
    ] == []
