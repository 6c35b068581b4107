"""Spares of a fleet: the stock follows from rate, places, lead time and what is wanted; a bad file is refused."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2, poisson

from asfound.errors import InputError, KnowledgeError
from asfound.upkeep.fleet_spares import FleetEngine, HeldPart, example_parts, read_parts, stocks

COIL = HeldPart(
    part="coil",
    item="coil",
    per="cylinder",
    number=1,
    engines=(),
    lead_days=45.0,
    wanted=0.95,
    on_shelf=2,
    source="test",
)
FLEET = (
    FleetEngine(tag="A1", cylinders=9, hours=8000.0, per_day=22.0),
    FleetEngine(tag="N1", cylinders=14, hours=6000.0, per_day=20.0),
)


def test_rate_and_stock_by_hand():
    """4 failures in 9 x 8000 + 14 x 6000 part-hours; limits by chi-square, stock by Poisson (SciPy)."""
    found = stocks((COIL,), FLEET, {("A1", "coil"): 3, ("N1", "coil"): 1, ("N1", "pump"): 5})[0]
    hours = 9 * 8000.0 + 14 * 6000.0
    assert (found.places, found.failures, found.hours) == (23, 4, hours)
    assert found.rate_high == pytest.approx(1000 * chi2.ppf(0.95, 2 * 4 + 2) / 2 / hours)
    assert found.rate_low == pytest.approx(1000 * chi2.ppf(0.05, 2 * 4) / 2 / hours)
    ahead = 45.0 * (9 * 22.0 + 14 * 20.0)
    assert found.demand == pytest.approx(4.5 / hours * ahead)
    stock = next(n for n in range(100) if n > 0 and poisson.cdf(n - 1, found.demand) >= 0.95)
    assert found.hold.stock == stock
    assert found.now is not None
    assert found.now.fill == pytest.approx(poisson.cdf(1, found.demand))


@given(st.integers(0, 30), st.floats(1.0, 300.0), st.floats(0.5, 0.99))
def test_more_failures_a_longer_way_and_more_wanted_never_ask_for_less(failures, lead, wanted):
    def held(count: int, days: float, share: float) -> int:
        part = replace(COIL, lead_days=days, wanted=share)
        return stocks((part,), FLEET, {("A1", "coil"): count})[0].hold.stock

    base = held(failures, lead, wanted)
    assert held(failures + 1, lead, wanted) >= base
    assert held(failures, 1.5 * lead, wanted) >= base
    assert held(failures, lead, min(wanted + 0.009, 0.9999)) >= base


def test_nothing_failed_is_no_proof_of_none():
    found = stocks((COIL,), FLEET, {})[0]
    assert found.rate_low == 0.0
    assert found.rate > 0.0
    assert found.hold_high.stock >= found.hold.stock >= 1
    assert "none failed" in found.says


def test_an_engine_that_is_not_there_and_no_hours_are_refused():
    with pytest.raises(InputError, match="no engine of this home"):
        stocks((replace(COIL, engines=("Z9",)),), FLEET, {})
    with pytest.raises(InputError, match="watched on no engine"):
        stocks((COIL,), (replace(FLEET[0], hours=0.0),), {})


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("{part: a, item: b, lead_days: 20, wanted: 1.5, source: x}", "1.5"),
        ("{part: a, item: b, lead_days: -1, wanted: 0.9, source: x}", "-1"),
        ("{part: a, item: b, wanted: 0.9, source: x}", "lead_days"),
        ("{part: a, item: b, lead_days: 20, wanted: 0.9, source: x, colour: red}", "colour"),
        ("{part: a, item: b, lead_days: 20, wanted: 0.9, source: x, on_each: {number: 1, per: site}}", "site"),
    ],
)
def test_a_bad_file_is_refused_with_file_and_line(row, says):
    with pytest.raises(KnowledgeError, match=says) as refused:
        read_parts(f"parts:\n- {row}\n", file="own.yaml")
    assert "own.yaml" in str(refused.value)
    assert "2" in str(refused.value)


def test_the_packaged_example_reads():
    assert {one.per for one in example_parts()} == {"engine", "cylinder"}
