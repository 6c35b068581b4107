"""Closed cases move priors as a Dirichlet prior is moved by counts, and leaving them out undoes it."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, UnknownNameError
from asfound.troubleshoot import Odds, generic
from asfound.troubleshoot.closed_cases import WORTH, with_closed_cases

COUNTS = st.dictionaries(st.sampled_from(list(generic().causes)), st.integers(0, 30), max_size=6)


@settings(max_examples=30, deadline=None)
@given(COUNTS)
def test_shares_add_up_and_counts_pull_up(counts):
    known, moved = with_closed_cases(generic(), counts)
    total = sum(one.prior for one in generic().causes.values())
    assert sum(one.prior for one in known.causes.values()) == pytest.approx(total)
    assert {one.cause: one.cases for one in moved} == {name: n for name, n in counts.items() if n}
    if len(moved) == 1:
        assert moved[0].after > moved[0].before
    assert Odds(known).prior.sum() == pytest.approx(1)


@settings(max_examples=20, deadline=None)
@given(COUNTS, COUNTS)
def test_cases_closed_in_two_parts_count_as_in_one(first, second):
    both = {name: first.get(name, 0) + second.get(name, 0) for name in {*first, *second}}
    once, _ = with_closed_cases(generic(), both)
    half, _ = with_closed_cases(generic(), first)
    twice, _ = with_closed_cases(half, second, worth=WORTH + sum(first.values()))
    for name in once.causes:
        assert once.causes[name].prior == pytest.approx(twice.causes[name].prior)


def test_none_changes_nothing_and_wrong_ones_are_refused():
    assert with_closed_cases(generic(), {}) == (generic(), ())
    with pytest.raises(UnknownNameError):
        with_closed_cases(generic(), {"c_coyl": 1})
    with pytest.raises(InputError):
        with_closed_cases(generic(), {"c_coil": -1})
    with pytest.raises(InputError):
        with_closed_cases(generic(), {"c_coil": 1}, worth=0)
