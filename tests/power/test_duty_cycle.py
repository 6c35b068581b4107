"""Cycles, and the load that a test asks for."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from asfound.errors import InputError, UnknownNameError
from asfound.power.duty_cycle import cycle, cycles, weighted
from asfound.power.fair_test import allowed_power, load_rule, load_rules, may_be_run

names = st.sampled_from([one.name for one in cycles()])


@given(names, st.floats(1e-10, 1e-8), st.floats(100e3, 5e6))
def test_what_is_the_same_in_every_mode_is_so_over_the_cycle(name: str, per_work: float, rated: float) -> None:
    power = rated * np.array([one.torque for one in cycle(name).modes])
    assert weighted(per_work * power, power, name) == pytest.approx(per_work, rel=1e-12)


@given(names, st.data())
def test_the_cycle_lies_between_its_modes(name: str, data: st.DataObject) -> None:
    count = len(cycle(name).modes)
    power = data.draw(arrays(float, count, elements=st.floats(1e4, 1e6)))
    flow = data.draw(arrays(float, count, elements=st.floats(1e-6, 1e-2)))
    per_work = weighted(flow, power, name)
    assert (flow / power).min() * (1 - 1e-12) <= per_work <= (flow / power).max() * (1 + 1e-12)


def test_it_is_no_mean_of_the_modes_own_values() -> None:
    """A low mode with much per work has little work: it weighs less than its weight."""
    power = 1e6 * np.array([1.0, 0.75, 0.5])
    per_work = np.array([1.0, 1.0, 4.0])
    over_cycle = weighted(per_work * power, power, "D1")
    assert over_cycle == pytest.approx((0.3 + 0.5 * 0.75 + 0.2 * 0.5 * 4) / (0.3 + 0.375 + 0.1))
    assert over_cycle < float(np.array([0.3, 0.5, 0.2]) @ per_work)


def test_many_tests_at_once() -> None:
    draw = np.random.default_rng(1)
    flow, power = draw.uniform(0.1, 1.0, (5, 40)), draw.uniform(1e5, 1e6, (5, 40))
    together = weighted(flow, power, "D2")
    assert together.shape == (40,)
    assert np.allclose(together, [weighted(flow[:, k], power[:, k], "D2") for k in range(40)], rtol=1e-14)
    assert np.isnan(weighted(np.zeros(5), np.zeros(5), "D2"))


def test_a_mode_too_few_is_refused() -> None:
    with pytest.raises(InputError, match="5 modes of D2"):
        weighted(np.ones(4), np.ones(4), "D2")
    with pytest.raises(UnknownNameError):
        cycle("C1")


def test_the_ramped_cycle_takes_each_mode_once() -> None:
    order = [one.ramped_order for one in cycle("D2").modes]
    assert sorted(one for one in order if one is not None) == [1, 2, 3, 4, 5]
    assert all(one.ramped_seconds is None for one in cycle("D1").modes)
    assert cycle("d1").mean_load == pytest.approx(0.775)


@given(st.floats(1e4, 2e7), st.floats(0.01, 1.3))
def test_a_load_within_ten_per_cent_is_fair(full: float, share: float) -> None:
    fair = may_be_run(share * full, full, "zzzz")
    if abs(share - 0.9) > 1e-9 and abs(share - 1.1) > 1e-9:
        assert fair == (1.0 if 0.9 < share < 1.1 else 0.0)


def test_rules_on_the_load() -> None:
    assert allowed_power(1000.0, "jjjj") == (900.0, np.inf)
    assert np.isnan(may_be_run(np.array([0.0, 900.0]), np.array([1000.0, 0.0]))).all()
    assert load_rule("bimschv_44").lowest is None
    assert may_be_run(500.0, 1000.0, "bimschv_44") == 1.0
    assert {one.found for one in load_rules()} <= {"read", "second hand", "from memory"}
    with pytest.raises(UnknownNameError):
        load_rule("none")
