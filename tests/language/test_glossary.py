"""One word for one thing: each term of the glossary is translated alike in every message that holds it."""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest
from babel.messages.pofile import read_po

from asfound.language import catalogues

GLOSSARY = Path(__file__).parents[2] / ".ci" / "words" / "glossary.csv"
_LINES = [line for line in GLOSSARY.read_text("utf-8").splitlines() if line and not line.startswith("#")]
TERMS = list(csv.DictReader(_LINES))


def messages(language: str) -> list[tuple[str, str]]:
    place = Path(catalogues.__file__).with_name(language) / "LC_MESSAGES" / "asfound.po"
    with place.open("rb") as stream:
        made = read_po(stream, locale=language)
    return [(str(one.id), str(one.string)) for one in made if one.id and one.string and one.id != one.string]


@pytest.mark.parametrize("language", ["de", "es"])
def test_each_term_is_translated_alike(language: str) -> None:
    said = messages(language)
    odd = []
    for term in TERMS:
        english = re.compile(rf"(?<!\w)(?:{term['english']})(?!\w)", re.IGNORECASE)
        other = re.compile(term["except"]) if term["except"] else None
        wanted = re.compile(term[language], re.IGNORECASE)
        odd += [
            f"{term['english']}: {message!r} -> {text!r}"
            for message, text in said
            if english.search(message) and not wanted.search(text) and not (other and other.search(message))
        ]
    assert odd == []


def test_the_glossary_says_each_term_in_both_languages() -> None:
    assert len(TERMS) >= 30
    for term in TERMS:
        for language in ("de", "es"):
            assert term[f"says_{language}"], term["english"]
            assert re.search(term[language], term[f"says_{language}"], re.IGNORECASE), (term["english"], language)
