"""Templates in the reader's language: what is a message, what is never touched, places and elements in any order."""

from __future__ import annotations

from importlib.resources import files

import pytest

from asfound.language import pages, sheets

TEMPLATES = sorted(one.name for one in (files("asfound.web") / "templates").iterdir() if one.name.endswith(".html"))
SHEETS = sorted(one.name for one in (files("asfound.report") / "typst").iterdir() if one.name.endswith(".typ"))


def said(source: str) -> list[str]:
    return [one.text for one in pages.messages(source)]


def test_a_run_goes_over_places_and_inline_elements() -> None:
    assert said("<p><b>{{ n }}</b> of {{ m }} places</p>") == ["<1>{0}</1> of {1} places"]


def test_statements_and_blocks_end_a_run() -> None:
    assert said("<p>Here{% if x %}, works {{ x }}{% endif %}.</p><h2>There</h2>") == ["Here", ", works {0}", "There"]


def test_elements_with_nothing_between_are_messages_of_their_own() -> None:
    assert said('<nav><a href="/a">One page</a> <a href="/b">Another</a></nav>') == ["One page", "Another"]


def test_shown_attributes_are_messages_and_values_are_not() -> None:
    source = '<input aria-label="Say it" value="Take it" placeholder="for {{ x }}" data-word="Not this">'
    assert said(source) == ["Say it", "for {0}"]


def test_scripts_and_text_fields_are_left_alone() -> None:
    assert said("<script>let text = 'Say it';</script><textarea>What was typed</textarea><p>Said</p>") == ["Said"]


def test_places_may_change_their_order() -> None:
    made = pages.translated("<p><b>{{ n }}</b> of {{ m }}</p>", {"<1>{0}</1> of {1}": "von {1}: <1>{0}</1>"}.get)
    assert made == "<p>von {{ told_marked(( m )) }}: <b>{{ told_marked(( n )) }}</b></p>"


def test_the_language_of_the_page_is_set() -> None:
    assert pages.translated('<html lang="en" data-x="1">', {}.get, language="de") == '<html lang="de" data-x="1">'


def test_a_place_in_a_value_is_never_told() -> None:
    assert pages.translated('<input value="{{ typed }}">', {}.get) == '<input value="{{ typed }}">'


def test_what_a_person_wrote_is_never_told() -> None:
    assert pages.translated("<p>{{ note|as_written }}</p>", {}.get) == "<p>{{ note|as_written }}</p>"


@pytest.mark.parametrize("name", TEMPLATES)
def test_each_template_is_itself_again_when_each_message_is_its_own_translation(name: str) -> None:
    source = (files("asfound.web") / "templates" / name).read_text("utf-8")
    plain = pages.translated(source, lambda _: None)
    same = pages.translated(source, lambda text: text)
    assert "".join(same.split()) == "".join(plain.split())


@pytest.mark.parametrize("name", SHEETS)
def test_each_sheet_is_itself_again_when_each_message_is_its_own_translation(name: str) -> None:
    source = (files("asfound.report") / "typst" / name).read_text("utf-8")
    same = sheets.translated(source, lambda text: text)
    assert "".join(same.split()).replace(";", "") == "".join(source.split()).replace(";", "")


def test_a_value_in_a_sheet_is_a_place() -> None:
    assert [one.text for one in sheets.messages("#small[by #c.draws draws of all]")] == ["by {0} draws of all"]
