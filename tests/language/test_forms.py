"""Numbers in the reader's form, and back again as they are typed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import AmbiguousError
from asfound.language import NUMBERS, Reader, decimal_sign, of_header, reading_as, told
from asfound.language.forms import number_in_form
from asfound.quantities.numerals import parse_number

FORMS = st.sampled_from(sorted(NUMBERS))


@given(FORMS, st.decimals(min_value=-10_000_000, max_value=10_000_000, places=3))
def test_a_number_that_is_shown_is_typed_back_as_the_same(form: str, value: object) -> None:
    shown = number_in_form(f"{value:,}".replace("-", "\N{MINUS SIGN}"), form)
    assert parse_number(shown, decimal=decimal_sign(form)).value == pytest.approx(float(str(value)), abs=1e-9)


@given(FORMS, st.integers(min_value=-(10**9), max_value=10**9))
def test_whole_numbers_with_their_groups_come_back(form: str, value: int) -> None:
    assert parse_number(number_in_form(f"{value:,}", form), decimal=decimal_sign(form)).value == value


@pytest.mark.parametrize("typed", ["1,234", "1.234"])
def test_in_doubt_it_is_asked_and_both_readings_are_named(typed: str) -> None:
    with pytest.raises(AmbiguousError) as asked:
        parse_number(typed, decimal=decimal_sign(""))
    assert set(asked.value.choices) == {"1234", "1.2340"}


@pytest.mark.parametrize(
    ("form", "typed", "value"),
    [
        ("point", "1,234", 1234.0),
        ("comma", "1,234", 1.234),
        ("space_comma", "1,234", 1.234),
        ("comma", "1.234", 1234.0),
    ],
)
def test_a_form_that_was_chosen_decides(form: str, typed: str, value: float) -> None:
    assert parse_number(typed, decimal=decimal_sign(form)).value == value


@pytest.mark.parametrize(
    ("who", "shown"),
    [
        (Reader("en"), "1,437.5"),
        (Reader("de"), "1.437,5"),
        (Reader("es"), "1\u202f437,5"),
        (Reader("en", "space_point"), "1\u202f437.5"),
        (Reader("de", "point"), "1,437.5"),
    ],
)
def test_form_by_language_and_by_choice(who: Reader, shown: str) -> None:
    with reading_as(who):
        assert told("1,437.5") == shown


@pytest.mark.parametrize(
    ("who", "shown"),
    [
        (Reader("en"), "8 July 2032"),
        (Reader("de"), "8. Juli 2032"),
        (Reader("es"), "8 de julio de 2032"),
        (Reader("en", "", "iso"), "2032-07-08"),
        (Reader("en", "", "month_first"), "July 8, 2032"),
        (Reader("de", "", "iso"), "2032-07-08"),
    ],
)
def test_dates(who: Reader, shown: str) -> None:
    with reading_as(who):
        assert told("8 July 2032") == shown


@given(st.text(max_size=500))
def test_any_header_gives_a_language(header: str) -> None:
    assert of_header(header) in {"en", "de", "es"}
