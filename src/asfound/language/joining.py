"""What joining the pieces of a sentence leaves to do: the article of a date, Spanish `del`, `e` and `u`."""

from __future__ import annotations

import re

from asfound.language.forms import MONTHS

_DAY_ES = rf"(?=\d{{1,2}} de (?:{'|'.join(MONTHS['es'])})\b)"
_MONTH_ES = rf"(?=(?:{'|'.join(MONTHS['es'])})\b)"
_DAY_DE = rf"(?=\d{{1,2}}\. (?:{'|'.join(MONTHS['de'])})\b)"
_MONTH_DE = rf"(?=(?:{'|'.join(MONTHS['de'])})\b)"


SMALL_IN_GERMAN = re.compile(
    r"(?:Der|Die|Das|Dem|Den|Einen?|Eine[mr]?|Kein\w*|Sein\w*|Ihre?|Dies\w*|Jede\w*|Wie|Was|Wo|Wer|Wann|Ob|Nach|Mit|Ohne"
    r"|Für|Von|Aus|Am|An|Auf|Im|In|Bei|Zur?|Zum|Jetzt|Nicht|Noch|Nur|Über|Unter|Vor|Als|Rechtzeitig|Bald|Etwas|Schon"
    r"|Hinter|Zwischen|Zuerst)\b(?! [a-z]\.)"
    r"|(?!Zylinder |Lager |Stufe |Seite |Reihe |Zeile |Spalte |Tabelle )"
    r"[A-ZÄÖÜ][a-zäöüß]+e[nmrs]? (?:[A-ZÄÖÜ][a-zäöüß]|NOx|CO|O2)"
)
"""Begins a German text with a word that is small within a sentence: an article or preposition, an adjective."""


def _rules(*pairs: tuple[str, str]) -> tuple[tuple[re.Pattern[str], str], ...]:
    return tuple((re.compile(pattern), new) for pattern, new in pairs)


RULES = {
    "es": _rules(
        (rf"\bunos {_DAY_ES}", "hacia el "),
        (rf"\bUnos {_DAY_ES}", "Hacia el "),
        (rf"\bunos {_MONTH_ES}", "hacia "),
        (rf"\bUnos {_MONTH_ES}", "Hacia "),
        (rf"\b([Dd]esde|[Hh]asta|[Hh]acia|[Pp]ara|[Aa]ntes de|[Dd]espués de) {_DAY_ES}", r"\1 el "),
        (rf"\bde {_DAY_ES}", "del "),
        (rf"\bDe {_DAY_ES}", "Del "),
        (r"\bde el(?= )", "del"),
        (r"\bDe el(?= )", "Del"),
        (r"\ba el(?= )", "al"),
        (r"(?<=\w )y(?= (?:[IiÍí](?![A-ZÁ-Ú\d])|[Hh][ií](?![aeo])))", "e"),
        (r"(?<=\w )o(?= (?:[OoÓó](?![A-ZÁ-Ú\d])|[Hh][oó]))", "u"),
    ),
    "de": _rules(
        (rf"\betwa {_DAY_DE}", "um den "),
        (rf"\bEtwa {_DAY_DE}", "Um den "),
        (rf"\b([Ee]twa) {_MONTH_DE}", "um "),
        (rf"\b([Ss]eit|[Aa]b|[Nn]ach|[Vv]or) {_DAY_DE}", r"\1 dem "),
    ),
}  # fmt: skip
"""By language: what is sought, and what stands there instead."""
_WANTED = {
    "es": re.compile(r"\d de [a-z]|\b[Uu]nos [a-z]|\b[Dd]?e el |\ba el |\b[yo] [IiÍíHhOoÓó]"),
    "de": re.compile(r"\b(?:[Ee]twa|[Ss]eit|[Aa]b|[Nn]ach|[Vv]or) (?:\d{1,2}\. )?[A-Z]"),
}


def joined(text: str, language: str) -> str:
    """Return a sentence that was put together from pieces, in good grammar where the pieces meet.

    >>> joined("unos 24 de julio, según datos de el compresor y índice", "es")
    'hacia el 24 de julio, según datos del compresor e índice'
    >>> joined("etwa 24. Juli, seit 4. Juli 2031", "de")
    'um den 24. Juli, seit dem 4. Juli 2031'
    """
    wanted = _WANTED.get(language)
    if wanted is None or not wanted.search(text):
        return text
    for pattern, new in RULES[language]:
        text = pattern.sub(new, text)
    return text
