"""Identifiers and the canonical form."""

from __future__ import annotations

import uuid
from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.records.entries import canonical, is_id, make_id, time_of


def test_identifier_of_the_standard():
    """RFC 9562, Appendix A.6: 2022-02-22 14:22:22.00 GMT-05:00, rand_a 0xCC3, rand_b 0x18C4DC0C0C07398F."""
    printed = "017f22e2-79b0-7cc3-98c4-dc0c0c07398f"
    counter = 0xCC3 << 62 | 0x18C4DC0C0C07398F
    assert make_id(0x017F22E279B0, randbits=lambda _bits: counter) == printed
    assert time_of(printed) == datetime(2022, 2, 22, 19, 22, 22, tzinfo=UTC)


def test_the_standard_library_agrees_on_version_and_variant():
    made = uuid.UUID(make_id(1_700_000_000_000))
    assert (made.version, made.variant) == (7, uuid.RFC_4122)
    assert is_id(str(made))
    assert not is_id(str(uuid.uuid4()))


@given(st.lists(st.integers(0, (1 << 48) - 2), min_size=2, max_size=50))
def test_always_higher_than_the_last_whatever_the_clock_does(times):
    last = None
    for time in times:
        new = make_id(time, last)
        assert last is None or new > last
        last = new


def test_counter_used_up_goes_to_the_next_millisecond():
    full = "017f22e2-79b0-7fff-bfff-ffffffffffff"
    new = make_id(0, full)
    assert new > full
    assert time_of(new).timestamp() == pytest.approx(0x017F22E279B1 / 1000)


def test_a_clock_before_1970_is_refused():
    with pytest.raises(InputError, match="Set the clock"):
        make_id(-1)


def test_canonical_form_of_the_standard():
    """RFC 8785 section 3.2.2 and 3.2.4: its example, numbers and sorting included."""
    value = {
        "numbers": [333333333.33333329, 1e30, 4.50, 2e-3, 0.000000000000000000000000001],
        "string": "\u20ac$\u000f\u000aA'\u0042\u0022\u005c\\\"\u002f",
        "literals": [None, True, False],
    }
    printed = (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )
    assert canonical(value).decode() == printed


def test_identifiers_rise_even_when_the_clock_is_set_back(records, clock, begin):
    _, visit = begin(records)
    before = records.append("note", {"text": "before", "time": "2032-07-08T15:00:00Z"}, visit=visit)
    clock.time = datetime(2030, 1, 1, tzinfo=UTC)
    after = records.append("note", {"text": "after", "time": "2032-07-08T15:00:00Z"}, visit=visit)
    assert after.id > before.id
    assert after.at.startswith("2030-01-01")
