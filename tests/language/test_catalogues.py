"""The catalogues: the same places in each translation, nothing fuzzy, compiled files as their sources."""

from __future__ import annotations

import re
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from asfound.language import LANGUAGES, catalogues
from asfound.language.patterns import Index, has_places

WORDS = Path(catalogues.__file__).parent
ROOT = Path(__file__).parents[2]
PLACES = re.compile(r"\{\d+\}|</?\d+/?>")
OTHERS = [name for name in LANGUAGES if name != "en"]


def po(language: str) -> list[tuple[str, str, bool]]:
    with (WORDS / language / "LC_MESSAGES" / "asfound.po").open("rb") as stream:
        return [(str(one.id), str(one.string), bool(one.fuzzy)) for one in read_po(stream) if one.id]


@pytest.mark.parametrize("language", OTHERS)
def test_a_translation_has_the_places_of_its_message(language: str) -> None:
    wrong = [
        (text, said)
        for text, said, _ in po(language)
        if said and Counter(PLACES.findall(text)) != Counter(PLACES.findall(said))
    ]
    assert wrong == []


@pytest.mark.parametrize("language", OTHERS)
def test_nothing_is_fuzzy_and_no_line_ends_are_new(language: str) -> None:
    assert [text for text, said, fuzzy in po(language) if fuzzy or ("\n" in said and "\n" not in text)] == []


@pytest.mark.parametrize("language", OTHERS)
def test_elements_end_where_they_began(language: str) -> None:
    for text, said, _ in po(language):
        open_ones: list[str] = []
        for end, number in re.findall(r"<(/?)(\d+)>", said):
            if end:
                assert open_ones, (text, said)
                assert open_ones.pop() == number, (text, said)
            else:
                open_ones.append(number)
        assert open_ones == [], (text, said)


@pytest.mark.parametrize("language", OTHERS)
def test_what_the_program_reads_is_what_was_translated(language: str) -> None:
    assert dict(catalogues.messages(language)) == {text: said for text, said, _ in po(language) if said}


def test_the_words_are_those_of_the_program() -> None:
    made = subprocess.run(
        [sys.executable, str(ROOT / ".ci" / "words"), "check"], capture_output=True, text=True, check=False
    )
    assert made.returncode == 0, made.stdout + made.stderr


def test_each_pattern_finds_a_sentence_that_it_made() -> None:
    with (WORDS / "asfound.pot").open("rb") as stream:
        every = [str(one.id) for one in read_po(stream) if one.id]
    messages = [one for one in every if has_places(one) and "}{" not in one]
    index = Index(messages)
    for message in messages:
        sentence = re.sub(r"\{\d+\}", "Q7", message)
        found = [pattern.message for pattern, _ in index.of(sentence)]
        assert not found or any(re.sub(r"\{\d+\}", "Q7", one) == sentence for one in found), message
