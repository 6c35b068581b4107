"""How numbers are shown: the rules of the house's look, section 10, and what is shown is read back."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import UnknownNameError
from asfound.quantities.display import NO_ANSWER, chance, interval_text, number_text, show, unit_words, with_interval
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantities

NAMES = sorted(quantities())


@pytest.mark.parametrize(
    ("value", "quantity", "system", "shown"),
    [
        (0.085, "exhaust_oxygen_dry", "si", "8.50 %"),
        (1_071_600.0, "engine_power", "us", "1,437 hp"),
        (258.15, "ambient_temperature", "si", "−15.0 °C"),
        (258.15, "ambient_temperature", "us", "5.0 °F"),
        (101_325.0, "barometric_pressure", "us", "29.92 inHg"),
        (1460.0, "site_height", "si", "1,460 m"),
        (41_230 * 3600.0, "engine_hours", "si", "41,230 h"),
        (1.72, "excess_air_ratio", "si", "1.72"),
        (413_685.0, "fuel_pressure", "us", "60.0 psia"),
        (2.5e-4, "nox_mass_concentration", "si", "250 mg/m³(n)"),
        (94.2478, "engine_speed", "si", "900 rpm"),
        (5.0, "active_faults", "si", "5"),
    ],
)
def test_values_as_people_of_a_system_read_them(value, quantity, system, shown):
    assert str(show(value, quantity, system=system)) == shown


def test_decimals_follow_the_interval_and_the_ends_go_outward():
    shown = show(0.0851234, "exhaust_oxygen_dry", interval=(0.08321, 0.08712))
    assert (shown.value, shown.low, shown.high, shown.unit) == ("8.51", "8.32", "8.72", "%")
    assert shown.interval == "8.32 to 8.72"
    assert with_interval(12345, 12101, 12592) == ("12,340", "12,100", "12,600")


def test_a_gauge_pressure_says_so():
    assert show(4e5, "fuel_pressure", gauge=True, unit="bar").unit == "bar g"
    assert show(4e5, "fuel_pressure", unit="bar").unit == "bar abs"
    assert show(4e5, "fuel_pressure", system="us", gauge=True).unit == "psig"
    assert show(4e5, "fuel_pressure", unit="psig", gauge=True).unit == "psig"
    assert show(4e5, "oil_pressure").unit == "bar"
    assert unit_words("barometric_pressure", "kPa") == "kPa"


def test_a_person_may_choose_another_unit_and_an_interval_is_turned_with_it():
    shown = show(50.0, "catalyst_temperature_rise", unit="°F", interval=(45.0, 55.0))
    assert (shown.value, shown.low, shown.high) == ("90.0", "81.0", "99.0")


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_no_answer_is_said(value):
    assert show(value, "engine_power").value == NO_ANSWER
    assert show(1e6, "engine_power", interval=(value, 2e6)).low == ""


def test_very_large_and_very_small_numbers_stay_readable():
    assert number_text(1.5e20, 3) == "1.50e+20"
    assert number_text(-2.5e-20, 3) == "−2.50e−20"


def test_an_unknown_quantity_names_the_nearest():
    with pytest.raises(UnknownNameError, match="engine_power"):
        show(1.0, "engine_powr")


def test_an_interval_is_words_and_never_plus_minus():
    assert interval_text("0.95", "0.89", "1.01") == "0.89 to 1.01"
    assert interval_text("0.95", "0.95", "0.95") == "0.95"


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (0.062, "6 in 100"),
        (0.5, "50 in 100"),
        (0.99, "99 in 100"),
        (0.004, "4 in 1,000"),
        (0.0, "fewer than 1 in 1,000"),
        (0.00099, "fewer than 1 in 1,000"),
        (1.0, "more than 999 in 1,000"),
        (0.996, "996 in 1,000"),
        (math.nan, NO_ANSWER),
        (1.2, NO_ANSWER),
    ],
)
def test_chances_in_words(p, words):
    assert chance(p) == words


@given(st.floats(0, 1))
def test_no_chance_is_rounded_to_never_or_always(p):
    assert not chance(p).startswith(("0 in", "100 in", "1000 in"))


@given(st.data(), st.sampled_from(NAMES), st.sampled_from(["si", "us"]), st.floats(0, 1))
def test_what_is_shown_is_read_back_within_its_last_digit(data, name, system, share):
    """Law: parse(show(x)) is x, as near as what is shown says."""
    about = quantities()[name]
    low, high = about.plausible
    value = low + share * (high - low)
    half = data.draw(st.floats(1e-4, 0.1)) * (high - low)
    shown = show(value, name, system=system, interval=(value - half, value + half))
    back = parse_amount(f"{shown.value} {shown.unit}", quantity=name, decimal="point").value
    assert abs(back - value) <= 0.0501 * half + 1e-9 * abs(
        value
    )  # two figures in the half-width: a step is a tenth of it at most
    ends = (
        [parse_amount(f"{end} {shown.unit}", quantity=name, decimal="point").value for end in (shown.low, shown.high)]
        if low > half
        else []
    )
    for end, exact in zip(ends, (value - half, value + half), strict=False):
        assert (end - exact) * (-1 if exact < value else 1) >= -1e-9 * abs(value)
