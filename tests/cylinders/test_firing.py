"""Firing intervals and orders: sums, partners, companions, and typed orders that cannot be."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.cylinders.firing_check import check_order
from asfound.cylinders.firing_order import (
    companions,
    crank_angles,
    even_bank_angles,
    firing_interval,
    firing_intervals,
    parse_order,
    published_orders,
    renamed,
)
from asfound.cylinders.numbering import CONVENTIONS, Convention, Layout, names, translate
from asfound.errors import InputError

ROWS = Convention(title="rows from the free end", first_at="free_end", names="L1")
ALONG = CONVENTIONS["sequential_free_end"]
ORDERS = st.integers(2, 20).flatmap(lambda n: st.permutations([str(i + 1) for i in range(n)]))


def v_order(left: str, partner=lambda name: name) -> list[str]:
    return [one for name in left.split("-") for one in (f"L{name}", f"R{partner(name)}")]


@given(ORDERS)
def test_an_even_order_fills_two_turns(order):
    angles = list(crank_angles(order).values())
    assert angles[-1] + firing_interval(len(order)) == pytest.approx(4 * math.pi)


@given(ORDERS)
def test_companions_are_mutual_and_exist_for_even_numbers_only(order):
    found = companions(order)
    assert len(found) == (len(order) if len(order) % 2 == 0 else 0)
    assert all(found[found[name]] == name for name in found)


@given(st.integers(1, 12), st.floats(0.01, math.pi - 0.01))
def test_intervals_of_a_v_engine_fill_a_cycle_of_its_bank(pairs, angle):
    found = firing_intervals(2 * pairs, angle)
    assert sum(found) * (2 if len(found) == 1 else 1) == pytest.approx(4 * math.pi / pairs)


@given(st.integers(1, 12))
def test_even_angles_fire_evenly(pairs):
    for angle in even_bank_angles(2 * pairs):
        (interval,) = firing_intervals(2 * pairs, angle)
        assert interval == pytest.approx(firing_interval(2 * pairs))


def test_a_rounded_angle_of_a_plate_is_even():
    assert len(firing_intervals(14, math.radians(51.4))) == 1


def test_an_odd_number_in_a_row_may_be_even_a_turn_later():
    """Shared reference: 360 degrees and the bank angle later can be even again with an odd number in a row."""
    angle = math.radians(0.1)
    straight, later = (firing_intervals(10, angle, partner_a_turn_later=turn) for turn in (False, True))
    assert len(straight) == 2
    assert len(later) == 1


def test_published_orders_are_their_own_mirror():
    """1-5-3-6-2-4 counted from the other end is the same order (two public pages list it)."""
    layout = Layout("inline", 6)
    ends = translate(layout, CONVENTIONS["sequential_free_end"], CONVENTIONS["sequential_driving_end"])
    assert "-".join(renamed(parse_order("1-5-3-6-2-4"), ends)) == "1-5-3-6-2-4"
    assert published_orders(12) == ()


@pytest.mark.parametrize("cylinders", [4, 5, 6, 8])
def test_published_orders_pass(cylinders):
    for order, _, _ in published_orders(cylinders):
        found = check_order(Layout("inline", cylinders), ALONG, order)
        assert found.possible
        assert found.remarks == ()


def test_a_typed_order_is_refused_with_the_reason():
    six = Layout("inline", 6)
    assert check_order(six, ALONG, parse_order("1-5-3-6-2-2")).faults == (
        "2 fires more than once",
        "4 never fires",
    )
    assert check_order(six, ALONG, parse_order("1 5 3 6 2 7")).faults[0] == "this engine has no cylinder 7"
    assert "not among the orders" in check_order(six, ALONG, parse_order("1-2-3-4-5-6")).remarks[0]
    uneven = check_order(six, ALONG, parse_order("1-5-3-6-2-4"), intervals=[2.0] * 6)
    assert "720 degrees" in uneven.faults[0]
    with pytest.raises(InputError):
        parse_order(" - ")


def test_partners_of_a_v_engine_stand_the_bank_angle_apart():
    ten, angle = Layout("vee", 10), math.radians(72)
    good = v_order("1-3-5-2-4")
    assert check_order(ten, ROWS, good, bank_angle=angle).possible
    wrong = list(good)
    wrong[1], wrong[3] = wrong[3], wrong[1]
    assert "not equally far apart" in check_order(ten, ROWS, wrong, bank_angle=angle).faults[0]
    even = [firing_interval(10)] * 10
    narrow = check_order(ten, ROWS, good, bank_angle=math.radians(60), intervals=even)
    assert "the banks stand 60 degrees apart" in narrow.faults[0]


def test_uneven_v_engines_alternate():
    twelve = Layout("vee", 12)
    order = v_order("1-5-3-6-2-4", partner=lambda name: str(7 - int(name)))
    found = check_order(twelve, ROWS, order, bank_angle=math.radians(90))
    assert found.possible
    steps = {round(math.degrees(following - one)) for one, following in pairwise(found.angles.values())}
    assert steps == {30, 90}
    in_turn = [*order[:2], *order[2:4][::-1], *order[4:]]
    assert "in turn" in check_order(twelve, ROWS, in_turn, bank_angle=math.radians(90)).faults[0]


@given(st.permutations(range(1, 8)))
def test_any_even_v14_with_partners_next_to_each_other_is_possible(left):
    order = v_order("-".join(map(str, left)))
    found = check_order(Layout("vee", 14), ROWS, order, bank_angle=math.radians(51.4))
    assert found.possible
    assert set(found.angles) == set(names(Layout("vee", 14), ROWS).values())


def test_two_stroke():
    assert firing_interval(4, strokes=2) == pytest.approx(math.pi / 2)
    assert companions(["1", "2"], strokes=2) == {}
    with pytest.raises(InputError):
        firing_interval(4, strokes=3)
