"""A text as it is said: units and signs as words, so that it can be read aloud or heard over a telephone."""

from __future__ import annotations

import re
from functools import cache

from asfound.language import reader
from asfound.sources.tables import load_csv


@cache
def _words(language: str) -> tuple[dict[str, str], re.Pattern[str], tuple[tuple[str, str], ...]]:
    """Return how units are said in a language, what finds them behind a number, and how signs are said."""
    rows = load_csv("asfound.report", "data/spoken.csv")
    units = {row["written"]: row[language] for row in rows if row["kind"] == "unit"}
    longest_first = "|".join(sorted(map(re.escape, units), key=len, reverse=True))
    signs = tuple(
        (f" {row['written']} " if row["written"].isalpha() else row["written"], _apart(row[language]))
        for row in rows
        if row["kind"] == "sign"
    )
    return units, re.compile(rf"(?<=\d)\s?({longest_first})(?![\w/%])"), signs


def _apart(said: str) -> str:
    return f" {said} " if said[:1].isalpha() else f"{said} "


def spoken(text: str) -> str:
    """Return one sentence or more as they are said, in the language of whoever reads.

    >>> spoken("NOx left at 0.55 g/hp-h (0.51 to 0.60)")
    'NOx left at 0.55 grams per horsepower hour, 0.51 to 0.60.'
    """
    units, found, signs = _words(reader().language)
    said = found.sub(lambda met: f" {units[met[1]]}", text)
    for sign, word in signs:
        said = said.replace(sign, word)
    said = re.sub(r"\s+", " ", said)
    said = re.sub(r"\s+([,.;:])", r"\1", said)
    said = re.sub(r",\s*([,.;:])", r"\1", said)
    said = said.strip().strip(",").strip()
    return said if not said or said[-1] in ".?!:" else f"{said}."
