"""Channel counts: every example of the invented world and of the generic slots, and the laws of the packing."""

from __future__ import annotations

from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.fitout.catalogue import Units, load_catalogue
from asfound.fitout.channels import backwards, fewest_shortest, main_bearings, plan, units_needed

STRIPS = Units(kind="strip", entries=(5, 7), group_by_group=True)
CARDS_8, CARDS_6 = Units(kind="card", entries=(8,)), Units(kind="card", entries=(6,))


@pytest.mark.parametrize(
    ("family", "catalyst", "bearings", "units", "channels", "count", "entries", "free"),
    [
        ("HM9", True, True, STRIPS, 23, 5, 25, 2),
        ("HM6", True, True, STRIPS, 17, 3, 19, 2),
        ("TR10", True, True, STRIPS, 22, 4, 24, 2),
        ("TR10", True, False, STRIPS, 16, 3, 17, 1),
        ("TR14", True, True, CARDS_8, 28, 4, 32, 4),
        ("TR14", True, False, CARDS_8, 20, 3, 24, 4),
        ("PM9", False, True, CARDS_6, 21, 4, 24, 3),
    ],
)
def test_examples_of_the_invented_world(family, catalyst, bearings, units, channels, count, entries, free):
    one = load_catalogue().families[family]
    planned = plan(
        layout=one.layout,
        cylinders=one.cylinders,
        turbochargers=one.turbochargers,
        bearings=one.main_bearings if bearings else 0,
        catalyst=catalyst,
    )
    needed = units_needed(planned, units)
    assert (planned.total, needed.units, needed.entries, needed.free) == (channels, count, entries, free)


@pytest.mark.parametrize(
    ("layout", "cylinders", "turbochargers", "bearings", "catalyst", "formula"),
    [  # common practice, no source (generic slots)
        ("inline", 9, 1, None, True, "9 + 1 + 1 + 10 + 2 = 23"),
        ("vee", 10, 2, None, False, "10 + 2 + 2 + 6 = 20"),
        ("vee", 18, 2, None, True, "18 + 2 + 2 + 10 + 2 = 34"),
        ("vee", 18, 2, 0, False, "18 + 2 + 2 = 22"),
    ],
)
def test_examples_of_the_generic_slots(layout, cylinders, turbochargers, bearings, catalyst, formula):
    planned = plan(
        layout=layout, cylinders=cylinders, turbochargers=turbochargers, bearings=bearings, catalyst=catalyst
    )
    assert planned.formula == formula


def test_main_bearings_of_the_families_agree_with_common_practice():
    for one in load_catalogue().families.values():
        assert one.main_bearings == main_bearings(layout=one.layout, cylinders=one.cylinders)


def test_groups_of_the_strips_are_as_worked_by_hand():
    """HM9: exhaust 9 on 5+5, bearings 10 on 5+5, hot side 4 on 5. TR10: rows 5 and 5, bearings 6 on 7, hot side 6 on
    7.
    """
    hm9 = plan(layout="inline", cylinders=9, turbochargers=1, bearings=10, catalyst=True)
    assert [units for _, _, units in units_needed(hm9, STRIPS).groups] == [(5, 5), (5, 5), (5,)]
    tr10 = plan(layout="vee", cylinders=10, turbochargers=2, bearings=6, catalyst=True)
    assert [units for _, _, units in units_needed(tr10, STRIPS).groups] == [(5,), (5,), (7,), (7,)]


@given(st.integers(1, 40))
def test_fewest_then_shortest_beats_every_other_set(channels):
    found = fewest_shortest(channels, (5, 7))
    assert sum(found) >= channels
    for count in range(1, len(found) + 1):
        for other in product((5, 7), repeat=count):
            if sum(other) >= channels:
                assert (len(found), sum(found)) <= (count, sum(other))


@given(st.integers(1, 24), st.data())
def test_a_strip_read_backwards_twice_is_read_forwards(entries, data):
    entry = data.draw(st.integers(1, entries))
    assert backwards(backwards(entry, entries), entries) == entry


def test_entry_four_of_five_is_really_two():
    assert backwards(4, 5) == 2
    with pytest.raises(InputError, match="1 to 5"):
        backwards(6, 5)
