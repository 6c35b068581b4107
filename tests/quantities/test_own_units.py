"""Units that a reader chose: what is shown can be typed again, in each unit system, choice and form of numbers.

The units themselves are held against NIST SP 811 and pint in test_units.py; here only that the right one is taken.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import AmbiguousError, InputError
from asfound.language import NUMBERS, decimal_sign
from asfound.language.forms import numbers_in_form
from asfound.quantities.display import show
from asfound.quantities.own_units import SYSTEMS, as_text, choices, chosen, showing, shown_unit
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import System, quantities, quantity

EACH = [f"{group}:{choice}" for group, some in choices().items() for choice in some]
NAMES = sorted(quantities())


def test_each_choice_is_a_unit_of_its_kind() -> None:
    of_kind = {one.kind: one for one in quantities().values()}
    for group, some in choices().items():
        for choice, kinds in some.items():
            for kind, symbol in kinds.items():
                about = of_kind[kind]
                middle = sum(about.plausible) / 2
                back = about.from_unit(about.to_unit(middle, symbol), symbol)
                assert back == pytest.approx(middle, rel=1e-12), (group, choice)


def test_a_choice_goes_before_the_unit_system_and_only_for_its_kind() -> None:
    with showing("us", "pressure:bar"):
        assert str(show(300e3, "fuel_pressure", system="us", gauge=True)) == "3.00 bar g"
        assert str(show(300e3, "fuel_pressure", system="us")) == "3.00 bar abs"
        assert show(101_325.0, "barometric_pressure", system="us").unit == "inHg"
    assert show(300e3, "fuel_pressure", system="us", gauge=True).unit == "psig"


def test_a_pressure_says_gauge_or_absolute_in_each_choice() -> None:
    """101.325 kPa is 1.01325 bar, 1013.25 mbar, 14.696 psi, 29.921 inHg (NIST SP 811:2008, appendix B)."""
    wanted = {"kpa": "101 kPa", "bar": "1.01 bar", "mbar": "1,013 mbar", "psi": "14.7 psi", "inhg": "29.9 inHg"}
    for choice, text in wanted.items():
        with showing("si", f"pressure:{choice}"):
            for gauge in (True, False):
                said = str(show(101_325.0, "fuel_pressure", gauge=gauge))
                assert said.startswith(text)
                kinds = ("psig", "psia") if choice == "psi" else (" g", " abs")
                assert said.endswith(kinds[0] if gauge else kinds[1])


def test_a_volume_of_gas_at_each_state() -> None:
    """1 m3(n) is 1.0549 m3 at 15 C (ISO 13443:1996: 288.15/273.15); 100 scf (60 F, 14.696 psia) is 2.6795 m3(n)."""
    with showing("si", "gas:at_15"):
        assert float(show(1000 / 3600, "fuel_flow").value.replace(",", "")) == pytest.approx(1054.9, rel=5e-4)
    with showing("si", "gas:scf_14696"):
        shown = show(1000 / 3600, "fuel_flow")
        assert float(shown.value.replace(",", "")) == pytest.approx(24 / 0.026795, rel=1e-3)
        assert "14.696 psia" in shown.unit


@given(
    st.sampled_from(NAMES), st.floats(0.02, 0.98), st.sampled_from(SYSTEMS), st.sampled_from(["", *EACH]),
    st.sampled_from(sorted(NUMBERS)), st.booleans(),
)  # fmt: skip
def test_what_is_shown_can_be_typed_again(
    name: str, share: float, system: str, own: str, form: str, gauge: bool
) -> None:
    about = quantity(name)
    low, high = about.plausible
    value = low + share * (high - low)
    gauge = gauge and about.gauge_possible
    told: System = "us" if system == "us" else "si"
    with showing(system, own):
        shown = show(value, name, system=told, gauge=gauge)
        typed = f"{numbers_in_form(shown.value, form)} {shown.unit}".strip()
        read = parse_amount(typed, quantity=name, decimal=decimal_sign(form))
        assert read.value is not None
        assert read.gauge == gauge
        assert show(read.value, name, system=told, gauge=gauge) == shown
        if not about.gauge_possible:  # the field says the unit
            bare = parse_amount(
                numbers_in_form(shown.value, form), quantity=name, decimal=decimal_sign(form),
                default_unit=about.display(told),
            )  # fmt: skip
            assert bare.value is not None
            assert math.isclose(bare.value, read.value, rel_tol=1e-12, abs_tol=1e-300)


def test_a_number_of_two_readings_is_asked_about_until_a_form_is_chosen() -> None:
    with pytest.raises(AmbiguousError, match="two ways"):
        parse_amount("1.500 bar", quantity="oil_pressure")
    assert parse_amount("1,5 bar", quantity="oil_pressure", decimal="comma").value == pytest.approx(150e3)


def test_choices_as_text() -> None:
    assert chosen("") == {}
    for text in EACH:
        assert as_text(chosen(text)) == text
    for wrong in ("pressure:furlong", "colour:blue", "pressure", "pressure:bar.pressure:psi", "..", "pressure:"):
        with pytest.raises(InputError):
            chosen(wrong)


def test_a_choice_ends_with_what_it_was_made_for() -> None:
    with showing("bar", ""):
        assert shown_unit("pressure") == "bar"
        with showing("si", "pressure:psi"):
            assert shown_unit("pressure") == "psi"
        assert shown_unit("pressure") == "bar"
    assert shown_unit("pressure") is None
