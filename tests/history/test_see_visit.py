"""Before and after a visit; which signal leads; hunting."""

from __future__ import annotations

import numpy as np
import pytest

from asfound.errors import InputError
from asfound.history.hunting import hunting, transfer
from asfound.history.leads import which_leads
from asfound.history.timeline import DAY
from asfound.history.unknown_memory import mixed_over_memory
from asfound.history.visit_effect import before_after

HOUR = 3600.0


def around_a_visit(seed, moved, load_after=0.0, phi=0.7, slope=0.0):
    random = np.random.default_rng(seed)
    n = 80 * 24
    time = np.arange(n) * HOUR
    visit = 40 * DAY
    after = time >= visit
    load = 75.0 + 5.0 * random.standard_normal(n) + load_after * after
    noise = random.standard_normal(n)
    for i in range(1, n):
        noise[i] = phi * noise[i - 1] + np.sqrt(1 - phi**2) * noise[i]
    y = 500.0 + 1.1 * (load - 75.0) + moved * after + slope * time / DAY + 3.0 * noise
    return time, y, visit, {"load": load}


def test_a_difference_at_equal_load_although_the_load_changed():
    found = before_after(*around_a_visit(1, -6.0, load_after=4.0), wanted="lower")
    assert found.difference.holds(-6.0)
    assert found.plain == pytest.approx(-1.6, abs=1.0)  # what the plain medians would say
    assert found.verdict == "worked"
    assert found.words.startswith("The repair worked")
    assert found.after.value - found.before.value == pytest.approx(found.difference.value)


def test_forty_visits_without_effect_hold_zero_and_seldom_claim_one():
    held, claimed = 0, 0
    for seed in range(40):
        found = before_after(*around_a_visit(seed, 0.0, load_after=3.0), wanted="lower")
        held += found.difference.holds(0.0)
        claimed += found.verdict in ("worked", "worse")
    assert held >= 35
    assert claimed <= 7  # 5 % on either side


def test_noise_that_wanders_for_weeks_claims_no_effect_more_often_than_it_says():
    """One in ten by design, five on either side; the memory of the noise is not known beforehand."""
    held = claimed = 0
    for seed in range(40):
        random = np.random.default_rng([9, seed])
        time, y, visit, effects = around_a_visit(seed, 0.0, load_after=3.0)
        slow = random.standard_normal(80)
        for i in range(1, 80):
            slow[i] = 0.9 * slow[i - 1] + np.sqrt(0.19) * slow[i]
        found = before_after(time, y + 3.0 * np.repeat(slow, 24), visit, effects, wanted="lower")
        held += found.difference.holds(0.0)
        claimed += found.verdict in ("worked", "worse")
    assert held >= 35
    assert claimed <= 8  # 4 meant; more than 8 of 40 in 1 of 100 by chance


def test_one_memory_is_generalised_least_squares():
    """White noise far beyond what wanders: the mixture is Student's test for two means (SciPy)."""
    from scipy import stats

    y = np.random.default_rng(3).standard_normal(60)
    design = np.column_stack([np.ones(60), np.arange(60) >= 30]).astype(float)
    when = 1000.0 * np.arange(60.0)  # so far apart that nothing is remembered
    told = mixed_over_memory(y, design, 1, when, np.ones(60))
    same = stats.ttest_ind(y[30:], y[:30])
    assert told.below(0.0) == pytest.approx(stats.t.sf(same.statistic, 58), rel=1e-6)
    interval = told.estimate(0.95)
    assert (interval.low, interval.high) == pytest.approx(tuple(same.confidence_interval(0.95)), rel=1e-6)


def test_verdicts():
    assert before_after(*around_a_visit(3, 6.0), wanted="lower").verdict == "worse"
    assert before_after(*around_a_visit(3, -6.0), wanted="lower", matters=12.0).verdict == "not enough"
    assert before_after(*around_a_visit(3, 6.0)).verdict == "moved"
    assert np.isnan(before_after(*around_a_visit(3, 6.0)).probability)


def test_a_drift_through_the_visit_is_not_its_effect():
    found = before_after(*around_a_visit(4, -5.0, slope=0.2), wanted="lower")
    assert found.slope is not None
    assert found.slope.holds(0.2)
    assert found.difference.holds(-5.0)


def test_loads_that_do_not_overlap_are_told():
    found = before_after(*around_a_visit(5, -5.0, load_after=40.0))
    assert found.shared < 0.05
    time, y, _, effects = around_a_visit(6, 0.0)
    with pytest.raises(InputError, match="before and"):
        before_after(time, y, 0.0, effects)


# --- which leads


def swings(seed, delay=3):
    """Load swings with a period near 47 s; speed follows after a delay and a lag of first order."""
    random = np.random.default_rng(seed)
    n = 3000
    wander = random.standard_normal(n)
    for i in range(1, n):
        wander[i] += 0.9 * wander[i - 1]
    load = wander + 4.0 * np.sin(2 * np.pi * np.arange(n) / 47.0 + 0.02 * random.standard_normal(n).cumsum())
    speed = np.zeros(n)
    for i in range(delay, n):
        speed[i] = 0.7 * speed[i - 1] - 0.15 * load[i - delay]
    return np.arange(float(n)), load, speed + 0.3 * random.standard_normal(n)


def test_load_leads_speed():
    time, load, speed = swings(1)
    found = which_leads(time, load, speed, 60.0, ("load", "speed"))
    assert found.first == "a"
    assert found.lag.low <= 3.0 <= found.lag.high
    assert found.correlation < 0.0
    assert found.words.startswith("load moves first")
    turned = which_leads(time, speed, load, 60.0)
    assert turned.first == "b"
    assert turned.lag.value == pytest.approx(-found.lag.value, abs=0.5)


def test_two_slow_signals_without_link_are_not_linked():
    """Two random walks correlate strongly by chance; whitened they do not. Ten pairs."""
    random = np.random.default_rng(2)
    for _ in range(10):
        a, b = random.standard_normal((2, 2000)).cumsum(axis=1)
        assert which_leads(np.arange(2000.0), a, b, 50.0).first == "neither"


def test_a_log_slower_than_the_lag_cannot_tell():
    time, load, speed = swings(3, delay=1)
    found = which_leads(time[::20], load[::20], speed[::20], 400.0)
    assert found.first in ("neither", "together")
    with pytest.raises(InputError, match="too few"):
        which_leads(time[:50], load[:50], speed[:50], 10.0)


def test_hunting_has_a_period_and_a_size():
    time, load, speed = swings(4)
    found = hunting(time, load)
    assert found.found
    assert found.period.holds(47.0)
    assert found.amplitude.holds(4.0)
    follows = transfer(time, load, speed, 47.0)
    w = 2 * np.pi / 47.0
    true = -0.15 * np.exp(-3j * w) / (1.0 - 0.7 * np.exp(-1j * w))
    assert follows.gain.value == pytest.approx(abs(true), rel=0.03)
    assert follows.delay.value == pytest.approx(-np.angle(true) / w, abs=0.3)
    assert follows.coherence > 0.9


def test_noise_that_remembers_does_not_hunt():
    random = np.random.default_rng(5)
    for phi in (0.0, 0.9, 0.97):
        x = random.standard_normal(3000)
        for i in range(1, x.size):
            x[i] += phi * x[i - 1]
        assert not hunting(np.arange(3000.0), x).found


def test_when_it_hunts():
    random = np.random.default_rng(6)
    time = np.arange(4000.0)
    x = random.standard_normal(4000) + np.where(time > 2000.0, 3.0 * np.sin(time / 5.0), 0.0)
    found = hunting(time, x)
    assert found.found
    assert found.amplitudes[found.times > 2200.0].min() > 3.0 * found.amplitudes[found.times < 1800.0].max()
