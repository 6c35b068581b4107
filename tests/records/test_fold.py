"""What a set of entries adds up to does not depend on the order in which they came in."""

from __future__ import annotations

import random

from hypothesis import given
from hypothesis import strategies as st

from asfound.records.entries import Entry, make_id
from asfound.records.fold import fold


def entry(n: int, kind: str = "note", corrects: Entry | None = None, **content) -> Entry:
    identifier = make_id(1_000_000 + n, randbits=lambda _bits: n)
    link = corrects.id if corrects else None
    return Entry(id=identifier, at="", who=f"w{n}", device="d", kind=kind, content=content, corrects=link)


@st.composite
def histories(draw):
    """Any mixture of notes, corrections, withdrawals and resolutions."""
    made: list[Entry] = [entry(0)]
    for n in range(1, draw(st.integers(1, 14))):
        kind = draw(st.sampled_from(["note", "note", "correction", "correction", "withdrawn", "resolution"]))
        target = draw(st.sampled_from(made))
        if kind == "note":
            made.append(entry(n))
        elif kind == "correction" and target.kind == "note":
            made.append(entry(n, corrects=target))
        elif kind == "withdrawn":
            made.append(entry(n, "withdrawn", corrects=target))
        elif kind == "resolution":
            branches = [one.id for one in made if one.corrects == target.id and one.kind == "note"]
            if len(branches) > 1:
                made.append(entry(n, "resolution", about=target.id, choose=branches[:1], set_aside=branches[1:]))
    return made


@given(histories(), st.randoms(use_true_random=False))
def test_order_and_repetition_do_not_matter(history, shuffler: random.Random):
    shuffled = history + history[: len(history) // 2]
    shuffler.shuffle(shuffled)
    assert fold(shuffled) == fold(history)


@given(histories(), st.integers(0, 14), st.integers(0, 14))
def test_the_union_of_two_laptops_is_the_union(history, one, two):
    left, right = history[:one] + history[two:], history[: max(one, two)]
    assert fold([*left, *right]) == fold([*right, *left])


@given(histories())
def test_nothing_stands_that_is_void_or_replaced(history):
    folded = fold(history)
    standing = {one.id for one in folded.current}
    assert not standing & folded.void
    assert not standing & set(folded.replaced)
    assert {one.id for one in history} >= standing


@given(histories(), st.data())
def test_undoing_an_undo_changes_nothing(history, data):
    target = data.draw(st.sampled_from(history))
    undo = entry(100, "withdrawn", corrects=target)
    back = entry(101, "withdrawn", corrects=undo)
    before, after = fold(history), fold([*history, undo, back])
    if target.id not in before.void:
        assert after.current == before.current
        assert after.conflicts == before.conflicts


def test_a_chain_of_corrections_leaves_the_last():
    a = entry(0)
    b = entry(1, corrects=a)
    c = entry(2, corrects=b)
    assert fold([a, b, c]).current == (c,)
    assert fold([a, b, c]).standing(a.id) == (c.id,)


def test_two_corrections_of_one_entry_clash_until_settled():
    a = entry(0)
    b, c = entry(1, corrects=a), entry(2, corrects=a)
    (conflict,) = fold([a, b, c]).conflicts
    assert (conflict.about, conflict.between) == (a, (b, c))
    assert fold([a, b, c]).current == (b, c)
    one = entry(3, "resolution", about=a.id, choose=[c.id], set_aside=[b.id])
    settled = fold([a, b, c, one])
    assert not settled.conflicts
    assert c in settled.current
    assert b not in settled.current
    both = fold([a, b, c, entry(3, "resolution", about=a.id, choose=[b.id, c.id])])
    assert not both.conflicts
    assert {b, c} <= set(both.current)


def test_a_correction_that_comes_after_the_settlement_clashes_anew():
    a = entry(0)
    b, c = entry(1, corrects=a), entry(2, corrects=a)
    one = entry(3, "resolution", about=a.id, choose=[c.id], set_aside=[b.id])
    late = entry(4, corrects=a)
    (conflict,) = fold([a, b, c, one, late]).conflicts
    assert conflict.between == (c, late)


def test_two_settlements_that_differ_settle_nothing():
    a = entry(0)
    b, c = entry(1, corrects=a), entry(2, corrects=a)
    one = entry(3, "resolution", about=a.id, choose=[c.id], set_aside=[b.id])
    two = entry(4, "resolution", about=a.id, choose=[b.id], set_aside=[c.id])
    assert fold([a, b, c, one, two]).conflicts


def test_withdrawing_the_middle_of_a_chain_keeps_its_end():
    a = entry(0)
    b = entry(1, corrects=a)
    c = entry(2, corrects=b)
    gone = entry(3, "withdrawn", corrects=b)
    assert fold([a, b, c, gone]).current == (c,)
    assert fold([a, b, c, gone, entry(4, "withdrawn", corrects=c)]).current == (a,)
