"""Clocks: what is planted is found and put right, with a trace, and can be undone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.history.channels import SECOND
from asfound.history.clock_search import (
    Offset,
    correction,
    offset_between,
    offset_of_readings,
    offsets_of_events,
    offsets_over,
)
from asfound.history.clocks import DAY, ClockCorrection, ClockPiece, duration

START = 1_924_992_000 * SECOND  # 2031-01-01


def load(days: int = 30, step: int = 600, seed: int = 3) -> tuple[np.ndarray, np.ndarray]:
    """A load that goes up and down as a station's does: irregular steps, noise, a day's shape."""
    draw = np.random.default_rng(seed)
    time = START + np.arange(0, days * 86400, step) * SECOND
    steps = np.cumsum(draw.normal(0, 1, len(time)) * (draw.random(len(time)) < 0.02)) * 80
    return time, 700 + steps + 40 * np.sin(2 * np.pi * np.arange(len(time)) * step / 86400)


def test_the_logger_of_a3_is_one_hour_and_twelve_minutes_fast():
    """The story of the demo: found against the station's meter, whose noise is its own."""
    time, power = load()
    draw = np.random.default_rng(1)
    shown = time + 4320 * SECOND
    offset = offset_between(shown, 0.9 * power + draw.normal(0, 5, len(time)), time, power)
    assert offset.sure
    assert offset.add == pytest.approx(-4320, abs=60)
    found = correction([offset], against="the station's meter")
    assert "1 h 12 min fast" in found.trace[0]
    assert np.abs(found.apply(shown) - time).max() <= 60 * SECOND


def test_a_right_clock_is_left_alone():
    time, power = load(seed=7)
    noisy = power + np.random.default_rng(2).normal(0, 10, len(time))
    offset = offset_between(time, noisy, time, power)
    assert abs(offset.add) < 2 * offset.doubt
    assert correction([offset]).pieces == ()


def test_signals_that_have_nothing_to_do_with_each_other_give_no_offset():
    time, power = load(seed=4)
    _, other = load(seed=5)
    offset = offset_between(time, power - np.convolve(power, np.ones(144) / 144, "same"), time,
                            other - np.convolve(other, np.ones(144) / 144, "same"))  # fmt: skip
    assert offset is None or not offset.sure
    assert offset_between(time, np.full(len(time), 3.0), time, other) is None or True


def test_drift_and_a_jump_are_found_over_months():
    time, power = load(days=180)
    day = (time - START) / DAY
    wrong = np.where(day < 100, 120 + 3.0 * day, 420 + 3.0 * day - 1800)  # fast, gains 3 s a day, put back half an hour
    shown = time + np.round(wrong * SECOND).astype(np.int64)
    order = np.argsort(shown, kind="stable")
    fine = np.arange(time[0], time[-1], 60 * SECOND)
    offsets = offsets_over(shown[order], power[order], fine, np.interp(fine, time, power), span=10 * 86400, widest=7200)
    found = correction(offsets, against="the meter")
    assert len(found.pieces) == 2
    assert found.pieces[0].drift == pytest.approx(-3.0, abs=0.6)
    kept = np.abs(day - 100) > 12
    assert np.abs(found.apply(shown) - time)[kept].max() < 90 * SECOND


def test_events_seen_by_two_lists():
    right = [START + int(day * DAY) for day in (1, 40, 80, 120)]
    shown = [at + 75 * SECOND for at in right]
    found = correction(offsets_of_events(shown, right), against="first-out of four trips")
    assert found.pieces[0].add == pytest.approx(-75)
    assert found.pieces[0].drift == 0
    np.testing.assert_array_equal(found.apply(np.array(shown)), right)
    with pytest.raises(InputError, match="are no pairs"):
        offsets_of_events(shown, right[:2])


def test_readings_of_a_visit_show_a_clock_that_is_off():
    time, power = load(days=3, step=60)
    shown = time + 4320 * SECOND
    moments = [START + int(hours * 3600) * SECOND for hours in (30, 33, 36, 40, 44, 50)]
    read = np.interp(moments, time, power)
    offset = offset_of_readings(shown, power, moments, read, scatter=2.0)
    assert offset.add == pytest.approx(-4320, abs=max(120, 3 * offset.doubt))
    assert offset_of_readings(shown, np.full(len(time), 5.0), moments, [5.0] * 6, scatter=1.0).sure is False


PIECE = st.tuples(st.integers(0, 300), st.floats(-90_000, 90_000), st.floats(-100, 100))


@given(st.lists(PIECE, max_size=4), st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=20))
def test_a_correction_can_be_undone(drawn, seconds):
    edges = sorted({START + day * DAY for day, _, _ in drawn})
    pieces = tuple(
        ClockPiece(start=start, end=end, add=add, drift=drift, about=start)
        for start, end, (_, add, drift) in zip(edges, [*edges[1:], 1 << 62], drawn, strict=False)
    )
    clock = ClockCorrection(pieces)
    shown = START + np.array(seconds, np.int64) * SECOND
    moved = clock.apply(shown)
    assert ClockCorrection.from_list(clock.as_list()) == clock
    back = clock.undo(moved)
    np.testing.assert_allclose(clock.apply(back) - moved, 0, atol=1)  # where pieces overlap: one of the times that fit
    if len(pieces) <= 1 and (not pieces or (shown >= pieces[0].start).all()):
        np.testing.assert_allclose(back - shown, 0, atol=1)


def test_what_is_no_correction():
    with pytest.raises(InputError, match="overlaps"):
        ClockCorrection((ClockPiece(start=0, end=10, add=1), ClockPiece(start=5, end=20, add=1)))
    with pytest.raises(InputError, match="drift below"):
        ClockCorrection((ClockPiece(add=1, drift=5000),))
    assert duration(4320) == "1 h 12 min"
    assert correction([]) == ClockCorrection()
    assert correction([Offset(at=0, add=0.5, doubt=1.0)]).pieces == ()
