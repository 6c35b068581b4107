"""Numbers of a column, thousands at a time, against Python's own ``float``."""

from __future__ import annotations

import math
import re

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from asfound.history.numbers_in import number_of, numbers
from asfound.history.split_lines import fields_of_texts

PLAIN = re.compile(r"[-+]?(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?$")
WRITTEN = st.one_of(
    st.floats(-1e15, 1e15).map(repr),
    st.tuples(st.floats(-1e6, 1e6), st.integers(0, 8)).map(lambda pair: f"{pair[0]:.{pair[1]}f}"),
    st.integers(-(10**20), 10**20).map(str),
    st.text("0123456789+-.eE ,x", max_size=20),
)


@given(st.lists(WRITTEN, min_size=1, max_size=40), st.sampled_from(".,"))
def test_as_float_reads_them(texts, decimal):
    texts = [text.replace(",", "x").replace(".", decimal) for text in texts]
    found, other = numbers(*fields_of_texts(texts), decimal=decimal)
    for text, value, refused in zip(texts, found, other, strict=True):
        plain = text.strip().replace(decimal, ".")
        if PLAIN.match(plain) and math.isfinite(float(plain)):
            assert value == float(plain), text
            assert not refused
        else:
            assert math.isnan(value), text
            assert refused == bool(plain)


def test_a_mark_of_thousands_stands_before_three_figures():
    texts = ["1.234,5", "12.345.678", "1.23,5", "1234,5", "-2.000,0", "1 234"]
    found, other = numbers(*fields_of_texts(texts), decimal=",", thousands=".")
    np.testing.assert_array_equal(found, [1234.5, 12345678.0, math.nan, 1234.5, -2000.0, math.nan])
    assert other.tolist() == [False, False, True, False, False, True]
    assert number_of("1'234.5", ".", "'") == 1234.5
