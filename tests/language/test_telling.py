"""From a finished English sentence to the reader's language: whole texts, patterns, lists, what a person gave."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound import language
from asfound.language import Reader, Written, reading_as, telling

GERMAN = {
    "{0} of {1} places": "{0} von {1} Stellen",
    "Cylinder {0} is {1} hotter than its bank.": "Zylinder {0} ist {1} heißer als seine Reihe.",
    "{0} in 100": "{0} von 100",
    "{0} to {1}": "{0} bis {1}",
    "and": "und",
    "cylinder {0}": "Zylinder {0}",
    "Fuel gas": "Brenngas",
    "as found": "wie vorgefunden",
    "The engine runs": "Der Motor läuft",
    "The given text '{0}' is no number.": "'{0}' ist keine Zahl.",
    "{0}: {1}.": "{0}: {1}.",
    "{0} (an error below {1} would not be noticed)": "{0} (ein Fehler unter {1} fiele nicht auf)",
    "or": "oder",
}


@pytest.fixture(autouse=True)
def catalogue(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setattr(telling, "messages", lambda _name: GERMAN)
    telling._teller.cache_clear()
    yield
    telling._teller.cache_clear()


def told(text: str) -> str:
    with reading_as(Reader("de")):
        return language.told(text)


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("12 of 16 places", "12 von 16 Stellen"),
        ("Cylinder L4 is 48.5 K hotter than its bank.", "Zylinder L4 ist 48,5 K heißer als seine Reihe."),
        ("0.89 to 1.01", "0,89 bis 1,01"),
        ("cylinder L4 and cylinder R2", "Zylinder L4 und Zylinder R2"),
        ("fuel gas", "Brenngas"),
        ("As found", "Wie vorgefunden"),
        ("The engine runs.", "Der Motor läuft."),
        ("The engine runs. 1,437 of 2,000 places.", "Der Motor läuft. 1.437 von 2.000 Stellen."),
        ("1,437.5 kPa", "1.437,5 kPa"),
        ("8 July 2032", "8. Juli 2032"),
        ("ISO 3046-1, 5.2", "ISO 3046-1, 5.2"),
        ("12.4.1", "12.4.1"),
        ("A2/2032-07-08", "A2/2032-07-08"),
    ],
)
def test_a_finished_sentence_is_told(english: str, german: str) -> None:
    assert told(english) == german


def test_a_bracket_begins_and_ends_in_one_member_of_a_list() -> None:
    english = (
        "Fuel gas (an error below 3.5 % would not be noticed), cylinder L4 (an error below 5 % would not be noticed)"
    )
    german = "Brenngas (ein Fehler unter 3,5 % fiele nicht auf), Zylinder L4 (ein Fehler unter 5 % fiele nicht auf)"
    assert told(english) == german


def test_what_somebody_noted_in_brackets_stays_and_the_rest_is_told() -> None:
    assert told("Fuel gas (By hand; The dial lies)") == "Brenngas (By hand; The dial lies)"


def test_the_notes_of_a_day_are_told_one_by_one() -> None:
    assert told("08:50 Came in.; 09:05 12 of 16 places") == "08:50 Came in.; 09:05 12 von 16 Stellen"


def test_a_list_that_begins_with_a_day_keeps_the_day_whole() -> None:
    assert told("15 July 2032; as found") == "15. Juli 2032; wie vorgefunden"


def test_several_titles_in_quotes_are_told() -> None:
    english = "The given text 'The engine runs or as found' is no number."
    assert told(english) == "'Der Motor läuft oder wie vorgefunden' ist keine Zahl."


def test_what_is_not_known_stays() -> None:
    assert told("Nobody wrote this down yet") == "Nobody wrote this down yet"
    with reading_as(Reader("de")):
        assert not language.known("Nobody wrote this down yet")


def test_one_known_sentence_among_others_is_told() -> None:
    assert told("The engine runs. Nobody wrote this.") == "Der Motor läuft. Nobody wrote this."


def test_what_somebody_gave_is_quoted_word_for_word() -> None:
    assert told("The given text '1,234' is no number.") == "'1,234' ist keine Zahl."


def test_what_a_person_wrote_is_left() -> None:
    assert told(Written("Fuel gas")) == "Fuel gas"


def test_pictures_and_named_keys_of_content_stay() -> None:
    content = {"title": "Fuel gas", "plan_svg": "Fuel gas", "who": "Fuel gas", "rows": [{"says": "12 of 16 places"}]}
    with reading_as(Reader("de")):
        told_ones = language.told_content(content, leave=frozenset({"who"}))
    assert told_ones == {
        "title": "Brenngas", "plan_svg": "Fuel gas", "who": "Fuel gas", "rows": [{"says": "12 von 16 Stellen"}],
    }  # fmt: skip


@given(st.text(max_size=300))
def test_no_text_breaks_it_and_the_second_time_is_the_first(text: str) -> None:
    assert told(text) == told(text)


@given(st.text(alphabet="of in 100 to.,:;-' \n{}0", max_size=4_000))
def test_hostile_text_is_told_in_the_end(text: str) -> None:
    told(text)
