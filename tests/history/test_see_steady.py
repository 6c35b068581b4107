"""Steady windows, bins, and the baseline that is silent outside what it saw."""

from __future__ import annotations

import numpy as np
import pytest

from asfound.errors import InputError
from asfound.history.baseline import baseline
from asfound.history.steady import SteadySettings, load_speed_bins, started, steady, still, variance_ratio

TEN_MINUTES = 600.0


def day_of_an_engine():
    """Return time, running, load, speed: started at 02:00, load step from 60 to 80 % at 12:00, stopped at 22:00."""
    time = np.arange(144) * TEN_MINUTES
    running = (time >= 7200.0) & (time < 22 * 3600.0)
    load = np.where(running, np.where(time < 12 * 3600.0, 60.0, 80.0), 0.0)
    return time, running, load, np.where(running, 1000.0, 0.0)


def test_what_counts_is_running_warm_and_settled():
    time, running, load, speed = day_of_an_engine()
    found = steady(time, running, load, speed, SteadySettings(warm_up=3 * 3600.0, settle=3600.0))
    assert not found.counts[time < 5 * 3600.0].any()
    assert found.counts[(time >= 5.1 * 3600.0) & (time < 12 * 3600.0)].all()
    assert not found.counts[(time >= 12 * 3600.0) & (time < 13 * 3600.0)].any()
    assert found.counts[(time > 13.2 * 3600.0) & (time < 22 * 3600.0)].all()
    assert len(found.windows) == 2
    assert sum(found.why_not.values()) + found.counts.sum() == time.size


def test_a_gap_in_the_log_counts_as_a_stop():
    time = np.concatenate([np.arange(50), np.arange(100, 150)]) * TEN_MINUTES
    began = started(time, np.ones(100, dtype=bool))
    assert began[49] == 0.0
    assert began[50] == time[50]
    assert started(time, np.zeros(100, dtype=bool))[3] == np.inf


def test_rate_and_spread_each_unsettle():
    time = np.arange(200) * 60.0
    quiet = 50.0 + 0.1 * np.sin(np.arange(200.0))
    assert still(time, quiet, 1800.0, 2.0)[40:].all()
    ramp = quiet + 3.0 * time / 3600.0
    assert not still(time, ramp, 1800.0, 2.0)[40:].any()
    rough = 50.0 + 2.0 * np.sin(np.arange(200.0))
    assert not still(time, rough, 1800.0, 2.0)[40:].any()
    with_gap = quiet.copy()
    with_gap[100] = np.nan
    assert not still(time, with_gap, 1800.0, 2.0)[100:130].any()


def test_units_change_nothing():
    time, running, load, speed = day_of_an_engine()
    one = steady(time, running, load, speed).counts
    assert (steady(time, running, 7.0 * load, speed / 60.0).counts == one).all()
    assert (steady((time * 1e6).astype(np.int64), running, load, speed).counts == one).all()


def test_variance_ratio_is_one_when_steady_and_large_on_a_ramp():
    """Cao and Rhinehart 1995: about 1 for white noise about a level, well above 2 on a slope."""
    noise = np.random.default_rng(1).standard_normal(20_000)
    assert np.nanmedian(variance_ratio(noise)) == pytest.approx(1.0, abs=0.1)
    assert np.median(variance_ratio(noise + np.arange(20_000.0))[200:]) > 5.0


def test_bins_hold_each_sample_once():
    random = np.random.default_rng(2)
    load, speed = random.uniform(0.0, 100.0, 500), random.uniform(900.0, 1100.0, 500)
    load[:2] = [100.0, np.nan]
    found = load_speed_bins(
        load, speed, np.ones(500, dtype=bool), np.linspace(0, 100, 11), np.array([900.0, 1000, 1100])
    )
    assert found.counts.shape == (10, 2)
    assert found.counts.sum() == 499
    assert found.code[1] == -1
    assert (np.bincount(found.code[found.code >= 0], minlength=20) == found.counts.ravel()).all()


# --- baseline


def fitted(seed=3, bow=0.0):
    random = np.random.default_rng(seed)
    n = 2000
    load, ambient = random.uniform(50.0, 95.0, n), random.uniform(-5.0, 30.0, n)
    y = (
        480.0
        + 1.2 * (load - 75.0)
        + 0.5 * (ambient - 15.0)
        + bow * (load - 75.0) ** 2
        + 2.0 * random.standard_normal(n)
    )
    y[::50] -= 80.0
    values = {"load": load, "ambient": ambient}
    return y, values, baseline(y, values, reference={"load": 75.0, "ambient": 15.0}, time=np.arange(n) * 3600.0)


def test_a_baseline_finds_the_effects_through_outliers():
    _, _, found = fitted()
    assert found.effect("level").holds(480.0)
    assert found.effect("load").holds(1.2)
    assert found.effect("ambient").holds(0.5)
    assert found.bent == ()
    assert found.fit.scale == pytest.approx(2.0, rel=0.1)


def test_a_bowed_effect_is_seen_by_itself():
    _, _, found = fitted(bow=0.02)
    assert found.bent == ("load",)
    assert found.effect("load^2").holds(0.02)


def test_it_says_nothing_outside_its_range():
    _, _, found = fitted()
    asked = {"load": np.array([75.0, 40.0, 75.0]), "ambient": np.array([15.0, 15.0, 45.0])}
    answer = found.expected(asked)
    assert np.isfinite(answer.value).tolist() == [True, False, False]
    assert answer.low[0] < 480.0 < answer.high[0]
    assert "load 40 lies outside" in found.why_not({"load": 40.0, "ambient": 15.0})
    assert found.why_not({"load": 75.0, "ambient": 15.0}) == ""


def test_a_combination_that_never_occurred_is_refused():
    random = np.random.default_rng(4)
    load = random.uniform(50.0, 95.0, 1000)
    ambient = 0.5 * load + random.standard_normal(1000)
    found = baseline(load + ambient + random.standard_normal(1000), {"load": load, "ambient": ambient})
    assert not found.covers({"load": np.array([55.0]), "ambient": np.array([46.0])})[0]
    assert "did not occur" in found.why_not({"load": 55.0, "ambient": 46.0})


def test_single_readings_lie_in_their_interval():
    y, values, found = fitted(5)
    answer = found.expected(values)
    sound = np.arange(y.size) % 50 != 0
    inside = (y >= answer.low) & (y <= answer.high)
    assert inside[sound & np.isfinite(answer.value)].mean() == pytest.approx(0.95, abs=0.02)
    assert np.nanmedian(found.normalised(y, values)) == pytest.approx(480.0, abs=0.3)


def test_what_never_moved_is_told():
    y, values, _ = fitted(6)
    found = baseline(y, {**values, "speed": np.full(y.size, 1000.0)})
    assert found.left_out == ("speed",)
    with pytest.raises(InputError, match="too few"):
        baseline(y[:10], {k: v[:10] for k, v in values.items()})
