"""Order of the entries of a strip: found where it can be, and not where nothing tells."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.cylinders.channel_order import BEFORE, Witness, arrangements, judge_order, likely_strips
from asfound.errors import InputError

USUAL = np.array([11.0, -16.0, 20.0, -5.0, 2.0])
SPREAD = 4.0


@given(st.integers(2, 12))
def test_each_arrangement_is_a_permutation_and_stands_once(count):
    listed = arrangements(count)
    assert listed[0].kind == "as_is"
    maps = [one.cylinder_of for one in listed]
    assert len(set(maps)) == len(maps)
    assert all(sorted(one) == list(range(count)) for one in maps)


@pytest.mark.parametrize("true", arrangements(5), ids=lambda one: one.says)
def test_the_pattern_tells_how_the_entries_are_put(true):
    shown = USUAL[list(true.cylinder_of)]
    found = judge_order(shown, USUAL, SPREAD / 2)
    assert found.best.cylinder_of == true.cylinder_of
    apart = np.linalg.norm(shown - USUAL)
    assert found.verdict == true.kind or (apart < 18 and found.verdict == "cannot_be_told"), (
        "only cylinders that are much alike can be exchanged unseen"
    )


@settings(max_examples=30)
@given(st.floats(-60, 60))
def test_a_common_level_changes_nothing(level):
    plain, moved = (judge_order(USUAL[::-1] + by, USUAL, SPREAD) for by in (0.0, level))
    assert moved.probability == pytest.approx(plain.probability)


def test_half_of_a_long_row_may_be_turned_by_itself():
    """Nine in line on two strips of five (invented world): the second strip counts backwards."""
    usual = np.array([10.0, -14.0, 3.0, 18.0, -6.0, 12.0, -9.0, 25.0, -20.0])
    shown = np.concatenate((usual[:5], usual[:4:-1]))
    found = judge_order(shown, usual, SPREAD / 2, strips=likely_strips(9, 1))
    assert found.verdict == "reversed"
    assert found.says == "the entries of 6 to 9 count backwards: the entry of 6 shows 9"
    assert likely_strips(5, 1) == ((0, 5),)
    assert likely_strips(7, 2) == ((0, 7),)


def test_a_cold_cylinder_does_not_turn_the_order():
    shown = USUAL.copy()
    shown[3] -= 90.0
    assert judge_order(shown, USUAL, SPREAD).verdict == "as_is"


def test_a_flat_pattern_tells_nothing():
    found = judge_order(np.zeros(5), np.zeros(5), SPREAD)
    assert found.verdict == "cannot_be_told"
    assert found.of_kind("as_is") == pytest.approx(0.9)


def test_one_witness_points_and_two_decide():
    """A3 of the invented world: L2 is cold and L4 shows it; the strip of five counts backwards."""
    cold = Witness(cylinder=1, entry=3)
    one = judge_order([0.0] * 5, None, SPREAD, witnesses=[cold])
    assert one.best.kind == "reversed"
    assert one.verdict == "cannot_be_told"
    two = judge_order([0.0] * 5, None, SPREAD, witnesses=[cold, Witness(cylinder=0, entry=4)])
    assert two.verdict == "reversed"
    assert two.probability > one.probability


def test_an_entry_that_did_not_answer_speaks_against_its_own_cylinder():
    found = judge_order([0.0] * 5, None, SPREAD, witnesses=[Witness(3, 3, answered=False)])
    assert found.of_kind("as_is") < 0.5
    assert found.verdict == "cannot_be_told"
    assert found.says.startswith("cannot be told: ")


def test_an_entry_that_shows_nothing_is_left_out():
    shown = USUAL[::-1].copy()
    shown[2] = np.nan
    assert judge_order(shown, USUAL, SPREAD / 2).verdict == "reversed"


def test_chances_sum_to_one():
    found = judge_order(USUAL, USUAL, SPREAD)
    assert sum(chance for _, chance in found.arrangements) == pytest.approx(1.0)
    assert sum(found.of_kind(kind) for kind in ("as_is", "reversed", "shifted", "swapped")) == pytest.approx(1.0)


def test_what_cannot_be_judged_is_refused():
    with pytest.raises(InputError):
        judge_order([1.0, 2.0, 3.0], [1.0, 2.0], SPREAD)
    with pytest.raises(InputError):
        judge_order([1.0, 2.0], [1.0, 2.0], 0.0)
    with pytest.raises(InputError):
        arrangements(1)


def test_what_is_named_is_seldom_wrong():
    """Engines of the invented world (pattern 9 K, noise 2 K), each order as often as the program believes."""
    draw = np.random.default_rng(4)
    listed = arrangements(5)
    share = {kind: BEFORE[kind] / sum(one.kind == kind for one in listed) for kind in BEFORE}
    right = wrong = 0
    for which in draw.choice(len(listed), size=400, p=[share[one.kind] for one in listed]):
        usual = draw.normal(0, 9.0, 5)
        true = listed[which].cylinder_of
        found = judge_order(usual[list(true)] + draw.normal(0, 2.0, 5), usual, 3.0)
        if found.verdict != "cannot_be_told":
            right += found.best.cylinder_of == true
            wrong += found.best.cylinder_of != true
    assert right > 300
    assert wrong < 0.05 * right
