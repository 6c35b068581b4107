"""Several ways to one number: which is taken, and how far the others agree with it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError, UnknownNameError

from .sheet_world import World, reading


def by_first(a):
    """Return it from the first reading."""
    return np.asarray(a) * 1.0


def by_second(b):
    """Return it from the second reading."""
    return np.asarray(b) * 1.0


def by_first_again(a):
    """Return it from the first reading, by a form that is a little off."""
    return np.asarray(a) * 1.001


def twice(total):
    """Return twice the number."""
    return 2.0 * total


def three_ways():
    """Return a world with three ways to `total` and something that rests on it."""
    return (
        World()
        .add(by_first, takes=("a",), gives="total")
        .add(by_second, takes=("b",), gives="total")
        .add(by_first_again, takes=("a",), gives="total")
        .add(twice, takes=("total",), gives="product")
    )


KEY = "as_found/stack/total"


def test_one_way_is_no_agreement():
    assert three_ways().work_out(reading("b", 1.0)).agreement(KEY) is None
    assert three_ways().work_out(reading("b", 1.0)).agreements == ()


def test_ways_from_different_readings_agree_within_their_doubt():
    worked = three_ways().work_out(reading("a", 10.0), reading("b", 10.1))
    agreement = worked.agreement(KEY)
    assert agreement.taken.worksheet == "by_first"
    second, again = agreement.others
    assert (second.number.worksheet, second.verdict) == ("by_second", "agree")
    assert second.difference.value == pytest.approx(0.1)
    assert second.in_doubts == pytest.approx(0.1 / math.hypot(0.1, 0.1), rel=0.06)
    assert (second.only_here, second.only_taken) == (("as_found/stack/b",), ("as_found/stack/a",))
    assert again.verdict == "small", "a share of what one reading doubts, though the difference is sure"
    assert (again.only_here, again.only_taken) == ((), ())
    assert agreement.verdict == "small"


def test_ways_that_stand_apart_say_by_how_much():
    agreement = three_ways().work_out(reading("a", 10.0), reading("b", 11.0)).agreement(KEY)
    assert agreement.verdict == "apart"
    assert agreement.others[0].in_doubts == pytest.approx(7.1, rel=0.05)


def test_the_method_chosen_is_taken_and_carried_on():
    world, readings = three_ways(), (reading("a", 10.0), reading("b", 11.0))
    first = world.work_out(*readings)
    chosen = world.work_out(*readings, chosen={"total": "by_second"})
    assert first.result(KEY).value == 10.0
    assert chosen.result(KEY).value == 11.0
    assert chosen.result("as_found/stack/product").value == 22.0
    assert [one.worksheet for one in chosen.alternatives(KEY)] == ["by_second", "by_first", "by_first_again"]
    assert chosen.agreement(KEY).taken.worksheet == "by_second"


def test_a_reading_is_taken_before_what_is_worked_out_unless_a_method_is_chosen():
    world, readings = three_ways(), (reading("a", 10.0), reading("total", 12.0))
    worked = world.work_out(*readings)
    assert worked.agreement(KEY).taken.as_typed == "12"
    assert worked.result("as_found/stack/product").value == 24.0
    chosen = world.work_out(*readings, chosen={"total": "by_first"})
    assert chosen.agreement(KEY).taken.worksheet == "by_first"
    assert chosen.agreement(KEY).others[0].number.as_typed == "12"
    assert chosen.taken(KEY) is chosen.agreement(KEY).taken
    assert chosen.result("as_found/stack/product").value == 20.0


def test_a_chosen_method_that_cannot_run_leaves_the_next():
    worked = three_ways().work_out(reading("a", 10.0), chosen={"total": "by_second"})
    assert worked.result("as_found/stack/product").value == 20.0


def test_a_choice_must_be_of_what_gives_it():
    with pytest.raises(UnknownNameError):
        three_ways().work_out(reading("a", 1.0), chosen={"total": "by_secnd"})
    with pytest.raises(InputError, match="by_first, by_second"):
        three_ways().work_out(reading("a", 1.0), chosen={"total": "twice"})


@given(st.floats(1.0, 1e6), st.floats(-0.5, 0.5), st.floats(1e-3, 0.1))
def test_whichever_is_taken_the_distance_is_the_same(value, away, doubt):
    readings = (reading("a", value, u=doubt * value), reading("b", value * (1 + away), u=doubt * value))
    one = three_ways().work_out(*readings, number=200).agreement(KEY)
    two = three_ways().work_out(*readings, number=200, chosen={"total": "by_second"}).agreement(KEY)
    other = next(pair for pair in two.others if pair.number.worksheet == "by_first")
    assert one.others[0].in_doubts == pytest.approx(other.in_doubts, rel=1e-6, abs=1e-9)
    assert one.others[0].difference.value == pytest.approx(-other.difference.value, rel=1e-9, abs=1e-9 * value)
