"""Two sources mixed: nothing changes with itself, and what changes does so in order."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.fuel.blend import PROPERTIES, blend, mixtures, share_within
from asfound.fuel.composition import composition

PIPELINE = composition(
    {"methane": 0.95, "ethane": 0.035, "nitrogen": 0.015},
    uncertainties={"methane": 0.002, "ethane": 0.001},
    source="pipeline",
    sampled=date(2032, 5, 2),
)
NEW_WELL = composition(
    {"methane": 0.78, "ethane": 0.12, "propane": 0.07, "carbon dioxide": 0.03},
    source="new well",
    sampled=date(2032, 6, 1),
)


@given(st.floats(0.0, 1.0))
def test_a_gas_blended_with_itself_is_itself(share):
    mixed = blend(NEW_WELL, NEW_WELL, share)
    assert mixed.by_name == pytest.approx(NEW_WELL.by_name)
    along = mixtures(NEW_WELL, NEW_WELL, np.array([share]))
    for name in (*PROPERTIES, "air_demand"):
        assert along.change(name) == pytest.approx(0.0, abs=1e-12)


@given(st.floats(0.0, 1.0))
def test_order_does_not_matter(share):
    one, other = blend(PIPELINE, NEW_WELL, share), blend(NEW_WELL, PIPELINE, 1 - share)
    assert one.by_name == pytest.approx(other.by_name)
    assert one.total == pytest.approx(1.0)


def test_a_rich_well_makes_more_of_everything():
    along = mixtures(PIPELINE, NEW_WELL)
    for name in (*PROPERTIES, "air_demand"):
        assert (np.diff(along.values[name]) > 0).all(), name
    assert along.shares.tolist() == pytest.approx([at / 10 for at in range(11)])
    assert along.values["volume_gross"][-1] == pytest.approx(NEW_WELL.properties().volume_gross)


def test_the_uncertainty_of_both_is_in_the_mixture():
    mixed = blend(PIPELINE, NEW_WELL, 0.5)
    assert mixed.standard_uncertainties[0] == pytest.approx(0.001)
    assert mixed.sampled == date(2032, 5, 2)
    assert mixed.source == "50 % pipeline, 50 % new well"


def test_share_until_the_band_is_left():
    now, limit = PIPELINE.properties().wobbe_gross, 52.0e6
    share = share_within(PIPELINE, NEW_WELL, "wobbe_gross", 0.0, limit)
    assert now < limit < NEW_WELL.properties().wobbe_gross
    assert share is not None
    assert blend(PIPELINE, NEW_WELL, share).properties().wobbe_gross == pytest.approx(limit, rel=1e-6)
    assert share_within(PIPELINE, NEW_WELL, "wobbe_gross", 0.0, 1e9) == 1.0
    assert share_within(PIPELINE, NEW_WELL, "wobbe_gross", 0.0, 40e6) is None
    assert share_within(PIPELINE, NEW_WELL, "relative_density", 0.55, np.inf) is None or share > 0


def test_another_property_can_be_followed():
    along = mixtures(PIPELINE, NEW_WELL, also={"carbon_dioxide": lambda x, names: x[:, names.index("carbon dioxide")]})
    assert along.values["carbon_dioxide"][-1] == pytest.approx(0.03)


def test_shares_and_gases_that_are_none_are_refused():
    with pytest.raises(InputError, match="0 to 1"):
        blend(PIPELINE, NEW_WELL, 1.1)
    with pytest.raises(InputError, match="0 to 1"):
        mixtures(PIPELINE, NEW_WELL, np.array([0.5, 2.0]))
    with pytest.raises(InputError, match="add up"):
        mixtures(PIPELINE, composition({"methane": 0.9}))
