"""Atoms of a gas, against counting by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.fuel.elements import ATOMS, atoms

# Ashgrebe G1 of the demo world, mol fractions in the order of ATOMS
G1 = (0.9120, 0.0460, 0.0155, 0.0022, 0.0031, 0.0007, 0.0005, 0.0005, 0.0105, 0.0090, 0.0, 0.0, 0.0)


def test_counted_by_hand() -> None:
    c, h, o, n = atoms(*G1)
    assert c == pytest.approx(0.912 + 2 * 0.046 + 3 * 0.0155 + 4 * 0.0053 + 5 * 0.0012 + 6 * 0.0005 + 0.009)
    assert h == pytest.approx(4 * 0.912 + 6 * 0.046 + 8 * 0.0155 + 10 * 0.0053 + 12 * 0.0012 + 14 * 0.0005)
    assert (o, n) == pytest.approx((0.018, 0.021))


@given(st.lists(st.floats(0.0, 1.0), min_size=len(ATOMS), max_size=len(ATOMS)).filter(lambda x: sum(x) > 0.1))
def test_scale_of_the_analysis_does_not_matter(x: list[float]) -> None:
    assert atoms(*x) == pytest.approx(atoms(*(100 * one for one in x)))


def test_wrong_number_of_components_is_refused() -> None:
    with pytest.raises(ValueError, match="zip"):
        atoms(1.0)
