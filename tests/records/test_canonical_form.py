"""The canonical form: the fast way writes what the library for RFC 8785 writes, and what the standard prints."""

from __future__ import annotations

import math

import pytest
import rfc8785
from hypothesis import example, given
from hypothesis import strategies as st

from asfound.records.canonical_form import canonical

NUMBERS = {  # RFC 8785, appendix B: the number, and how it is written
    0.0: "0", 5e-324: "5e-324", -5e-324: "-5e-324", 1.7976931348623157e308: "1.7976931348623157e+308",
    9007199254740992.0: "9007199254740992", 295147905179352830000.0: "295147905179352830000",
    9.999999999999997e22: "9.999999999999997e+22", 1e23: "1e+23", 999999999999999700000.0: "999999999999999700000",
    999999999999999900000.0: "999999999999999900000", 1e21: "1e+21", 333333333.3333332: "333333333.3333332",
    333333333.33333325: "333333333.33333325", 333333333.3333333: "333333333.3333333",
    333333333.3333334: "333333333.3333334", 333333333.33333343: "333333333.33333343",
    -0.0000033333333333333333: "-0.0000033333333333333333", 1424953923781206.2: "1424953923781206.2",
    0.000001: "0.000001", 9.999999999999997e-7: "9.999999999999997e-7",
}  # fmt: skip
VALUES = st.recursive(
    st.none() | st.booleans() | st.text() | st.integers(-(2**53) + 1, 2**53 - 1)
    | st.floats(allow_nan=False, allow_infinity=False) | st.floats(1e-5, 1e-3) | st.floats(1e14, 1e17),
    lambda inside: st.lists(inside, max_size=4) | st.dictionaries(st.text(max_size=6), inside, max_size=5),
    max_leaves=12,
)  # fmt: skip


@pytest.mark.parametrize(("number", "written"), NUMBERS.items())
def test_numbers_of_the_standard(number, written):
    assert canonical(number).decode() == written
    assert canonical(-0.0) == b"0"
    assert canonical([number]) == f"[{written}]".encode()


@given(VALUES)
@example({"\ufb33": 1, "\U0001f600": 2, "\r": 3})
@example({'a\x7f\x1f"\\/': "\u2028\b\f\n\r\t\x00\x1f\x7f"})
@example([1e-4, 9.9e-5, 1e15, 1e16, 123456789012345680.0, 2**53 - 1, True, 1.0, -1.5])
def test_as_the_library_writes_it(value):
    try:
        wanted = rfc8785.dumps(value)
    except (rfc8785.CanonicalizationError, UnicodeEncodeError) as refused:
        with pytest.raises(type(refused)):
            canonical(value)
        return
    assert canonical(value) == wanted


@pytest.mark.parametrize("value", [math.nan, math.inf, 2**53, -(2**70), {1: 2}, "\ud800", {"a": ["\udfff"]}, {2, 3}])
def test_what_has_no_canonical_form_is_refused_as_the_library_does(value):
    with pytest.raises(rfc8785.CanonicalizationError):
        rfc8785.dumps(value)
    with pytest.raises(rfc8785.CanonicalizationError):
        canonical(value)
