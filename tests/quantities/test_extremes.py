"""Readings that nobody would take: no traceback, no silent nan, a clear word instead."""

from __future__ import annotations

import math
import warnings

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import AsFoundError, InputError
from asfound.quantities.intervals import summary
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantities
from asfound.quantities.shares import REST
from asfound.quantities.sheet import work_out
from asfound.quantities.words import LARGEST, Limit, Reading
from asfound.quantities.worksheets import load

from .sheet_world import World, reading, simple

TAKEN = sorted({take.quantity for sheet in load().values() for take in sheet.takes})


@st.composite
def any_reading(draw):
    """Draw a reading of a quantity that a worksheet takes, plausible or absurd, with an error small or absurd."""
    about = quantities()[draw(st.sampled_from(TAKEN))]
    low, high = about.plausible
    odd = st.sampled_from([0.0, low, high, -high, high * 1e6, 1e-300, 1e59, -1e59])
    value = draw(st.floats(low, high) | odd)
    u = abs(value) * draw(st.sampled_from([0.0, 0.01, 1.0, 1e3]))
    return Reading(
        quantity=about.name, place=draw(st.sampled_from(["engine", "site", "stack", "fuel"])),
        state=draw(st.sampled_from(["as_found", "as_left"])), time="", value=value, unit=about.si_unit,
        as_typed=f"{value:g}", standard_uncertainty=min(u, LARGEST),
        gauge=about.gauge_possible and draw(st.booleans()),
        distribution=draw(st.sampled_from(["normal", "rectangular", "triangular", "arcsine"])),
        shared_with=draw(st.sampled_from(["", "meter"])), shared_fraction=draw(st.sampled_from([0.0, 0.5, 1.0])),
    )  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(any_reading(), max_size=25, unique_by=lambda one: one.key))
def test_whatever_is_read_results_are_finite_or_refused(readings):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        worked = work_out(readings, number=50)
        for one in worked.results:
            assert all(map(math.isfinite, (one.value, *one.interval, one.standard_uncertainty)))
            assert sum(share for _, share in worked.shares(one)) == pytest.approx(1.0) or not worked.shares(one)
            assert 0 <= worked.probability_beyond(one, Limit(quantity=one.quantity, value=1.0, as_typed="1")) <= 1


@pytest.mark.parametrize("size", [1e-250, 1e-180, 1e180, 1e250])
def test_shares_and_spread_do_not_depend_on_the_unit(size):
    """Squares of these run out of what a float can hold; the shares have no unit and must be the same."""
    world = World().add(scaled := _scaled(size), takes=("a", "b"), gives="total")
    plain = World().add(_scaled(1.0), takes=("a", "b"), gives="total")
    given = reading("a", 2), reading("b", 1)
    found, wanted = world.work_out(*given), plain.work_out(*given)
    shares, of_plain = (dict(one.shares(one.results[0])) for one in (found, wanted))
    assert {key: pytest.approx(share) for key, share in of_plain.items() if key != REST} == {
        key: share for key, share in shares.items() if key != REST
    }
    assert (
        found.results[0].standard_uncertainty == pytest.approx(size * wanted.results[0].standard_uncertainty, rel=1e-9)
        or size < 1e-200
    )
    assert scaled.__name__ == "total"


def _scaled(size):
    def total(a, b):
        return (a + b) * size

    return total


def test_the_spread_of_draws_whose_squares_overflow():
    import numpy as np

    draws = np.linspace(-1e200, 1e200, 101)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        assert summary(draws, 0.0).standard_uncertainty == pytest.approx(float(np.std(draws / 1e200, ddof=1)) * 1e200)


def test_exact_readings_that_divide_by_zero_have_no_answer():
    """Without an uncertainty a reading reaches the formula as a plain float, and that raises."""

    def quotient(a, b):
        return a / b

    world = World().add(quotient, takes=("a", "b"), gives="total")
    worked = world.work_out(reading("a", 1, 0.0), reading("b", 0, 0.0))
    assert not worked.results
    assert "without an answer" in str(worked.refused[0].error)


def test_a_number_beyond_all_that_can_be_is_refused_typed_or_given():
    with pytest.raises(InputError, match="beyond any number"):
        parse_amount("1e70 kW", quantity="engine_power")
    with pytest.raises(InputError, match="beyond any number"):
        simple().work_out(reading("a", 1e70))
    with pytest.raises(InputError, match="doubt beyond"):
        parse_amount("1 kW +- 1e70 kW", quantity="engine_power")


def test_less_than_nothing_is_refused_but_a_drifted_zero_is_kept():
    assert parse_amount("-0.1 %", quantity="exhaust_oxygen_dry").value == pytest.approx(-0.001)
    with pytest.raises(InputError, match="less than nothing"):
        parse_amount("-8.5 %", quantity="exhaust_oxygen_dry")


@pytest.mark.parametrize(
    ("quantity", "typed", "value"),
    [
        ("permit_oxygen_in_air", "2.09 %", 0.0209),
        ("permit_reference_oxygen", "150 %", 1.5),
        ("permit_reference_oxygen", "20.9 %", 0.209),
    ],
)
def test_a_reference_that_turns_the_sign_is_refused(quantity, typed, value):
    def one(name, value, typed):
        return Reading(
            quantity=name, place="stack", state="as_found", time="", value=value, unit="mol/mol", as_typed=typed,
            standard_uncertainty=0.0,
        )  # fmt: skip

    worked = work_out(
        [one("exhaust_nox_dry", 1e-4, "100 ppm"), one("exhaust_oxygen_dry", 0.08, "8 %"), one(quantity, value, typed)],
        only=["nox_at_reference_oxygen"],
    )
    assert not worked.results
    assert isinstance(worked.refused[0].error, AsFoundError)
    assert typed in str(worked.refused[0].error)


def test_ppmw_is_by_weight_for_a_wear_metal_and_wet_for_an_exhaust():
    assert parse_amount("40 ppmw", quantity="oil_iron").value == pytest.approx(40e-6)
    with pytest.raises(InputError, match="is wet"):
        parse_amount("40 ppmw", quantity="exhaust_nox_dry")
