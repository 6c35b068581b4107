"""Buckets merge exactly: any order, any split, any width, the same bytes; and they say what NumPy says of the rows."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from asfound.errors import InputError
from asfound.history import tally
from asfound.history.buckets import DAY, HOUR, TEN_MINUTES, Buckets, of_rows
from asfound.history.scale import LARGEST, scale_of, scale_of_range

EXHAUST, PRESSURE, RAW = "cylinder_exhaust_temperature@cylinder_1", "oil_pressure@engine", "raw:Level@engine"
MONTH = 1_956_528_000_000_000  # 2032-01-01

readings = st.floats(-1e12, 1e12) | st.floats(273.15, 1200) | st.sampled_from([np.nan, 0.0, 65535.0, 1e-300, 3.0e4])


@st.composite
def logs(draw):
    n = draw(st.integers(1, 60))
    time = draw(hnp.arrays(np.int64, n, elements=st.integers(0, 3 * DAY - 1))) + MONTH
    columns = {name: draw(hnp.arrays(np.float64, n, elements=readings)) + 0.0 for name in (EXHAUST, PRESSURE, RAW)}
    return time, columns


def taken(time, columns, rows):
    return time[rows], {name: column[rows] for name, column in columns.items()}


@settings(max_examples=60, deadline=None)
@given(logs(), st.randoms(use_true_random=False), st.integers(1, 5))
def test_any_split_in_any_order_gives_the_same_bytes(log, shuffle, pieces):
    time, columns = log
    whole = of_rows(time, columns, TEN_MINUTES)
    order = list(range(len(time)))
    shuffle.shuffle(order)
    merged = of_rows(time[:0], {}, TEN_MINUTES)
    for part in np.array_split(np.array(order), pieces):
        merged = merged.merge(of_rows(*taken(time, columns, part), TEN_MINUTES))
    assert merged.channels == whole.channels
    assert merged.over(whole.first, len(whole)).tobytes() == whole.tobytes()
    again = whole.merge(of_rows(time[:0], {}, TEN_MINUTES))
    assert again.tobytes() == whole.tobytes()


@settings(max_examples=40, deadline=None)
@given(logs())
def test_coarser_buckets_are_those_of_the_rows(log):
    time, columns = log
    fine = of_rows(time, columns, TEN_MINUTES)
    for step in (HOUR, DAY):
        straight = of_rows(time, columns, step)
        assert fine.coarser(step).tobytes() == straight.tobytes()
    assert fine.coarser(HOUR).coarser(DAY).tobytes() == fine.coarser(DAY).tobytes()
    assert fine.total().table["sum"].tolist() == fine.coarser(DAY).total().table["sum"].tolist()


@settings(max_examples=60, deadline=None)
@given(logs())
def test_sums_are_those_of_whole_numbers(log):
    """The sums against Python's fractions, value by value."""
    time, columns = log
    one = of_rows(time, columns, DAY).total()
    for row, name in enumerate(one.channels):
        scale = scale_of(name)
        values = [v for v in columns[name].tolist() if not np.isnan(v)]
        near = [v for v in values if abs(v - scale.reference) <= scale.reach]
        steps = [round((Fraction(v) - Fraction(scale.reference)) / Fraction(scale.step)) for v in near]
        cell = one.table[row, 0]
        assert cell["n"] == len(values)
        assert cell["beyond"] == len(values) - len(near)
        assert int(cell["sum"]) == sum(steps)
        assert int(cell["squares_high"]) * 2**64 + int(cell["squares_low"]) == sum(s * s for s in steps)


@settings(max_examples=60, deadline=None)
@given(
    st.floats(-1.6e7, 1.6e7),
    hnp.arrays(np.float64, 40, elements=st.floats(-30.0, 30.0) | st.just(np.nan)),
    st.sampled_from([0.0, 1e9, -3e18, np.inf]),
)
def test_squares_far_from_the_reference_are_exact_with_and_without_a_wild_value(middle, about, wild):
    """Squares that need more than 64 bits: of narrow buckets they follow from sums, of wide ones from the rows."""
    column = middle + about
    column[7] = wild or column[7]
    time = MONTH + np.arange(40) * 30_000_000
    buckets = of_rows(time, {RAW: column, PRESSURE: column}, TEN_MINUTES)
    for row, name in enumerate(buckets.channels):
        scale = scale_of(name)
        for number in range(2):
            values = column[20 * number : 20 * number + 20]
            near = [v for v in values.tolist() if abs(v - scale.reference) <= scale.reach]
            steps = [round((Fraction(v) - Fraction(scale.reference)) / Fraction(scale.step)) for v in near]
            cell = buckets.table[row, number]
            assert (int(cell["n"]), int(cell["sum"])) == (np.count_nonzero(~np.isnan(values)), sum(steps))
            assert int(cell["squares_high"]) * 2**64 + int(cell["squares_low"]) == sum(s * s for s in steps)
            assert int(cell["beyond"]) == cell["n"] - len(near)


def test_parts_of_several_batches_in_any_order_are_those_of_the_whole():
    """Batches that end within a bucket, that go back in time, that lack a channel: as the files of a month come."""
    rng = np.random.default_rng(11)
    time, column = MONTH + np.arange(9000) * 7_000_000, rng.normal(800, 3, 9000)
    last = (np.arange(9000) < 6000) & (rng.random(9000) < 0.9)
    other = np.where(last, rng.normal(4e5, 9.0, 9000), np.nan)
    whole = of_rows(time, {EXHAUST: column, PRESSURE: other}, TEN_MINUTES)
    by_batches = tally.Tally([scale_of(EXHAUST), scale_of(PRESSURE)], TEN_MINUTES, whole.first, len(whole))
    for begin, end in ((6000, 9000), (0, 1001), (1001, 6000)):
        rows = slice(begin, end)
        by_batches.add(time[rows], [column[rows], other[rows] if begin < 6000 else None], [False, True])
    assert by_batches.table.tobytes() == whole.tobytes()


def test_mean_and_deviation_are_numpys():
    rng = np.random.default_rng(5)
    n = 30_000
    time = MONTH + np.sort(rng.integers(0, 2 * DAY, n))
    columns = {
        EXHAUST: rng.normal(800, 3, n),
        PRESSURE: np.where(rng.random(n) < 0.2, np.nan, rng.normal(4e5, 50.0, n)),
        RAW: rng.normal(0.0, 1.0, n),
    }
    hours = of_rows(time, columns, HOUR)
    bucket = (time - hours.first) // HOUR
    for row, name in enumerate(hours.channels):
        for number in (0, 7, 47):
            values = columns[name][bucket == number]
            values = values[~np.isnan(values)]
            assert hours.n[row, number] == len(values)
            assert hours.low[row, number] == values.min()
            assert hours.high[row, number] == values.max()
            assert hours.mean()[row, number] == pytest.approx(values.mean(), abs=scale_of(name).step)
            assert hours.deviation()[row, number] == pytest.approx(values.std(ddof=1), abs=scale_of(name).step)


def test_buckets_are_what_duckdb_says():
    """Number, mean, sample deviation, lowest and highest by hour, by the aggregates of another program."""
    import duckdb

    time, values = MONTH + np.arange(4000) * 17_000_000, np.random.default_rng(8).normal(800, 30, 4000)
    hours = of_rows(time, {EXHAUST: values}, HOUR)
    given_rows = {"t": time, "x": values}
    with duckdb.connect() as duck:
        duck.register("given_rows", given_rows)
        told = duck.execute(
            "SELECT count(x), avg(x), stddev_samp(x), min(x), max(x) FROM given_rows "
            f"GROUP BY t // {HOUR} ORDER BY t // {HOUR}"
        ).fetchall()
    ours = np.stack([hours.n[0], hours.mean()[0], hours.deviation()[0], hours.low[0], hours.high[0]], axis=1)
    assert ours == pytest.approx(np.array(told), abs=1e-5)


def test_a_steady_value_far_from_the_reference_has_no_deviation():
    """Where sums of squares in floats cancel: 600 equal values 1e5 times their step away from zero."""
    time = MONTH + np.arange(600) * 1_000_000
    steady = of_rows(time, {RAW: np.full(600, 1_234_567.8), EXHAUST: np.full(600, 1100.03)}, TEN_MINUTES)
    assert steady.deviation().ravel().tolist() == [0.0, 0.0]
    assert np.isnan(of_rows(time[:1], {RAW: np.ones(1)}, DAY).deviation()).all()


def test_a_value_beyond_reach_is_counted_and_the_mean_withheld():
    """A sentinel of a broken sensor must not overflow anything: it shows as the highest, the mean is not told."""
    time = MONTH + np.arange(3) * 1_000_000
    one = of_rows(time, {EXHAUST: np.array([700.0, 1e30, 702.0])}, DAY)
    assert one.high[0, 0] == 1e30
    assert one.n[0, 0] == 3
    assert one.table["beyond"][0, 0] == 1
    assert np.isnan(one.mean()[0, 0])
    assert np.isnan(one.deviation()[0, 0])


def test_missing_values_are_not_counted():
    time = MONTH + np.array([0, 1, HOUR], np.int64)
    one = of_rows(time, {PRESSURE: np.array([np.nan, np.nan, 4e5])}, HOUR)
    assert one.n.tolist() == [[0, 1]]
    assert np.isnan([one.low[0, 0], one.high[0, 0], one.mean()[0, 0]]).all()


def test_strips_do_not_matter(monkeypatch):
    time = MONTH + np.arange(5000) * 1_000_000
    columns = {EXHAUST: np.random.default_rng(1).normal(800, 30, 5000)}
    whole = of_rows(time, columns, TEN_MINUTES).tobytes()
    monkeypatch.setattr(tally, "STRIP", 37)
    assert of_rows(time, columns, TEN_MINUTES).tobytes() == whole


def test_too_many_values_too_far_out_are_refused_not_wrapped(monkeypatch):
    """2**19 values at the end of the reach would leave 64 bits."""
    monkeypatch.setattr(tally, "MOST", 10)
    monkeypatch.setattr(tally, "_SAFE", float(LARGEST))
    time = MONTH + np.arange(20, dtype=np.int64)
    with pytest.raises(InputError, match="too many"):
        of_rows(time, {EXHAUST: np.full(20, 1.2e8)}, DAY)


@given(st.floats(-1e9, 1e9), st.floats(1e-9, 1e9))
def test_the_grid_covers_the_plausible_range(low, width):
    high = low + width
    if high <= low:
        return
    scale = scale_of_range(low, high)
    assert float(scale.reference / scale.step).is_integer()
    assert max(abs(low - scale.reference), abs(high - scale.reference)) <= scale.reach
    assert np.log2(scale.step).is_integer()
    assert scale.step <= (high - low) * 2.0**-26


def test_widths_that_do_not_fit_are_refused():
    hours = of_rows(np.array([MONTH]), {RAW: np.ones(1)}, HOUR)
    with pytest.raises(InputError, match="multiple"):
        hours.coarser(TEN_MINUTES)
    with pytest.raises(InputError, match="merge"):
        hours.merge(of_rows(np.array([MONTH]), {RAW: np.ones(1)}, DAY))
    assert isinstance(hours.coarser(DAY), Buckets)
