"""Limits on gas quality: each row has its source, and a gas near a limit decides nothing."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, UnknownNameError
from asfound.fuel.limits import documents, judge, quality_limits, violations
from asfound.sources.register import sources

laws = settings(deadline=None, max_examples=100)


def test_every_limit_is_sourced_and_says_how_it_was_seen():
    for one in quality_limits():
        assert one.source in sources()
        assert one.found in ("read", "secondary", "memory")
        assert one.least is not None or one.most is not None
        assert one.says
    assert len(documents()) >= 6


def test_nothing_read_is_said_so():
    assert {one.verdict for one in judge({}, "Spain PD-01")} == {"not read"}


def test_groups_apply_only_when_asked():
    plain = judge({"siloxanes": (12.0, 0.1)}, "Spain PD-01")
    assert "siloxanes" not in {one.limit.quantity for one in plain}
    (found,) = violations({"siloxanes": (12.0, 0.1)}, "Spain PD-01", groups=["biogas and similar"])
    assert (found.verdict, found.limit.most) == ("violates", 10.0)


@given(st.floats(0.0, 0.06), st.floats(0.0, 0.01))
@laws
def test_verdict_follows_the_probability(value, u):
    (found,) = (one for one in judge({"carbon_dioxide": (value, u)}, "Spain PD-01") if one.verdict != "not read")
    assert 0.0 <= found.probability_beyond <= 1.0
    expected = (
        "violates" if found.probability_beyond >= 0.95 else "meets" if found.probability_beyond <= 0.05 else "undecided"
    )
    assert found.verdict == expected
    if u == 0.0:
        assert found.verdict == ("violates" if value > 0.025 else "meets")


@pytest.mark.parametrize(
    ("number", "verdict"), [(62.0, "violates"), (64.0, "undecided"), (66.9, "undecided"), (68.0, "meets")]
)
def test_methane_number_is_undecided_within_two(number, verdict):
    found = [one for one in judge({"methane_number": (number, 0.1)}, "EN 16726 group H") if not math.isnan(one.value)]
    assert [one.verdict for one in found] == [verdict]


def test_what_is_violated_comes_first():
    found = judge({"carbon_dioxide": (0.05, 0.001), "oxygen": (1e-5, 1e-6)}, "Spain PD-01")
    assert [one.verdict for one in found[:1]] == ["violates"]
    assert found[-1].verdict == "meets"


def test_wrong_names_and_values_are_told():
    with pytest.raises(UnknownNameError):
        judge({}, "Atlantis")
    with pytest.raises(UnknownNameError):
        judge({}, "Spain PD-01", groups=["tidal"])
    with pytest.raises(UnknownNameError):
        judge({"carbon": (1.0, 0.1)}, "Spain PD-01")
    with pytest.raises(InputError, match="not analysed"):
        judge({"oxygen": (math.nan, 0.1)}, "Spain PD-01")
