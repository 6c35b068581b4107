"""Swing of the speed for the swing of the load: gains that are moved are seen, loads that swing more are not."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.history.demo import generate
from asfound.history.look_facts import VisitFact
from asfound.history.look_indicator import Series, indicator_of
from asfound.history.look_parts import Indicator, VisitSeen
from asfound.history.look_rows import swing
from asfound.history.look_visits import visits_seen
from asfound.history.sensor_fault import running_of
from asfound.history.watched import in_log

BLOCK = 18
MICRO = 1_000_000
DAY = 86_400


def seen(tag: str, visit: str) -> tuple[Indicator, tuple[VisitSeen, ...]]:
    """The indicator alone, as a look works it out, and what a visit did to it."""
    log = generate(tag, 48).channels
    first = np.arange(0, len(log), BLOCK)
    power = next(name for name in ("engine_power@engine", "generator_power@generator") if name in log.values)
    y = swing(log.values["engine_speed@engine"], log.values[power], running_of(log), first)
    (made,) = [one for one in in_log(log.values) if one.key == "speed_swing"]
    begins = int(np.datetime64(f"{visit}T07:40", "us").astype(np.int64))
    visits = (VisitFact(name=f"{tag}/{visit}", start=begins, end=begins + 12 * 3600 * MICRO),)
    series = Series(
        made=made, time=log.time[first] * 1e-6, y=y, hours=np.arange(len(first)) * 3.0,
        counts=np.ones(len(first), bool), effects={}, running_share=0.95, visits=visits, limit=None,
    )  # fmt: skip
    found = indicator_of(series)
    return found, visits_seen([series], [found], visits, int(log.time[0]), int(log.time[-1]))


def day(time: int) -> str:
    return str(np.datetime64(time, "us"))[:10]


def test_gains_that_visitors_moved_are_seen_and_that_they_were_put_back_too() -> None:
    """Planted in N1: gains times 1.5 on 2031-10-27, times 2.2 on 2032-04-29, put back on 2032-11-05."""
    one, visits = seen("N1", "2032-11-05")
    assert [day(step.time)[:7] for step in one.steps] == ["2031-10", "2032-04", "2032-11"]
    for step, truth in zip(one.steps, ("2031-10-27", "2032-04-29", "2032-11-05"), strict=True):
        assert day(step.earliest - 2 * DAY * MICRO) <= truth <= day(step.latest + 2 * DAY * MICRO)
    (effect,) = visits[0].effects
    assert effect.verdict == "worked"
    assert np.exp(effect.difference.value) == pytest.approx(1 / 2.2, rel=0.1)


@pytest.mark.parametrize("tag", ["A1", "D2"])
def test_nothing_is_seen_where_nobody_moved_them(tag: str) -> None:
    one, _ = seen(tag, "2032-11-05")
    assert one.steps == ()
    assert one.judged in ("still", "unknown")


@given(gain=st.floats(0.2, 5.0), scale=st.floats(0.5, 3.0), seed=st.integers(0, 50))
def test_the_ratio_is_the_gain_whatever_the_load_swings(gain: float, scale: float, seed: int) -> None:
    random = np.random.default_rng(seed)
    wide = np.repeat(np.where(np.arange(40) % 5 == 0, 10.0 * scale, 1.0), BLOCK)
    load = 500.0 + wide * random.standard_normal(40 * BLOCK)
    speed = 125.0 + gain * (load - 500.0)
    first = np.arange(0, len(load), BLOCK)
    found = swing(speed, load, np.ones(len(load), bool), first)
    there = np.isfinite(found)
    assert set(np.flatnonzero(there)) <= set(range(0, 40, 5))
    assert found[there] == pytest.approx(gain, rel=1e-9)


def test_a_stopped_engine_and_a_short_block_say_nothing() -> None:
    load = np.tile([0.0, 10.0], BLOCK)
    first = np.array([0, BLOCK])
    assert np.isnan(swing(load, load, np.zeros(2 * BLOCK, bool), first)).all()
    few = np.zeros(2 * BLOCK, bool)
    few[:11] = True
    assert np.isnan(swing(load, load, few, first)).all()
