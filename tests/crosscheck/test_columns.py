"""Sparse derivatives in few columns are the derivatives in all columns."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from asfound.crosscheck.balances import complex_step
from asfound.crosscheck.columns import in_few_columns, shared

from .engine_visits import judged


@given(st.integers(0, 2**32 - 1), st.integers(1, 8), st.integers(1, 12))
def test_no_two_values_of_one_balance_share_a_column(seed, balances, values):
    stands = np.random.default_rng(seed).random((balances, values)) < 0.4
    column = shared(stands)
    assert (column >= 0).all()
    for row in stands:
        assert len(set(column[row].tolist())) == row.sum()


@given(st.integers(0, 2**32 - 1))
def test_derivatives_are_the_same(seed):
    draw = np.random.default_rng(seed)
    stands = draw.random((5, 9)) < 0.4
    turn = np.where(stands, draw.normal(size=(5, 9)), 0.0)

    def formula(x, u):
        z = np.concatenate([x, u])
        return turn @ z**2 + np.where(stands, 1.0, 0.0) @ np.exp(z)

    z = draw.normal(size=9)
    plain, few = (complex_step(of, z[:7], z[7:]) for of in (formula, in_few_columns(formula, stands, 7)))
    assert np.allclose(plain[0], few[0])
    assert np.allclose(plain[1], few[1])


def test_what_a_balance_is_said_to_take_is_all_it_takes():
    """A value that its list does not name would have no derivative: seen against differences of the whole formula."""
    of = judged("s4").assembled
    x, u = of.readings.values, of.balances.starting(of.start)
    before = of.balances.residuals(x, u)
    for at, name in enumerate(of.readings.names):
        moved = x.copy()
        moved[at] += of.readings.u[at]
        changed = np.abs(of.balances.residuals(moved, u) - before) > 1e-12 * (1 + np.abs(before))
        said = np.array([name in of.takes[one.name] for one in of.used])
        assert not (changed & ~said).any(), name
