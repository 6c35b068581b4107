"""Where pieces of a sentence meet: articles of dates, small words, counted nouns, codes; read in German and Spanish."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.language import LANGUAGES, Reader, reading_as, told, told_parts
from asfound.language.forms import behind_day
from asfound.language.joining import joined
from asfound.language.patterns import pattern_of
from asfound.language.places import counted_nouns, may_stand


def said(text: str, language: str) -> str:
    with reading_as(Reader(language)):
        return told(text).replace("\N{NARROW NO-BREAK SPACE}", " ")


@pytest.mark.parametrize(
    ("text", "german", "spanish"),
    [
        ("about 23 November", "um den 23. November", "hacia el 23 de noviembre"),
        ("about 200 h", "etwa 200 h", "unos 200 h"),
        ("since 4 July 2031", "seit dem 4. Juli 2031", "desde el 4 de julio de 2031"),
        ("by 15 July 2032", "bis 15. Juli 2032", "a más tardar el 15 de julio de 2032"),
        ("Engine power, from the compressor: 1,690", "Motorleistung, aus dem Verdichter: 1.690",
         "Potencia del motor, por el compresor: 1 690"),
        ("relative humidity, dry NOx at the analyser", "relative Feuchte, trockenes NOx am Analysator",
         "humedad relativa, NOx seco en el analizador"),
        ("1 due now, 1 soon due", "1 jetzt fällig, 1 bald fällig", "1 toca ya, 1 toca pronto"),
        ("limit 1.74, 30 % of new oil", "Grenzwert 1,74, 30 % des Frischöls", "límite 1,74, 30 % del aceite nuevo"),
    ],
)  # fmt: skip
def test_pieces_meet_in_good_grammar(text: str, german: str, spanish: str) -> None:
    assert said(text, "de") == german
    assert said(text, "es") == spanish


@pytest.mark.parametrize("language", sorted(LANGUAGES))
@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("29 CFR 1910.147; common practice", "29 CFR 1910.147"),
        ("mechanism 2.4 (wear, 60 in 100)", "2.4"),
        ("60.4243(a)(2)(iii)", "60.4243(a)(2)(iii)"),
        ("tag PK10?2.44", "PK10?2.44"),
        ("1.1 leakage", "1.1 "),
    ],
)
def test_a_code_keeps_its_point(text: str, code: str, language: str) -> None:
    assert code in said(text, language)


def test_a_phrase_is_not_put_in_the_english_order() -> None:
    for text in ("Engine speed, Turbocharger speed", "Main bearing sensors: does not agree", "does not agree"):
        for language in ("de", "es"):
            assert not any(word in said(text, language).split() for word in ("Motor", "does", "Cojinete"))


def test_a_counted_noun_stands_behind_a_number() -> None:
    counted = counted_nouns(["{0} reading", "{0} readings"])
    pattern = pattern_of("{0} readings")
    assert may_stand(pattern, {0: "12"}, counted)
    assert may_stand(pattern, {0: "more than 3"}, counted)
    assert not may_stand(pattern, {0: "as-left"}, counted)
    assert not may_stand(pattern_of("cylinder {0}"), {0: "exhaust temperature"}, counted)
    assert may_stand(pattern_of("cylinder {0}"), {0: "L4"}, counted)


@pytest.mark.parametrize(
    ("text", "better"),
    [
        ("datos de el compresor", "datos del compresor"),
        ("escape y índice", "escape e índice"),
        ("uno o otro", "uno u otro"),
        ("acero y hierro", "acero y hierro"),
        ("CO o O2", "CO o O2"),
        ("8 de julio de 2032", "8 de julio de 2032"),
        ("muestra de 2 de mayo", "muestra del 2 de mayo"),
    ],
)
def test_spanish_contractions(text: str, better: str) -> None:
    assert joined(text, "es") == better
    assert joined(better, "es") == better


def test_the_year_behind_a_day() -> None:
    assert [behind_day("2032", language) for language in ("en", "de", "es")] == [" 2032", " 2032", " de 2032"]


@given(st.text(alphabet=" ,;:.()'-1aA{}", max_size=40))
def test_any_text_is_told(text: str) -> None:
    for language in LANGUAGES:
        with reading_as(Reader(language)):
            told_parts(text)
