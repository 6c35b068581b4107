"""Numbering: every convention is a bijection, and the ways between them come back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.cylinders.engine_numbering import (
    both_numbers,
    engine_convention,
    layout_of,
    operator_convention,
    place_positions,
    rows,
)
from asfound.cylinders.numbering import (
    CONVENTIONS,
    Convention,
    Layout,
    Position,
    as_painted,
    names,
    position_words,
    positions,
    table,
    translate,
)
from asfound.cylinders.rotation import Rotation
from asfound.errors import InputError
from asfound.report.engine_plan import EngineDrawing

LAYOUTS = st.one_of(
    st.integers(1, 24).map(lambda n: Layout("inline", n)),
    st.integers(1, 12).map(lambda n: Layout("vee", 2 * n)),
)
ENDS = ("driving_end", "free_end")
ANY = st.builds(
    Convention,
    title=st.just("any"),
    first_at=st.sampled_from(ENDS),
    names=st.sampled_from(("1", "L1", "1L", "A1")),
    sides_seen_from=st.sampled_from(ENDS),
    order=st.sampled_from(("along", "row_by_row")),
    first_row=st.sampled_from(("left", "right")),
)
N2 = {
    "layout": {"form": "inline", "cylinders": 9},
    "numbering": {"first_at": "driving_end", "names": "1", "operator_counts_from": "free_end"},
}
A3 = {
    "layout": {"form": "vee", "cylinders": 10, "angle": 72},
    "numbering": {"first_at": "free_end", "names": "L1", "sides_seen_from": "driving_end"},
}


@given(LAYOUTS, ANY)
def test_a_convention_names_each_cylinder_once(layout, convention):
    called = names(layout, convention)
    assert len(called) == layout.cylinders
    assert len(set(called.values())) == layout.cylinders
    there = positions(layout, convention)
    assert all(there[name] == position for position, name in called.items())


@given(LAYOUTS, ANY, ANY)
def test_there_and_back_is_nothing(layout, one, other):
    there, back = translate(layout, one, other), translate(layout, other, one)
    assert all(back[there[name]] == name for name in there)


@given(LAYOUTS, ANY, ANY, ANY)
def test_by_way_of_a_third_is_the_same(layout, one, other, third):
    straight, to, on = translate(layout, one, third), translate(layout, one, other), translate(layout, other, third)
    assert straight == {name: on[to[name]] for name in to}


@given(LAYOUTS)
def test_counted_from_the_other_end_in_line(layout):
    if layout.form == "inline":
        ways = CONVENTIONS["sequential_driving_end"], CONVENTIONS["sequential_free_end"]
        assert all(int(a) + int(b) == layout.cylinders + 1 for a, b in translate(layout, *ways).items())


def test_the_two_families_contradict_each_other():
    """ISO 1204 (from memory) counts from the coupling, SAE J824 (public summary) from the other end."""
    layout = Layout("vee", 12)
    assert translate(layout, CONVENTIONS["iso_1204"], CONVENTIONS["sae_j824_b"])["A1"] == "6L"
    assert "memory" in CONVENTIONS["iso_1204"].seen


def test_left_seen_from_the_other_end_is_right():
    layout = Layout("vee", 8)
    seen_from_free = Convention(title="", first_at="free_end", names="L1", sides_seen_from="free_end")
    assert positions(layout, seen_from_free)["L1"] == Position("right", 4)


@given(
    st.sampled_from(ENDS),
    st.sampled_from(ENDS),
    st.sampled_from(("1", "L1", "A1")),
    st.integers(1, 12),
    st.sampled_from(("inline", "vee")),
)
def test_the_drawing_counts_as_this_room_does(first_at, seen_from, called, per_row, form):
    """The plan of the engine has its own count; both must say the same."""
    count = per_row if form == "inline" else 2 * per_row
    drawn = EngineDrawing(
        layout=form, cylinders=count, first_at=first_at, names=called, sides_seen_from=seen_from
    ).cylinder_names()
    layout = Layout(form, count)
    here = names(layout, Convention(title="", first_at=first_at, names=called, sides_seen_from=seen_from))
    assert [here[one] for one in layout.positions] == [name for row in drawn for name in row]


def test_n2_the_operators_one_is_the_builders_nine():
    """Invented world: the site counts from the other end."""
    found = both_numbers(N2)
    assert [one.builder for one in found if one.operator == "1"] == ["9"]
    assert [one.place for one in found if one.operator == one.builder] == ["cylinder_5"]
    assert operator_convention(A3) is None
    assert both_numbers({}) == ()


def test_places_and_banks_follow_the_builder():
    assert place_positions(A3)["cylinder_L1"] == Position("left", 5)
    assert rows(A3)["left_bank"] == tuple(f"cylinder_L{n}" for n in (5, 4, 3, 2, 1))
    assert rows(N2) == {"engine": tuple(f"cylinder_{n}" for n in range(1, 10))}
    assert layout_of({"layout": None}) is None
    assert layout_of({"layout": {"form": "vee", "cylinders": 9}}) is None, "a record that cannot be stops no finding"
    assert engine_convention({}).first_at == "free_end"


def test_a_table_shows_each_cylinder_with_all_its_names():
    found = table(Layout("inline", 3), {"builder": CONVENTIONS["sequential_free_end"], "sae": CONVENTIONS["iso_1204"]})
    assert found[0] == {"position": "1st from the flywheel", "builder": "3", "sae": "1"}


def test_as_painted_is_refused_when_it_cannot_be():
    layout = Layout("vee", 4)
    assert as_painted(layout, [["2", "1"], ["4", "3"]])[Position("right", 2)] == "3"
    with pytest.raises(InputError, match="two cylinders"):
        as_painted(layout, [["1", "1"], ["4", "3"]])
    with pytest.raises(InputError, match="2 x 2"):
        as_painted(layout, [["1", "2", "3", "4"]])
    with pytest.raises(InputError, match="odd"):
        Layout("vee", 9)
    with pytest.raises(InputError, match="1 to 24"):
        Layout("inline", 0)


def test_words_of_a_position():
    said = [position_words(Position("only", n)) for n in (1, 2, 3, 4, 11, 12, 21)]
    assert [one.split()[0] for one in said] == ["1st", "2nd", "3rd", "4th", "11th", "12th", "21st"]


@given(st.sampled_from(("clockwise", "counterclockwise")), st.sampled_from(ENDS))
def test_rotation_is_the_other_way_round_from_the_other_end(turn, end):
    one = Rotation(turn, end)
    assert one.other_view.from_end(end) == turn
    assert one.other_view.sae_j824 == one.sae_j824
    assert one.from_end("driving_end") != one.from_end("free_end")


def test_a_crankpin_that_goes_clockwise_comes_to_the_left_row_first():
    assert Rotation("clockwise", "driving_end").first_row == "left"
    assert Rotation("clockwise", "free_end").first_row == "right"
