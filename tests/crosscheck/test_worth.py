"""What another measurement is worth: against doing it, and against simulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.crosscheck.balances import linear_balances
from asfound.crosscheck.identify import identify
from asfound.crosscheck.marks import Mark
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.reconcile import reconcile
from asfound.crosscheck.worth import worth_for_quantity, worth_for_suspects
from asfound.errors import InputError

from .plants import heat_plant, heat_readings, readings

START = {"heat_to_1": 1000.0, "heat_to_3": 1000.0}


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 2**31), st.data())
def test_the_promise_is_what_measuring_once_more_gives(seed, data):
    """A second meter on a stream, as a reading of its own with the balance that both read the same."""
    measured = sorted(data.draw(st.sets(st.integers(1, 12), min_size=7, max_size=12)))
    balances, y = readings("B12", seed, measured=measured)
    found = reconcile(balances, y)
    names = [*balances.readings, *balances.unmeasured]
    wanted, extra = (data.draw(st.sampled_from(names)) for _ in range(2))
    promise = worth_for_quantity(found, wanted, {extra: 0.3})[0]
    _, a, b = balances.linearised(y.values, np.ones(len(balances.unmeasured)))
    more = np.zeros((len(a) + 1, len(names) + 1))
    more[:-1, : len(y.names)], more[:-1, len(y.names) + 1 :] = a, b
    more[-1, len(y.names)] = -1.0
    at = names.index(extra)
    more[-1, at if at < len(y.names) else at + 1] = 1.0
    twice = linear_balances(more, (*balances.readings, "again"), balances.unmeasured)
    done = reconcile(twice, Readings.independent((*y.names, "again"), [*y.values, 10.0], [*y.u, 0.3]))
    was, now = found.standard_uncertainty(wanted), done.standard_uncertainty(wanted)
    assert promise.before == pytest.approx(np.inf if np.isnan(was) else was, rel=1e-6)
    assert promise.after == pytest.approx(np.inf if np.isnan(now) else now, rel=1e-6)
    assert promise.after <= promise.before * (1 + 1e-9)
    assert 0 <= promise.gain <= 1 + 1e-9 or promise.gain == pytest.approx(0.0, abs=1e-9)


@settings(deadline=None, max_examples=40)
@given(st.integers(0, 2**31), st.data())
def test_the_promise_counts_what_was_released(seed, data):
    """A released reading is as good as not measured; a second meter on it measures it again."""
    balances, y = readings("B12", seed)
    out, wanted, extra = (f"stream_{data.draw(st.integers(1, 12))}" for _ in range(3))
    found = reconcile(balances, y, released=[Mark(name="out", effect={out: 1.0})])
    fewer, left = readings("B12", seed, measured=[at for at in range(1, 13) if f"stream_{at}" != out])
    without = reconcile(fewer, left)
    mine, theirs = (worth_for_quantity(one, wanted, {extra: 0.3})[0] for one in (found, without))
    assert mine.before == pytest.approx(found.standard_uncertainty(wanted), rel=1e-6)
    assert mine.before == pytest.approx(theirs.before, rel=1e-6)
    assert mine.after == pytest.approx(theirs.after, rel=1e-6)


def test_a_check_gauge_on_one_of_two_suspects_decides():
    balances = linear_balances([[1.0, -1.0, 0.0], [1.0, 1.0, -1.0]], ["a", "b"], ["twice"])
    found = identify(balances, Readings.independent("ab", [110.0, 100.0], [1.0, 1.0]))
    assert not found.told_apart
    ranked = worth_for_suspects(found, {"a": 1.0, "b": 1.0, "twice": 40.0})
    assert {ranked[0].name, ranked[1].name} == {"a", "b"}
    assert ranked[0].before == pytest.approx(0.5, abs=0.01)
    assert ranked[0].after > 0.98
    assert ranked[0].bits == pytest.approx(1.0, abs=0.1)
    assert ranked[2].after < 0.6
    assert ranked[0].gain > 0.45


def test_a_worse_instrument_is_worth_less_and_none_nothing():
    found = identify(heat_plant(), heat_readings(3, {"flow_3": 20.0}), start=START)
    fine, coarse, none = (worth_for_suspects(found, {"flow_3": u})[0] for u in (0.5, 10.0, 1e6))
    assert fine.bits >= coarse.bits >= none.bits
    assert none.bits == pytest.approx(0.0, abs=1e-6)
    assert none.after == pytest.approx(none.before, abs=1e-6)


def test_the_expected_probability_is_what_simulation_gives():
    """Two meters of one flow, one lies by 6; a third with u = 4: often enough it does not decide."""
    balances = linear_balances([[1.0, -1.0]], ["a", "b"])
    found = identify(balances, Readings.independent("ab", [106.0, 100.0], [1.0, 1.0]))
    promise = worth_for_suspects(found, {"a": 4.0})[0]
    draw = np.random.default_rng(1)
    nobody = found.nobody / (found.nobody + found.screen.odds.one.sum())
    truth = np.where(draw.random(200_000) < nobody, 103.0, np.where(draw.random(200_000) < 0.5, 106.0, 100.0))
    spread = np.where(truth == 103.0, (0.5 + 16) ** 0.5, 17**0.5)
    z = truth + spread * draw.standard_normal(truth.size)
    weights = np.array([nobody, (1 - nobody) / 2, (1 - nobody) / 2])
    s = np.array([(0.5 + 16) ** 0.5, 17**0.5, 17**0.5])
    joint = weights * np.exp(-0.5 * ((z[:, None] - [103.0, 106.0, 100.0]) / s) ** 2) / s
    simulated = (joint.max(axis=1) / joint.sum(axis=1)).mean()
    assert promise.after == pytest.approx(simulated, abs=0.01)


def test_what_stands_in_no_balance_or_is_no_uncertainty_is_refused():
    balances, y = readings("B2", 1)
    found = reconcile(balances, y)
    with pytest.raises(InputError, match="no balance"):
        worth_for_quantity(found, "stream_99", {"stream_1": 0.1})
    with pytest.raises(InputError, match="no standard uncertainty"):
        worth_for_quantity(found, "stream_1", {"stream_1": 0.0})
    with pytest.raises(InputError, match="no balance"):
        worth_for_suspects(identify(balances, y), {"stream_99": 0.1})
