"""Spread by robust statistics, masks, this engine's own pattern, bearings: laws first, then cases."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import stats

import asfound.cylinders
from asfound.cylinders.bearings import at_equal_oil, bearing_spread, over_oil, rising
from asfound.cylinders.mask import FROZEN_ROWS, Mark, at_load, frozen, mask, valid
from asfound.cylinders.own_pattern import expected, residual, same_pattern, usual
from asfound.cylinders.patterns import known, read_pattern
from asfound.cylinders.robust import cutoff, cutoffs, mad, mad_factor, median, rarity
from asfound.cylinders.spread import LIMIT, Basis, deviation, judge, mean_of_snapshots, probability_off, spread
from asfound.quantities.typing import Array

ports = arrays(float, st.integers(5, 12), elements=st.integers(650, 950).map(float))
COLD = np.array([548, 552, 541, 557, 550, 546, 553, 549, 470, 551, 555, 544]) + 273.15
ROWS = [0] * 6 + [1] * 6


# --- laws


@given(ports, st.floats(-100, 100))
def test_a_shift_of_all_changes_no_deviation(given_: Array, shift: float) -> None:
    one, two = spread(given_), spread(given_ + shift)
    assert two.deviation == pytest.approx(one.deviation, abs=1e-9)
    assert two.engine_median == pytest.approx(one.engine_median + shift)


@given(ports, st.floats(0.1, 10))
def test_a_scale_of_all_scales_deviations_and_leaves_z(given_: Array, scale: float) -> None:
    one, two = spread(given_), spread(given_ * scale)
    assert two.deviation == pytest.approx(one.deviation * scale, abs=1e-9)
    assert two.z == pytest.approx(one.z, rel=1e-6, abs=1e-9, nan_ok=True)


@given(ports, st.randoms())
def test_the_order_of_the_cylinders_changes_nothing(given_: Array, random: object) -> None:
    order = np.array(random.sample(range(len(given_)), len(given_)))  # type: ignore[attr-defined]
    one, two = spread(given_), spread(given_[order])
    assert np.array_equal(two.odd, one.odd[order])
    assert two.z == pytest.approx(one.z[order], nan_ok=True)


@given(ports, st.integers(0, 11))
def test_a_masked_sensor_is_an_absent_sensor(given_: Array, at: int) -> None:
    at %= len(given_)
    masked = given_.copy()
    masked[at] = np.nan
    one, two = spread(masked), spread(np.delete(given_, at))
    assert np.delete(one.odd, at).tolist() == two.odd.tolist()
    assert np.delete(one.z, at) == pytest.approx(two.z, nan_ok=True)
    for name in ("mad", "scale", "cutoff"):
        assert float(getattr(one, name)) == pytest.approx(float(getattr(two, name)), nan_ok=True)


@given(ports, st.integers(0, 11), st.floats(-500, 500))
def test_one_wild_cylinder_moves_the_median_to_a_neighbour_at_most(given_: Array, at: int, off: float) -> None:
    at %= len(given_)
    wild = given_.copy()
    wild[at] += off
    rest = np.sort(np.delete(given_, at))
    below, above = rest[(len(rest) - 1) // 2 - (len(rest) % 2)], rest[len(rest) // 2 + (len(rest) % 2)]
    assert below <= float(median(wild)) <= above


@given(arrays(float, (7, 10), elements=st.integers(650, 950).map(float)))
def test_many_snapshots_equal_one_at_a_time(given_: Array) -> None:
    rows = [0] * 5 + [1] * 5
    together = spread(given_, rows)
    for at, one in enumerate(given_):
        alone = spread(one, rows)
        assert together.odd[at].tolist() == alone.odd.tolist()
        assert together.z[at] == pytest.approx(alone.z, nan_ok=True)
        assert together.bank_difference[at] == alone.bank_difference


@given(arrays(float, st.integers(1, 15), elements=st.one_of(st.just(np.nan), st.floats(-1e3, 1e3))))
def test_the_median_is_that_of_a_general_library(given_: Array) -> None:
    want = np.nanmedian(given_) if np.isfinite(given_).any() else np.nan
    assert float(median(given_)) == pytest.approx(want, nan_ok=True)


@given(arrays(float, st.integers(3, 15), elements=st.floats(-1e3, 1e3)))
def test_the_mad_is_that_of_a_general_library(given_: Array) -> None:
    assert float(mad(given_ - median(given_))) == pytest.approx(stats.median_abs_deviation(given_), abs=1e-9)


@given(st.floats(-60, 60), st.floats(0.5, 20))
def test_probability_off_grows_with_the_deviation(off: float, doubt: float) -> None:
    assert probability_off(abs(off) + 1.0, doubt) >= probability_off(off, doubt) - 1e-12
    assert probability_off(LIMIT, 1e-6) == pytest.approx(0.5, abs=1e-6)


# --- cases


def test_a_cold_cylinder_of_twelve_is_odd_and_only_it() -> None:
    seen = spread(COLD)
    assert seen.odd.tolist() == [0] * 8 + [-1] + [0] * 3
    assert seen.basis == Basis.BOTH
    assert not np.isfinite(seen.bank_difference)


def test_rounded_readings_without_scatter_are_judged_by_the_limit_alone() -> None:
    seen = spread(np.array([500.0, 500, 500, 500, 500, 540]))
    assert np.isnan(seen.z).all()
    assert seen.odd.tolist() == [0, 0, 0, 0, 0, 1]
    assert seen.basis == Basis.LIMIT


def test_below_five_sensors_there_is_no_mad_and_below_three_no_judgement() -> None:
    four = spread(np.array([800.0, 805, 803, 700]))
    assert np.isnan(four.scale)
    assert np.isnan(four.z).all()
    assert int(four.basis) == Basis.LIMIT
    assert four.odd.tolist() == [0, 0, 0, -1]
    two = spread(np.array([800.0, 700.0]))
    assert np.isnan(two.deviation).all()
    assert int(two.basis) == Basis.NOTHING
    assert two.odd.tolist() == [0, 0]


def test_a_large_z_without_kelvins_is_not_odd_nor_are_kelvins_without_z() -> None:
    quiet = spread(np.array([800.0, 800.1, 800.2, 799.9, 799.8, 810.0]))
    assert abs(quiet.z[5]) > quiet.cutoff
    assert not quiet.odd.any()
    loud = spread(np.array([800.0, 830, 770, 815, 785, 845]))
    assert loud.beyond_limit.any()
    assert not loud.odd.any()


def test_two_banks_are_judged_about_their_own_medians_together() -> None:
    seen = spread(np.concatenate([COLD[:6], COLD[6:] + 40.0]), ROWS)
    assert seen.odd.tolist() == [0] * 8 + [-1] + [0] * 3
    assert seen.bank_difference == pytest.approx(549.0 - 550.0 - 40.0)
    assert seen.cutoff == cutoff(6, banks=2) < cutoff(6)


def test_a_bank_without_enough_sensors_leaves_the_other_to_itself() -> None:
    given_ = COLD.copy()
    given_[:4] = np.nan
    seen = spread(given_, ROWS)
    assert np.isnan(seen.deviation[:6]).all()
    assert seen.cutoff == cutoff(6)
    assert seen.odd[8] == -1


def test_a_stopped_engine_has_no_spread() -> None:
    seen = spread(np.full((2, 6), np.nan))
    assert np.isnan(seen.engine_median).all()
    assert not seen.odd.any()
    assert (seen.basis == Basis.NOTHING).all()


def test_the_cutoffs_fall_with_the_number_of_sensors_of_one_parity_and_end_at_five() -> None:
    for first in (5, 6):
        walls = [cutoffs()[1, n].cutoff_1pct for n in range(first, 25, 2)]
        assert walls == sorted(walls, reverse=True)
    assert np.isnan(cutoff(4))
    assert np.isnan(mad_factor(4))
    assert cutoff(40) == cutoff(24)
    assert cutoff(np.array([3, 6])) == pytest.approx([np.nan, cutoffs()[1, 6].cutoff_1pct], nan_ok=True)
    assert cutoff(12, rare=True) > cutoff(12)


def test_rarity_is_the_tail_of_the_table() -> None:
    six = cutoffs()[1, 6]
    assert rarity(np.array([six.cutoff_5pct, -six.cutoff_1pct]), 6) == pytest.approx([0.05, 0.01])
    assert rarity(1.0, 6) == pytest.approx(0.2)
    assert rarity(1e3, 6) == pytest.approx(0.001)
    assert 0.01 < float(rarity(0.5 * (six.cutoff_1pct + six.cutoff_2pct), 6)) < 0.02
    assert np.isnan(rarity(5.0, 4))
    assert np.isnan(rarity(np.nan, 6))


def test_the_packaged_table_has_each_number_once() -> None:
    path = Path(asfound.cylinders.__file__).parent / "data" / "robust_cutoffs.csv"
    lines = [one for one in path.read_text().splitlines() if not one.startswith("#")]
    keys = [(row["banks"], row["sensors"]) for row in csv.DictReader(lines)]
    assert len(keys) == len(set(keys)) == 30


def test_sound_engines_are_called_odd_in_one_snapshot_of_a_hundred_at_most() -> None:
    stream = np.random.default_rng(4)
    for sensors, rows in ((6, None), (9, None), (10, [0] * 5 + [1] * 5), (14, [0] * 7 + [1] * 7)):
        seen = spread(800.0 + 9.0 * stream.standard_normal((8000, sensors)), rows, limit=0.0)
        assert seen.odd.any(axis=1).mean() == pytest.approx(0.01, abs=0.004)


def test_several_snapshots_are_averaged_with_their_error() -> None:
    mean, error, count = mean_of_snapshots(np.array([[800.0, 810], [804, np.nan], [808, np.nan]]))
    assert mean.tolist() == [804.0, 810.0]
    assert error[0] == pytest.approx(4.0 / np.sqrt(3))
    assert np.isnan(error[1])
    assert count.tolist() == [3, 1]


# --- masks


def test_each_mark_is_told_by_its_own_sign() -> None:
    given_ = np.array([823.0, 0.0, 1645.0, 1100.0, 318.0, np.nan, 400.0, 825.0, 820.0, 822.0, 828.0, 815.0])
    assert mask(given_).tolist() == [
        Mark.VALID,
        Mark.OPEN,
        Mark.OPEN,
        Mark.OUT_OF_RANGE,
        Mark.COLD_JUNCTION,
        Mark.NOT_READ,
        *[Mark.VALID] * 6,
    ]
    assert np.isnan(valid(given_, mask(given_))[1:6]).all()


def test_a_cold_engine_is_stopped_not_full_of_bridged_sensors() -> None:
    assert set(mask(np.full(6, 318.0))) == {Mark.STOPPED}
    assert not at_load(np.full(6, 318.0))


def test_a_frozen_input_is_found_from_its_first_equal_snapshot_through_a_stop() -> None:
    stream = np.random.default_rng(1)
    log = np.round(820.0 + 3.0 * stream.standard_normal((60, 8)))
    log[20:40, 2] = 777.0
    log[30:33] = 300.0  # stopped: is passed over
    running = at_load(log)
    found = frozen(log, running=running)
    assert found[20:30, 2].all()
    assert found[33:40, 2].all()
    assert not found[:20].any()
    assert not np.delete(found, 2, axis=1).any()
    marks = mask(log)
    assert (marks[20:30, 2] == Mark.FROZEN).all()
    assert (marks[30:33] == Mark.STOPPED).all()


def test_a_copied_row_and_a_short_log_freeze_nothing() -> None:
    assert not frozen(np.repeat(COLD[None], 30, axis=0)).any()
    assert not frozen(np.repeat(COLD[None], FROZEN_ROWS - 1, axis=0)).any()


# --- own pattern


def _log(times: int, seed: int = 2) -> tuple[Array, Array, Array]:
    """Return ports, load and true pattern of an invented engine: pattern, load effect, 2 K of noise."""
    stream = np.random.default_rng(seed)
    load = stream.uniform(0.6, 1.0, times)
    own = 9.0 * stream.standard_normal(9)
    slope = 15.0 * stream.standard_normal(9)
    log = 780.0 + 60.0 * load[:, None] + own + slope * (load[:, None] - 0.8) + 2.0 * stream.standard_normal((times, 9))
    return log, load, own


def test_the_usual_pattern_comes_back_and_a_fault_stands_out_of_it() -> None:
    log, load, own = _log(600)
    log[100:160, 4] -= 120.0  # a bad week does not become usual
    pattern = usual(log, load)
    truth = own - np.median(own)
    assert expected(pattern, 0.8) - np.median(expected(pattern, 0.8)) == pytest.approx(truth, abs=1.5)
    assert pattern.scatter == pytest.approx(np.full(9, 2.0), abs=0.7)
    now = log[-1].copy()
    now[6] -= 25.0
    rest = residual(now, pattern, load[-1])
    assert np.argmin(rest) == 6
    assert judge(rest, limit=20.0).odd.tolist() == [0, 0, 0, 0, 0, 0, -1, 0, 0]
    assert np.abs(np.delete(rest, 6)).max() < 8.0


def test_a_load_far_from_the_history_has_no_usual_pattern_and_a_constant_one_no_slope() -> None:
    log, load, _ = _log(200)
    pattern = usual(log, load)
    assert np.isnan(expected(pattern, 0.3)).all()
    assert np.isfinite(expected(pattern, np.array([0.7, 0.3]))).all(axis=1).tolist() == [True, False]
    flat = usual(log, np.full(200, 0.9))
    assert not flat.slope.any()
    assert np.isfinite(expected(usual(log))).all()
    assert np.isnan(usual(log[:10], load[:10]).middle).all()


def test_two_days_of_one_engine_show_one_pattern_and_a_changed_one_does_not() -> None:
    stream = np.random.default_rng(3)
    own = 820.0 + 9.0 * stream.standard_normal(10)
    one, two = (own + 2.0 * stream.standard_normal(10) for _ in range(2))
    same = same_pattern(one, two + 30.0, 2.0 * np.sqrt(2.0), ROWS[1:-1])
    assert same.freedom == 8
    assert same.probability > 0.05
    assert same.correlation > 0.8
    two[3] += 40.0
    assert same_pattern(one, two, 2.0 * np.sqrt(2.0)).probability < 1e-6
    assert np.isnan(same_pattern(one[:2], two[:2], 2.0).probability)


def test_the_same_pattern_test_keeps_its_level_nearly() -> None:
    stream = np.random.default_rng(5)
    pairs = stream.standard_normal((600, 2, 10))
    chances = [same_pattern(one, two, np.sqrt(2.0)).probability for one, two in pairs]
    assert np.mean(np.array(chances) < 0.05) == pytest.approx(0.08, abs=0.05)


# --- bearings, patterns


def test_oil_common_to_all_bearings_drops_out() -> None:
    bearings = np.array([[350.0, 351, 350.5, 350, 350, 349.5, 362]])
    warm = bearings + 6.0
    assert bearing_spread(warm).deviation == pytest.approx(bearing_spread(bearings).deviation)
    assert at_equal_oil(warm, np.array([346.0]), 340.0) == pytest.approx(bearings)
    assert over_oil(warm, 346.0) == pytest.approx(over_oil(bearings, 340.0))
    assert bearing_spread(bearings).odd[0].tolist() == [0, 0, 0, 0, 0, 0, 1]


def test_the_one_bearing_that_rises_is_named_whatever_the_oil_does() -> None:
    stream = np.random.default_rng(8)
    time: Array = np.arange(200.0) * 3600.0
    oil = 340.0 + 5.0 * np.sin(time / 40_000.0)
    bearings = oil[:, None] + 12.0 + stream.standard_normal((200, 7))
    bearings[:, 4] += 4.0 * time / time[-1]
    found = rising(bearings, oil, time)
    assert np.argmax(found.line.slope) == 4
    assert found.rising[4] > 0.999
    assert found.line.slope[4] * time[-1] == pytest.approx(4.0, abs=0.8)


def test_patterns_are_read_with_each_odd_cylinder_in_one_of_them() -> None:
    def of(*rows: str) -> list[tuple[str, tuple[str, ...]]]:
        table = {"-": -1, "+": 1, ".": 0}
        given_ = [[(f"{at}{i}", table[c]) for i, c in enumerate(row)] for at, row in enumerate(rows)]
        return [(seen.words.pattern, seen.members) for seen in read_pattern(given_)]

    assert of("..-...") == [("one_cold", ("02",))]
    assert of(".--...", "......") == [("neighbours_cold", ("01", "02"))]
    assert of("+-....") == [("one_hot", ("00",)), ("one_cold", ("01",))]
    assert of("-.....", "-.....") == [("one_cold", ("00",)), ("one_cold", ("10",))]
    assert of("---...")[0][0] == "several"
    assert of("......") == []
    assert read_pattern([[("1", 0)]], banks_apart=True)[0].words is known()["whole_bank"]
    assert deviation(np.array([1.0, 2.0, 3.0]))[0].tolist() == [-1.0, 0.0, 1.0]
