"""Anomalies of one signal and of several together; life left."""

from __future__ import annotations

import numpy as np
import pytest

from asfound.errors import InputError
from asfound.history.anomaly import watch
from asfound.history.anomaly_joint import watch_together
from asfound.history.anomaly_joint_tests import shrunk_covariance
from asfound.history.timeline import DAY
from asfound.history.wear_out import fit_fleet

HOUR = 3600.0


def daily(seed, days=60):
    random = np.random.default_rng(seed)
    time = np.arange(days * 24) * HOUR
    return time, 20.0 + 5.0 * np.sin(2 * np.pi * time / DAY) + random.standard_normal(time.size)


def test_a_sound_signal_raises_no_alarm():
    alarms = sum(len(watch(*daily(seed)).events) for seed in range(5))
    assert alarms == 0


def test_a_fault_within_the_daily_swing_is_seen():
    """The value stays within the range of the day: only the time of day makes it odd."""
    time, x = daily(1)
    fault = slice(40 * 24 + 4, 40 * 24 + 8)
    x[fault] -= 9.0
    found = watch(time, x)
    assert found.daily
    assert x[fault].min() > x.min() - 6.0
    assert len(found.events) == 1
    assert time[fault][0] <= found.events[0].start <= time[fault][-1]
    assert found.events[0].kind == "sudden"


def test_a_lasting_small_shift_is_seen_and_told_once():
    time, x = daily(2)
    x[45 * 24 :] += 2.5
    found = watch(time, x)
    assert found.events
    assert found.events[0].kind == "lasting"
    assert 45 * DAY <= found.events[0].start <= 48 * DAY


@pytest.mark.parametrize("fault", ["frozen", "noisier", "swings"])
def test_a_signal_that_moves_as_it_never_did(fault):
    """The level keeps within what is usual; only the moves from sample to sample tell."""
    random = np.random.default_rng(82)
    time = np.arange(40 * 144) * 600.0
    x = 70.0 + 3.0 * np.sin(2 * np.pi * time / (3.0 * DAY)) + 0.5 * random.standard_normal(time.size)
    part = slice(30 * 144, 31 * 144)
    x[part] = {
        "frozen": np.full(144, x[30 * 144]), "noisier": x[part] + 2.0 * random.standard_normal(144),
        "swings": x[part] + 2.0 * np.sin(np.arange(144) * 2.0),
    }[fault]  # fmt: skip
    events = watch(time, x).events
    assert [one.kind for one in events] == ["noise"]
    assert 30.0 * DAY <= events[0].start <= 30.4 * DAY


def test_nothing_looks_ahead():
    """What comes later changes no score before it."""
    time, x = daily(3)
    changed = x.copy()
    changed[50 * 24 :] += 100.0
    cut = 50 * 24
    assert (watch(time, x).score[:cut] == watch(time, changed).score[:cut]).all()


def test_gaps_and_units_change_nothing():
    time, x = daily(4)
    x[45 * 24 : 45 * 24 + 6] += 12.0
    x[500:520] = np.nan
    one = watch(time, x)
    other = watch((time * 1e6).astype(np.int64), 1.8 * x + 32.0)
    assert other.score == pytest.approx(one.score, rel=1e-6, abs=1e-9)
    assert (one.score[500:520] == 0.0).all()
    assert not watch(time[:20], x[:20]).alarm.any()


def square_days(seed):
    """Return time, values, mask of day 10's on-time: on and off each day at about the same time, every 5 minutes."""
    random = np.random.default_rng(seed)
    time = np.arange(14 * 288) * 300.0
    day, hour = (time // DAY).astype(int), time % DAY / HOUR
    on = (hour >= (9.0 + random.uniform(-0.3, 0.3, 14))[day]) & (hour < (18.0 + random.uniform(-0.3, 0.3, 14))[day])
    return time, np.where(on, 80.0, 20.0) + random.uniform(-3.0, 3.0, time.size), on & (day == 10)


@pytest.mark.parametrize("change", [70.0, -40.0, -60.0, 0.0])
def test_a_day_unlike_the_others(change):
    """Higher, lower, not switched on, or as always; switching half an hour early or late is no fault."""
    time, x, odd = square_days(8)
    x[odd] += change
    found = watch(time, x)
    assert len(found.events) == (1 if change else 0)
    for one in found.events:
        assert 10.3 * DAY < one.start < 10.8 * DAY


def test_a_signal_without_noise_raises_no_alarm():
    time, x, _ = square_days(9)
    assert not watch(time, np.round(x / 60.0) * 60.0).events
    assert not watch(time, np.full(x.size, 45.0)).events


# --- together


def six(seed, n=3000):
    random = np.random.default_rng(seed)
    common = random.standard_normal((n, 2))
    for i in range(1, n):
        common[i] += 0.9 * common[i - 1]
    return np.arange(float(n)), common @ random.standard_normal((2, 6)) + 0.5 * random.standard_normal((n, 6))


def as_channels(x):
    return {f"c{k}": x[:, k] for k in range(x.shape[1])}


def test_a_channel_that_leaves_the_others_is_named():
    """Its own value is nothing unusual: the shift is less than its standard deviation."""
    time, x = six(1)
    x[2000:2300, 2] += 2.5
    assert x[:1000, 2].std() > 2.0
    found = watch_together(time, as_channels(x), 1000)
    hits = [one for one in found.events if one.end >= 2000.0 and one.start <= 2300.0]
    assert hits
    assert "c2" in hits[0].channels
    assert found.alarm[2010:2290].mean() > 0.5


def test_sound_channels_seldom_alarm():
    share = [
        np.nanmean(watch_together(six(seed)[0], as_channels(six(seed)[1]), 1000).alarm[1000:]) for seed in range(4)
    ]
    assert np.mean(share) < 0.02


def test_a_channel_that_wanders_as_before_is_followed():
    time, x = six(5)
    x[:, 4] += np.linspace(0.0, 3.0, len(x))
    assert watch_together(time, as_channels(x), 1000).alarm[1000:].mean() < 0.05


def test_an_alarm_that_stands_is_told_once_and_coming_back_is_short():
    """A lasting fault ends as news after the time learned from; when it is mended only the way back is seen."""
    for seed in range(3):
        time, x = six(seed, 5000)
        x[1500:3500, 2] += 12.0
        found = watch_together(time, as_channels(x), 1000)
        (stood,) = [one for one in found.events if one.stood]
        assert sum(one.end - one.start for one in found.events if one is not stood) < 100.0
        assert stood.start == pytest.approx(1500.0, abs=5.0)
        assert stood.end == pytest.approx(2500.0, abs=30.0)


def test_a_fault_that_does_not_leave_all_as_it_was_is_over():
    """After it a slow channel has wandered off, as it does."""
    time, x = six(4)
    x[1300:1800, 1] += 10.0
    x[:, 5] += np.clip((time - 1300.0) / 500.0, 0.0, 1.0) * 1.5
    found = watch_together(time, as_channels(x), 1000)
    assert found.alarm[1310:1790].mean() > 0.95
    assert found.alarm[1850:].mean() < 0.1


@pytest.mark.parametrize("fault", ["noise", "swing", "own way"])
def test_a_fault_about_the_same_mean_is_seen(fault):
    """More noise, a quick swing, or a channel that keeps mean and spread but no longer goes with the others."""
    time, x = six(8)
    random, part = np.random.default_rng(81), slice(2000, 2300)
    wide = float(x[:1000, 3].std())
    if fault == "noise":
        x[part, 3] += wide * random.standard_normal(300)
    elif fault == "swing":
        x[part, 3] += 1.5 * wide * np.sin(np.arange(300) * 2.0)
    else:
        x[part, 3] = x[:1000, 3].mean() + wide * random.standard_normal(300)
    found = watch_together(time, as_channels(x), 1000)
    assert found.alarm[2030:2300].mean() > 0.6
    assert any("c3" in one.channels for one in found.events if one.end >= 2000.0 and one.start <= 2300.0)


def test_missing_and_dead_channels():
    time, x = six(6)
    x[1500, 0] = np.nan
    channels = {**as_channels(x), "dead": np.zeros(len(x))}
    found = watch_together(time, channels, 1000)
    assert np.isnan(found.score[1500])
    assert found.left_out == ("dead",)
    with pytest.raises(InputError, match="too few"):
        watch_together(time, channels, 10)


def test_shrinkage_is_that_of_the_paper():
    """Against the implementation of scikit-learn, from the same paper."""
    covariance = pytest.importorskip("sklearn.covariance")
    x = np.random.default_rng(7).standard_normal((40, 8))
    assert shrunk_covariance(x) == pytest.approx(covariance.ledoit_wolf(x)[0], rel=1e-6, abs=1e-9)


# --- life left


def lives(number=14, seed=1):
    """Wear grows exponentially at a rate of its own, to the same end; three channels show it in noise."""
    random = np.random.default_rng(seed)
    found = []
    while len(found) < number:
        wear = np.exp(random.normal(-5.3, 0.4)) * np.exp(np.exp(random.normal(np.log(0.03), 0.25)) * np.arange(1000.0))
        end = int(np.argmax(wear > 1.0))
        if end > 60:
            noise = 0.15 * random.standard_normal((end, 3))
            found.append(np.column_stack([wear[:end], -0.8 * wear[:end], 0.5 * wear[:end]]) + noise)
    return found


def test_remaining_life_beats_the_mean_life_and_holds_the_truth():
    seen = lives()
    ours, naive, held, asked = [], [], 0, 0
    for k, life in enumerate(seen):
        fleet = fit_fleet([one for j, one in enumerate(seen) if j != k])
        for share in (0.5, 0.7, 0.9):
            age = int(share * len(life))
            found = fleet.remaining(life[:age])
            ours.append(found.median - (len(life) - age))
            naive.append(found.mean_life - (len(life) - age))
            held += found.low <= len(life) - age <= found.high
            asked += 1
    assert np.std(ours) < 0.8 * np.std(naive)
    assert held / asked >= 0.85


def test_the_interval_narrows_and_the_condition_rises_towards_the_end():
    seen = lives(seed=2)
    fleet = fit_fleet(seen[1:])
    early, late = (fleet.remaining(seen[0][: int(share * len(seen[0]))]) for share in (0.4, 0.95))
    assert late.high - late.low < 0.6 * (early.high - early.low)
    assert early.condition < 0.5 < late.condition


def test_units_of_channels_change_nothing():
    seen = lives(8, seed=3)
    one = fit_fleet(seen[1:]).remaining(seen[0][:60])
    other = fit_fleet([1.8 * life + 32.0 for life in seen[1:]]).remaining(1.8 * seen[0][:60] + 32.0)
    assert other.median == one.median
    with pytest.raises(InputError, match="too few"):
        fit_fleet(seen[:2])


def test_neither_switches_nor_wild_readings_hide_that_a_signal_grew_noisy():
    random, hours = np.random.default_rng(61), np.arange(120 * 24)
    for base in (np.where((hours % 24 > 8) & (hours % 24 < 18), 60.0, 30.0), np.full(hours.size, 20.0)):
        y = base + 0.5 * random.standard_normal(hours.size)
        wild = random.random(hours.size) < 0.004
        y[wild] += random.exponential(8.0, int(wild.sum()))
        y[2000:2036] += 2.5 * random.standard_normal(36)
        told = [one.start / 3600.0 for one in watch(hours * 3600.0, y).events]
        assert any(2000 <= one <= 2036 for one in told)
        assert sum(not 2000 <= one <= 2060 for one in told) <= 1
