"""What a plot shows, rows at an even step, and what an import writes into: all against the rows themselves."""

from __future__ import annotations

import numpy as np
import pytest

from asfound.errors import InputError
from asfound.history import trend as a_trend
from asfound.history.buckets import DAY, HOUR, TEN_MINUTES
from asfound.history.channels import SECOND, Channels
from asfound.history.months import month_bounds
from asfound.history.resample import resample, steady_inputs
from asfound.history.sink import StoreSink
from asfound.history.store import Store
from asfound.history.trend import small_multiples, trend

EXHAUST, PRESSURE = "cylinder_exhaust_temperature@cylinder_1", "oil_pressure@engine"
START = month_bounds("2032-01")[0] + 20 * DAY


@pytest.fixture(scope="module")
def block():
    """Twenty days at one minute over the end of a month, with two days of nothing."""
    rng = np.random.default_rng(2)
    time = START + np.arange(20 * 1440) * 60 * SECOND
    time = time[(time < START + 8 * DAY) | (time >= START + 10 * DAY)]
    return Channels.of(time, {
        EXHAUST: rng.normal(800, 30, len(time)),
        PRESSURE: np.where(rng.random(len(time)) < 0.1, np.nan, rng.normal(4e5, 1e4, len(time))),
    }, source="panel")  # fmt: skip


@pytest.fixture(scope="module")
def store(block, tmp_path_factory):
    store = Store(tmp_path_factory.mktemp("logs"))
    store.add("A2", block)
    store.add("A1", block.take(block.time < START + 5 * DAY))
    return store


def by_hand(block, channel, time, step):
    for left in time:
        inside = block.values[channel][(block.time >= left) & (block.time < left + step)]
        yield inside[~np.isnan(inside)]


@pytest.mark.parametrize(("days", "width", "read_from"), [(20, 90, "buckets"), (20, 900, "buckets"), (2, 900, "rows"),
                                                          (20, 7, "buckets"), (0.3, 900, "rows")])  # fmt: skip
def test_a_column_shows_the_lowest_and_highest_of_its_rows(store, block, days, width, read_from):
    shown = trend(store, "A2", (EXHAUST, PRESSURE), START, START + int(days * DAY), width)
    assert shown.read_from == read_from
    assert shown.n.shape == (2, len(shown.time))
    if shown.step:
        assert width / 2 <= len(shown.time) <= width + 1
    step = shown.step or 1
    for row, channel in enumerate(shown.channels):
        for column, values in list(enumerate(by_hand(block, channel, shown.time, step)))[:: max(1, width // 90)]:
            assert shown.n[row, column] == len(values)
            if len(values):
                assert (shown.low[row, column], shown.high[row, column]) == (values.min(), values.max())
                assert shown.mean[row, column] == pytest.approx(values.mean(), abs=0.02)
            else:
                assert np.isnan(shown.low[row, column])


def test_a_plot_of_buckets_reads_no_rows(store, monkeypatch):
    monkeypatch.setattr(a_trend.a_month, "read", None)
    assert trend(store, "A2", (EXHAUST,), START, START + 20 * DAY).rows_behind == 18 * 1440


def test_gaps_stay_gaps(store):
    for width in (60, 240, 900):
        shown = trend(store, "A2", (EXHAUST,), START, START + 20 * DAY, width)
        ((begin, end),) = shown.gaps(EXHAUST)
        assert abs(begin - (START + 8 * DAY)) <= shown.step
        assert abs(end - (START + 10 * DAY)) <= shown.step
    close = trend(store, "A2", (EXHAUST,), START + 8 * DAY - HOUR, START + 10 * DAY + HOUR, 900)
    assert close.step == 0
    assert close.gaps(EXHAUST) == [(START + 8 * DAY - 60 * SECOND, START + 10 * DAY)]
    assert trend(store, "A2", (EXHAUST,), START, START + HOUR, 900).gaps(EXHAUST) == []


def test_a_slow_log_looked_at_closely_is_a_line_not_dots(tmp_path):
    store = Store(tmp_path)
    store.add("A3", Channels.of(START + np.arange(1000) * 600 * SECOND, {EXHAUST: np.arange(1000.0)}, source="p"))
    shown = trend(store, "A3", (EXHAUST,), START, START + 6 * DAY, 900)
    assert shown.read_from == "rows"
    assert not shown.broken.any()
    wide = trend(store, "A3", (EXHAUST,), START, START + 6 * DAY, 100)
    assert (wide.read_from, wide.step) == ("buckets", 2 * HOUR)


def test_small_multiples_stand_on_the_same_columns(store):
    pictures = small_multiples(store, store.engines(), EXHAUST, START, START + 20 * DAY)
    assert list(pictures) == ["A1", "A2"]
    assert np.array_equal(pictures["A1"].time, pictures["A2"].time)
    assert pictures["A1"].n[0, -1] == 0


def test_a_range_without_rows_and_an_empty_range(store):
    empty = trend(store, "A2", (EXHAUST,), START - 90 * DAY, START - 80 * DAY)
    assert empty.rows_behind == 0
    assert empty.gaps(EXHAUST) == []
    with pytest.raises(InputError, match="after the start"):
        trend(store, "A2", (EXHAUST,), START, START)
    with pytest.raises(InputError, match="columns"):
        trend(store, "A2", (EXHAUST,), START, START + 1, 0)


@pytest.mark.parametrize("step", [7 * 60 * SECOND, TEN_MINUTES, 3 * HOUR, DAY])
def test_rows_at_an_even_step(store, block, step):
    found = {
        how: resample(store, "A2", (EXHAUST, PRESSURE), START, START + 3 * DAY, step, how)
        for how in ("mean", "deviation", "low", "high", "count", "last")
    }
    time = found["mean"].time
    assert np.all(np.diff(time) == step)
    for channel in (EXHAUST, PRESSURE):
        for row, values in list(enumerate(by_hand(block, channel, time, step)))[1:40]:
            assert found["count"].values[channel][row] == len(values)
            assert found["mean"].values[channel][row] == pytest.approx(values.mean(), abs=0.02)
            assert found["deviation"].values[channel][row] == pytest.approx(values.std(ddof=1), abs=0.02)
            assert found["low"].values[channel][row] == values.min()
            assert found["high"].values[channel][row] == values.max()
            assert found["last"].values[channel][row] == values[-1]
    with pytest.raises(InputError, match="width"):
        resample(store, "A2", (EXHAUST,), START, START + DAY, 0)


def test_what_steady_windows_ask_for(store):
    found = steady_inputs(store, "A2", (EXHAUST,), START, START + DAY)
    assert len(found) == 144
    assert found.values[EXHAUST + ":deviation"].mean() == pytest.approx(30, rel=0.1)


def test_an_import_that_broke_off_is_repeated(tmp_path, block):
    """Rows that came are known again by their source, also where another source had a cell first."""
    store = Store(tmp_path)
    part = block.take(np.arange(100))
    store.add("A2", Channels(time=part.time[:50], values={EXHAUST: part.values[EXHAUST][:50]}, source="card"))
    sink = StoreSink(store, "A2", "panel")
    assert sink.existing(int(part.time[0]), int(part.time[-1])) is None
    for rows in (slice(0, 30), slice(30, 60)):
        sink.add(part.take(np.arange(100)[rows]))
    waiting = sink.existing(int(part.time[0]), int(part.time[59]))
    sink.commit()
    again = StoreSink(store, "A2", "panel").existing(int(part.time[0]), int(part.time[59]))
    new = ~np.isnan(part.values[PRESSURE]) | (np.arange(100) >= 50)  # of the others the card has all
    for found, rows in ((waiting, part.take(np.arange(60))), (again, part.take(new & (np.arange(100) < 60)))):
        assert found is not None
        assert np.array_equal(found.time, rows.time)
        assert all(np.array_equal(found.values[n], rows.values[n], equal_nan=True) for n in found.values)
    once_more = StoreSink(store, "A2", "panel")
    once_more.add(part)
    once_more.commit()
    assert (once_more.kept, once_more.same, once_more.clash_count) == (40, 60, 0)
    assert store.sources("A2") == {"card": 50, "panel": int(new.sum())}
