"""Drift and steps beside load and weather, when they began, when a limit is reached. Truth is known: made here."""

from __future__ import annotations

import numpy as np
import pytest

from asfound.errors import InputError
from asfound.history.drift import drift
from asfound.history.drift_model import Model, choose
from asfound.history.drift_parts import drift_by_parts
from asfound.history.time_to_limit import crossed, fieller, of_drift, time_to_limit
from asfound.history.timeline import DAY, HOUR, blocks, run_hours, seconds

STEP = 6 * 3600.0
N = 500 * 4
REFERENCE = {"load": 75.0, "ambient": 15.0, "speed": 1000.0}


def case(seed, slope=0.0, steps=(), load_trend=0.0, bend=0.0, onset=0.0):
    """Return time, signal, effects: 500 days of exhaust temperature with load, ambient and speed in it."""
    random = np.random.default_rng(seed)
    time = np.arange(N) * STEP
    hours = time / 3600.0 / 1000.0
    load = 75.0 + 6.0 * np.sin(np.arange(N) / 3.1) + 3.0 * random.standard_normal(N) + load_trend * hours
    ambient = 12.0 + 9.0 * np.sin(2 * np.pi * time / (365.25 * DAY)) + 2.0 * random.standard_normal(N)
    speed = 1000.0 + 1.5 * random.standard_normal(N)
    y = 430.0 + 1.1 * load + 0.6 * (ambient - 15.0) + 0.02 * (speed - 1000.0) + 3.0 * random.standard_normal(N)
    y += slope * np.maximum(hours - onset, 0.0) + bend * hours**2
    for at, size in steps:
        y[at:] += size
    wild = random.random(N) < 0.01
    y[wild] += random.uniform(20.0, 60.0, int(wild.sum()))
    return time, y, {"load": load, "ambient": ambient, "speed": speed}


def test_a_drift_is_found_beside_a_load_that_rises():
    """A plain slope would be wrong: the load's own trend gives 1.1 x 2 per 1,000 h."""
    time, y, effects = case(1, slope=0.8, load_trend=2.0)
    found = drift(time, y, effects, reference=REFERENCE)
    assert found.kind == "drift"
    assert found.slope.holds(0.8)
    assert found.effects["load"].holds(1.1)
    assert found.effects["ambient"].holds(0.6)
    assert found.effects["speed"].holds(0.02)
    assert found.level.holds(430.0 + 1.1 * 75.0 + 0.8 * time[-1] / 3.6e6)
    assert found.scale == pytest.approx(3.0, rel=0.1)


def test_rising_load_alone_is_no_drift():
    found = drift(*case(2, load_trend=3.0), reference=REFERENCE)
    assert found.kind == "none"
    assert found.odds["none"] > 0.8
    assert found.slope.holds(0.0)
    assert of_drift(found, found.level.value + 50.0).never > 0.2


def test_a_step_is_not_taken_for_a_slope():
    time, y, effects = case(3, steps=[(900, -6.0)])
    found = drift(time, y, effects, reference=REFERENCE)
    assert found.kind == "step"
    assert found.odds["drift"] < 1e-6
    assert found.steps[0].size.holds(-6.0)
    assert found.steps[0].earliest <= time[900] <= found.steps[0].latest
    assert found.slope.holds(0.0)


def test_drift_and_step_at_a_visit_are_told_apart():
    time, y, effects = case(4, slope=0.8, steps=[(1200, -9.0)])
    visits = time[[500, 1200, 1700]]
    found = drift(time, y, effects, visits=visits, reference=REFERENCE)
    assert found.kind == "both"
    assert [step.visit for step in found.steps] == [1]
    assert found.steps[0].size.holds(-9.0)
    assert found.slope.holds(0.8)


def test_when_a_drift_began():
    time, y, effects = case(5, slope=2.0, onset=6.0)
    found = drift(time, y, effects, reference=REFERENCE)
    assert found.began is not None
    assert found.began.earliest <= 6.0e3 * 3600.0 <= found.began.latest
    assert found.began.latest - found.began.earliest < 200.0 * DAY
    assert found.slope.holds(2.0)
    assert found.level.holds(430.0 + 1.1 * 75.0 + 2.0 * (time[-1] / 3.6e6 - 6.0))


def test_a_bent_drift_is_told_by_its_slope_now():
    time, y, effects = case(6, slope=0.2, bend=0.2)
    found = drift(time, y, effects, reference=REFERENCE)
    assert found.trend == 2
    assert found.bend is not None
    assert found.bend.holds(0.4)
    now = time[-1] / 3.6e6
    assert found.slope.holds(0.2 + 0.4 * now)
    limit = found.level.value + 10.0
    a, b = 0.2, 0.2 + 0.4 * now
    true = (-b + np.sqrt(b * b + 4 * a * 10.0)) / (2 * a) * 1000.0
    answer = of_drift(found, limit, above=True)
    assert answer.low <= true <= answer.high


def test_whole_microseconds_and_units_change_nothing():
    time, y, effects = case(7, slope=0.8, steps=[(700, 5.0)])
    one = drift(time, y, effects, reference=REFERENCE)
    other = drift((time * 1e6).astype(np.int64), 1.8 * y + 32.0, effects, reference=REFERENCE)
    assert other.slope.value == pytest.approx(1.8 * one.slope.value, rel=1e-3)
    assert other.level.value == pytest.approx(1.8 * one.level.value + 32.0, rel=1e-5)
    assert [s.time for s in other.steps] == [s.time for s in one.steps]


def test_an_effect_that_never_moved_is_named():
    time, y, effects = case(8)
    found = drift(time, y, {**effects, "speed": np.full(N, 1000.0)}, reference=REFERENCE)
    assert found.left_out == ("speed",)


def test_too_few_days_are_refused():
    time, y, effects = case(9)
    few = slice(0, 40)
    with pytest.raises(InputError, match="days"):
        drift(time[few], y[few], {k: v[few] for k, v in effects.items()})


def test_run_hours_do_not_count_gaps_and_stops():
    time = np.array([0.0, 3600.0, 7200.0, 7200.0 + 10 * DAY, 7200.0 + 10 * DAY + 3600.0])
    running = np.array([True, False, True, True, True])
    assert run_hours(time, running) == pytest.approx([0.0, 1.0, 1.0, 3.0, 4.0])
    assert seconds(np.array(["1970-01-01T00:01"], dtype="datetime64[m]"))[0] == 60.0
    which, days = blocks(time)
    assert which.tolist() == [0, 0, 0, 1, 1]
    assert days.tolist() == [0, 10]


def test_models_without_time_are_the_shortest_for_noise():
    random = np.random.default_rng(10)
    found = choose(random.standard_normal(200), np.ones((200, 1)), np.linspace(-5.0, 0.0, 200), [])
    assert found.model == Model(found.model.length, 0, (), None)
    assert sum(found.odds.values()) == pytest.approx(1.0)


# --- time to limit


def test_hours_to_a_limit_and_fiellers_interval():
    """Draws against the closed form; limit 10 above, slope 1 +- 0.1 per 1,000 h."""
    value, covariance = np.array([0.0, 1.0]), np.diag([0.04, 0.01])
    found = time_to_limit(value, covariance, 10.0, data_hours=50_000.0)
    low, high = fieller(0.0, 1.0, covariance, 10.0, 1.959964)
    assert found.hours == pytest.approx(10_000.0, rel=0.01)
    assert found.low == pytest.approx(1000.0 * low, rel=0.01)
    assert found.high == pytest.approx(1000.0 * high, rel=0.015)
    assert found.never == 0.0
    assert "beyond" not in found.words
    assert "beyond" in time_to_limit(value, covariance, 30.0, data_hours=5000.0).words


def test_never_is_the_probability_that_the_slope_goes_away():
    found = time_to_limit(np.array([0.0, 0.1]), np.diag([1e-6, 0.01]), 10.0)
    assert found.never == pytest.approx(0.1587, abs=0.01)  # a standard normal beyond 1
    assert found.high == np.inf
    assert fieller(0.0, 0.1, np.diag([1e-6, 0.01]), 10.0, 1.96) == (-np.inf, np.inf)
    away = time_to_limit(np.array([0.0, -1.0]), np.diag([1e-6, 0.01]), 10.0)
    assert away.never > 0.999
    assert away.words.startswith("Never")


def test_a_lower_limit_mirrors_an_upper_one():
    up = time_to_limit(np.array([5.0, 1.0]), np.diag([0.1, 0.01]), 15.0)
    down = time_to_limit(np.array([-5.0, -1.0]), np.diag([0.1, 0.01]), -15.0)
    assert down.hours == pytest.approx(up.hours, rel=0.01)
    there = time_to_limit(np.array([16.0, 1.0]), np.diag([0.1, 0.01]), 15.0, above=True)
    assert there.hours == 0.0
    assert there.reached > 0.99


def test_when_a_limit_was_passed_within_the_data():
    time, y, effects = case(11, slope=1.5, steps=[(600, 4.0)])
    found = drift(time, y, effects, reference=REFERENCE)
    limit = 430.0 + 1.1 * 75.0 + 1.5 * 7.0 + 4.0  # true value after 7,000 h, behind the step
    passed = crossed(time, time / 3600.0, found, limit)
    assert passed.earliest <= 7000.0 * 3600.0 <= passed.latest
    assert passed.latest - passed.earliest < 40.0 * DAY
    assert passed.probability == 1.0
    assert crossed(time, time / 3600.0, found, limit + 100.0).time == np.inf


def test_what_a_repair_took_away_does_not_go_on():
    """Drift of 2 per 1,000 h until a repair that sets it back; none after."""
    time, y, effects = case(12)
    hours = time / 3.6e6
    y += np.where(np.arange(N) < 1200, 2.0 * hours, 0.0)
    before, after = drift_by_parts(time, y, effects, [time[1200]], reference=REFERENCE)
    assert before.drift.kind == "drift"
    assert before.drift.slope.holds(2.0)
    assert after.drift.kind == "none"
    assert after.drift.slope.holds(0.0)
    assert after.onto is not None
    assert after.onto.holds(-2.0 * hours[1200])
    assert drift_by_parts(time, y, effects, [], reference=REFERENCE)[0].onto is None


def test_a_passage_of_days_and_a_gap_lie_within_the_interval_of_a_step():
    """A level that takes four days began at their beginning; one that changed while nobody looked may have any time."""
    random = np.random.default_rng(21)
    time = np.arange(400 * 8) * 3.0 * HOUR
    way = np.interp(time, [200.0 * DAY, 204.0 * DAY], [0.0, 30.0])
    (step,) = drift(time, way + random.standard_normal(time.size), {}).steps
    assert step.earliest <= 200.5 * DAY
    assert 203.0 * DAY <= step.latest <= 206.0 * DAY
    seen = (time < 250.0 * DAY) | (time > 259.0 * DAY)
    jump = 30.0 * (time > 255.0 * DAY) + random.standard_normal(time.size)
    (step,) = drift(time[seen], jump[seen], {}).steps
    assert step.earliest < 250.0 * DAY
    assert step.latest >= 259.0 * DAY
