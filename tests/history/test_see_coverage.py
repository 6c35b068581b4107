"""Intervals of a drift hold the truth about as often as they say. A small part of `benchmarks.history_coverage`."""

from __future__ import annotations

import math

import numpy as np
import pytest
from benchmarks.history_coverage import a_log, asked, limit_held, onset_of

from asfound.history.drift_courses import KINDS, SHAPES, Shape
from asfound.history.timeline import DAY

FEW = 3


def test_onset_level_and_limit_hold_for_many_courses():
    """45 of 50 ought to hold; below 40 is chance in fewer than 2 of 100 runs."""
    onset, level, limit = [], [], []
    for c, course in enumerate(("straight", "slow start", "settles", "S")):
        for k, noise in enumerate(("white", "days remember")):
            for seed in range(FEW):
                truth = a_log(course, noise, [20330202, c, k, seed])
                found = asked(truth)
                assert found.kind in ("drift", "both")
                when = onset_of(truth, found)
                onset.append(when is not None and when[1] - DAY <= truth.began <= when[2] + DAY)
                level.append(found.level.holds(truth.now))
                limit.append(limit_held(truth, found))
    assert np.mean(onset) >= 0.75
    assert np.mean(level) >= 0.75
    assert np.mean(limit) >= 0.7


def test_a_step_and_a_fault_of_months_are_steps_with_their_time():
    held, as_it_is = [], []
    for c, course in enumerate(("step", "comes and goes")):
        for seed in range(FEW):
            truth = a_log(course, "days remember", [20330203, c, seed])
            found = asked(truth)
            as_it_is.append(found.kind == "step" and len(found.steps) == 1 + math.isfinite(truth.back))
            near = min(found.steps, key=lambda step, truth=truth: abs(step.time - truth.began))
            held.append(near.earliest - DAY <= truth.began <= near.latest + DAY)
            assert near.size.value == pytest.approx(truth.size, abs=2.5)
    assert np.mean(as_it_is) >= 0.6
    assert np.mean(held) >= 0.8


def test_nothing_is_seldom_taken_for_something():
    kinds = [
        asked(a_log("nothing", noise, [20330204, seed])).kind for noise in ("white", "gaps") for seed in range(FEW)
    ]
    assert kinds.count("none") >= len(kinds) - 1


def test_a_large_fault_of_months_is_no_outlier():
    """55 K for 200 days of 910 in a scatter of half a kelvin, no drift beside it."""
    random = np.random.default_rng(20330205)
    time = np.arange(910 * 4) * (DAY / 4)
    load = 75.0 + 5.0 * random.standard_normal(time.size)
    y = 1.1 * load + 0.5 * random.standard_normal(time.size)
    y[500 * 4 : 700 * 4] -= 55.0
    from asfound.history.drift import drift

    found = drift(time, y, {"load": load})
    assert found.kind == "step"
    assert [round(step.time / DAY) for step in found.steps] == [500, 700]
    assert found.steps[0].size.holds(-55.0)


def test_every_course_goes_from_nothing_to_all_and_its_pace_is_its_slope():
    share = np.linspace(0.0, 1.0, 1001)
    edges = [Shape(k, value, 0.1) for k, kind in enumerate(KINDS) for value in (kind.low, kind.high)]
    for shape in (*SHAPES, *edges):
        gone = shape.gone(share)
        assert gone[0] == pytest.approx(0.0, abs=1e-12)
        assert gone[-1] == pytest.approx(1.0)
        assert (np.diff(gone) >= -1e-12).all()
        assert shape.pace == pytest.approx((gone[-1] - gone[-2]) * 1000.0, abs=0.03 * max(shape.pace, 1.0))
    assert sum(shape.prior for shape in SHAPES) == pytest.approx(1.0)
