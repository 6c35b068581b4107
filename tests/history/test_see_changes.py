"""Change points: exact optimum, no change in what only wanders, scores, charts."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import ruptures
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.history.change_lengths import describe
from asfound.history.change_scores import covering, f1
from asfound.history.change_segments import bound
from asfound.history.changes import change_points
from asfound.history.changes_joint import change_points_together
from asfound.history.charts import cusum, cusum_arl, cusum_arl_chain, cusum_h, ewma, ewma_limits
from asfound.history.noise_length import noise_length, normal_fit, tailed_fit
from asfound.history.pelt import level_cost, pelt, trend_cost
from asfound.history.pettitt import pettitt

WELL_LOG_MARKS = [
    [179, 255, 281, 311, 343, 402, 413, 422, 432, 462, 464],
    [179, 255, 281, 312, 343, 402, 412, 422, 432],
    [179, 255, 282, 312, 343, 402, 413, 422, 432],
    [177, 467],
    [4, 179, 255, 281, 311, 344, 402, 412, 422, 432, 462, 464, 521, 526, 620, 643, 661],
]
"""Marks of five people on the series well_log of the same data set (MIT), 675 samples."""


def total(cost, found, n, penalty):
    edges = [0, *found, n]
    return sum(cost(np.array([a]), b)[0] for a, b in pairwise(edges)) + penalty * len(found)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(1, 5), st.sampled_from([1.0, 5.0, 20.0]))
def test_pelt_is_the_exact_optimum(seed, smallest, penalty):
    """Against the dynamic programming of an open library, over all numbers of changes."""
    random = np.random.default_rng(seed)
    n = int(random.integers(20, 60))
    x = np.cumsum(random.standard_normal(n) * (random.random(n) < 0.1) * 5.0) + random.standard_normal(n)
    cost = level_cost(x)
    search = ruptures.Dynp(model="l2", min_size=smallest, jump=1).fit(x)
    most = min(10, n // smallest - 1)
    least = min(total(cost, search.predict(k)[:-1] if k else [], n, penalty) for k in range(most + 1))
    ours = pelt(cost, n, penalty, smallest)
    if len(ours) <= most:
        assert total(cost, ours, n, penalty) <= least + 1e-9
    assert all(b - a >= smallest for a, b in zip([0, *ours], [*ours, n], strict=True))


def test_costs_are_squared_errors():
    random = np.random.default_rng(1)
    x = random.standard_normal(50).cumsum()
    t = np.arange(10.0, 30.0)
    line = np.polyval(np.polyfit(t, x[10:30], 1), t)
    assert trend_cost(x)(np.array([10]), 30)[0] == pytest.approx(((x[10:30] - line) ** 2).sum())
    assert level_cost(x)(np.array([10]), 30)[0] == pytest.approx(((x[10:30] - x[10:30].mean()) ** 2).sum())
    two = np.column_stack([x, -x])
    assert level_cost(two)(np.array([10]), 30)[0] == pytest.approx(2 * level_cost(x)(np.array([10]), 30)[0])


def test_steps_are_found_with_their_place_and_size():
    random = np.random.default_rng(2)
    x = random.standard_normal(400)
    x[150:] += 3.0
    x[300:] -= 2.0
    x[50:52] += 40.0  # an outlier is no change
    found = change_points(x)
    assert [abs(one.at - at) <= 3 for one, at in zip(found.changes, (150, 300), strict=True)] == [True, True]
    for one, at, size in zip(found.changes, (150, 300), (3.0, -2.0), strict=True):
        assert one.earliest <= at <= one.latest
        assert one.size.holds(size)


def test_indices_count_missing_samples():
    random = np.random.default_rng(3)
    x = random.standard_normal(300)
    x[200:] += 4.0
    x[20:80] = np.nan
    assert change_points(x).at == pytest.approx([200], abs=2)


def test_steps_on_a_drift_are_steps_and_a_drift():
    random = np.random.default_rng(4)
    x = 0.02 * np.arange(500) + random.standard_normal(500)
    x[260:] -= 5.0
    found = change_points(x)
    assert found.kind == "slope"
    assert found.at == pytest.approx([260], abs=4)
    assert found.slope == pytest.approx(0.02, abs=0.002)


def test_what_only_wanders_has_no_change():
    """Eight random walks and eight series of strong memory: at most one false change among them."""
    random = np.random.default_rng(5)
    walks = [random.standard_normal(200).cumsum() for _ in range(8)]
    for _ in range(8):
        x = random.standard_normal(300)
        for i in range(1, x.size):
            x[i] += 0.9 * x[i - 1]
        walks.append(x)
    assert sum(bool(change_points(x).at) for x in walks) <= 1


def test_constant_and_short_series_have_no_change():
    assert change_points(np.full(100, 3.0)).at == []
    assert change_points(np.array([1.0, 2.0, np.nan])).at == []
    assert change_points(np.full(20, np.nan)).at == []


def test_a_long_series_is_searched_coarsely_and_placed_closely():
    random = np.random.default_rng(6)
    x = random.standard_normal(20_000)
    x[12_345:] += 2.0
    assert change_points(x).at == pytest.approx([12_345], abs=3)


def test_bounded_series_keeps_steps():
    x = np.concatenate([np.zeros(50), np.full(50, 10.0)]) + 0.01 * np.sin(np.arange(100.0))
    x[20] = 500.0
    kept = bound(x, 5)
    assert kept[20] < 1.0
    assert kept[49] < 1.0
    assert kept[50] > 9.0


def test_scores_are_those_of_the_data_set_without_any_change():
    """The project's reference gives 0.2370 and 0.2246 for 'no change' on well_log."""
    assert f1(WELL_LOG_MARKS, []) == pytest.approx(0.2370, abs=5e-5)
    assert covering(WELL_LOG_MARKS, [], 675) == pytest.approx(0.2246, abs=5e-5)
    found = [179, 255, 281, 311, 343, 402, 412, 422, 432, 464]
    assert f1(WELL_LOG_MARKS, found) == pytest.approx(0.9504, abs=5e-5)
    assert covering(WELL_LOG_MARKS, found, 675) == pytest.approx(0.8641, abs=5e-5)


def test_perfect_marks_score_one():
    assert f1([[10, 50]], [10, 50]) == 1.0
    assert covering([[10, 50]], [10, 50], 100) == 1.0
    assert f1([[10]], [16]) == 0.5  # beyond the margin; the start still counts


def test_change_by_ranks_needs_no_scale():
    x = np.random.default_rng(7).standard_normal(60)
    x[25:] += 2.0
    assert pettitt(x) == pettitt(np.exp(x))


def test_cusum_is_the_loop():
    random = np.random.default_rng(8)
    x = random.standard_normal(300)
    high = low = 0.0
    found = cusum(x, 0.1, 0.5, 4.0)
    for i, value in enumerate(x):
        high, low = max(0.0, high + value - 0.1 - 0.5), max(0.0, low - value + 0.1 - 0.5)
        assert found.high[i] == pytest.approx(high, abs=1e-9)
        assert found.low[i] == pytest.approx(low, abs=1e-9)


def test_run_lengths_agree_between_the_two_ways():
    for h in (3.0, 4.0, 5.0):
        for shift in (0.0, 0.5, 1.0):
            quick = cusum_arl(shift, 0.5, h, two_sided=False)
            assert quick == pytest.approx(cusum_arl_chain(shift, 0.5, h), rel=0.03)
    assert cusum_arl(0.0, 0.5, cusum_h(500.0)) == pytest.approx(500.0, rel=1e-6)


def test_ewma_with_gaps_keeps_the_last():
    x = np.array([1.0, np.nan, 3.0])
    assert ewma(x, 0.5, 0.0) == pytest.approx([0.5, 0.5, 1.75])
    low, high = ewma_limits(1000, 0.0, 1.0, 0.2, 3.0)
    assert high[-1] == pytest.approx(3.0 * np.sqrt(0.2 / 1.8))
    assert (np.diff(high) >= 0.0).all()
    assert (low == -high).all()


def test_channels_that_step_together_show_what_each_shows_weakly():
    """Steps of one standard deviation in nine channels: together found, alone mostly not."""
    random = np.random.default_rng(9)
    x = random.standard_normal((120, 9))
    x[70:] += np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 1.0, -1.0, 0.0])
    found = change_points_together(x)
    assert [one.at for one in found] == pytest.approx([70], abs=2)
    assert set(found[0].moved) >= {0, 1, 2, 3}
    assert sum(bool(change_points(column).at) for column in x.T) <= 5
    assert found[0].sizes[0].holds(1.0)


def test_channels_that_wander_have_no_common_change():
    random = np.random.default_rng(10)
    for phi in (0.0, 0.7):
        for _ in range(4):
            x = random.standard_normal((200, 4))
            for i in range(1, len(x)):
                x[i] += phi * x[i - 1]
            assert change_points_together(x) == ()
    assert change_points_together(np.full((50, 3), np.nan)) == ()
    with pytest.raises(InputError, match="no table"):
        change_points_together(np.zeros(10))


def test_a_large_step_is_not_explained_away_by_memory():
    """Days that remember, with gusts: a step of 40 usual moves is a change, the gusts are not."""
    random = np.random.default_rng(11)
    false = found = 0
    for _ in range(6):
        x = 0.5 * random.standard_t(3, 600)
        for i in range(1, x.size):
            x[i] += 0.97 * x[i - 1]
        false += bool(change_points(x).at)
        x[400:] -= 20.0
        found += change_points(x).at == [400]
    assert false <= 1
    assert found >= 5


def test_what_wanders_under_white_noise_has_no_change():
    random = np.random.default_rng(12)
    false = 0
    for _ in range(6):
        slow = random.standard_normal(400) * 0.14
        for i in range(1, slow.size):
            slow[i] += 0.99 * slow[i - 1]
        false += bool(change_points(slow + random.standard_normal(400)).at)
    assert false <= 1


def test_where_a_growth_begins_is_a_change_of_slope():
    random = np.random.default_rng(13)
    x = random.standard_normal(500) + 0.05 * np.maximum(np.arange(500.0) - 200.0, 0.0)
    found = change_points(x)
    assert found.kind == "joined"
    assert len(found.at) == 1
    assert found.changes[0].earliest <= 200 <= found.changes[0].latest
    assert found.changes[0].size.holds(0.05)


def test_a_turn_is_seen_although_a_line_through_it_leaves_what_looks_like_memory():
    random = np.random.default_rng(14)
    for _ in range(4):
        n = int(random.integers(120, 250))
        at = n // 2
        x = random.standard_normal(n) + 20.0 / n * np.maximum(np.arange(n) - at, 0)
        found = change_points(x)
        assert [one.of for one in found.changes] == ["slope"]
        assert found.changes[0].earliest <= at <= found.changes[0].latest


def test_a_change_of_the_spread_is_told_as_one():
    random = np.random.default_rng(15)
    for _ in range(4):
        x = random.standard_normal(240)
        x[130:] *= 4.0
        (one,) = change_points(x).changes
        assert one.of == "spread"
        assert one.earliest <= 130 <= one.latest
        assert one.size.holds(3.0)
        assert not change_points(x, kinds=("level", "slope", "joined")).changes


def test_growth_in_per_cent_and_counts_have_a_scale_of_their_own():
    """One rate of growth is no turn, although the curve bends; where it stops is one, told in the series' own unit."""
    random = np.random.default_rng(16)
    smooth = np.exp(3.0 * np.arange(100) / 100 + 0.02 * random.standard_normal(100))
    assert change_points(smooth).at == []
    rate = np.where(np.arange(100) < 60, 0.04, 0.0)
    found = change_points(np.exp(np.cumsum(rate) + 0.02 * random.standard_normal(100)))
    assert found.scale == "logarithm"
    assert found.at == pytest.approx([60], abs=3)
    assert found.changes[0].size.value == pytest.approx(-0.04 * np.exp(2.4), rel=0.15)
    counted = random.poisson(np.where(np.arange(200) < 120, 9.0, 25.0))
    found = change_points(counted.astype(float))
    assert found.at == pytest.approx([120], abs=3)
    assert found.changes[0].size.holds(16.0)


def test_a_passage_of_some_samples_is_one_change():
    x = np.interp(np.arange(200.0), [97.0, 103.0], [0.0, 8.0]) + np.random.default_rng(17).standard_normal(200)
    assert change_points(x).at == pytest.approx([100], abs=3)


def test_memory_does_not_unlearn_what_the_description_took_away():
    """What lines leave sums to nothing piece by piece: that is no noise of the mixed model with a + b below 0."""
    x = np.random.default_rng(18).standard_normal(92)
    left = x - np.repeat(x[:90].reshape(-1, 15).mean(axis=1), [15, 15, 15, 15, 15, 17])
    assert noise_length(left).memory.sum() > -1.0


def test_long_tailed_innovations_cost_what_students_density_says():
    """Against SciPy's density with four degrees of freedom at the scale that fits."""
    from scipy import stats

    e = stats.t.rvs(3, size=2000, random_state=4)
    fitted = tailed_fit(np.zeros((2000, 0)), e)
    assert fitted is not None
    scale = stats.t.fit(e, fdf=4, floc=0)[2]
    assert fitted[0] == pytest.approx(-2.0 * float(stats.t.logpdf(e, 4, 0, scale).mean()), rel=1e-6)
    normal = normal_fit(np.zeros((2000, 0)), e)
    assert normal[0] == pytest.approx(-2.0 * float(stats.norm.logpdf(e, 0, np.sqrt((e**2).mean())).mean()), rel=1e-9)


def test_levels_that_pass_into_one_another_are_told_by_their_middles():
    """Three changes in a hundred samples, each over six: what steps leave of them looks like memory, in a few still."""
    at, right = [30, 57, 84], 0
    levels = np.repeat([0.0, 8.0, 1.0, 9.0], np.diff([0, *at, 112]))
    passing = np.convolve(np.pad(levels, 6, mode="edge"), np.ones(6) / 6, "same")[6:-6]
    for seed in range(41, 47):
        found = change_points(passing + np.random.default_rng(seed).standard_normal(112)).at
        right += len(found) == 3 and all(abs(one - true) <= 5 for one, true in zip(found, at, strict=True))
    assert right >= 4


def test_a_line_that_turns_beside_a_walk_has_to_pay_for_what_a_walk_gives_it():
    random = np.random.default_rng(51)
    walk = np.cumsum(random.standard_normal(200))
    steady = 0.5 * random.standard_normal(200) + 0.2 * np.maximum(np.arange(200) - 100.0, 0.0)
    beside = describe(walk, (100,), "joined")
    memory = float(beside.memory.sum())
    assert 200 * (1.0 - memory) < 30.0  # within the reach of a walk's memory
    assert change_points(walk).at == []
    assert len(change_points(steady).at) == 1
