"""The words around the numbers of a laboratory report: what a column is, what a line says besides composition."""

from __future__ import annotations

import re
from datetime import date
from typing import Literal

Column = Literal["mole", "mole fraction", "volume", "mass", "ppm", "uncertainty", "other"]

_COLUMNS: tuple[tuple[Column, str], ...] = (
    ("uncertainty", r"uncertainty|unsicherheit|incertitude|incertidumbre|std\.? ?dev\.?|u\(x\)|±|\bU\b"),
    ("ppm", r"\bppm ?\(?(?:mol|v|vol)?\)?(?!\w)"),
    ("mole fraction", r"mol(?:e|ar|en)?[- ]?(?:fraction|anteil)|fraction molaire|mol/mol|cmol/mol"),
    (
        "mole",
        r"%[- ]?\(?mol(?:e|ar|aire|es)?\b\)?|mol(?:e|ar|aire)?\.?[- ]?(?:%|per ?cent|pct|prozent)|%[- ]?\(?n/n\)?",
    ),
    (
        "volume",
        r"%[- ]?\(?vol(?:ume|umen)?\b\.?\)?|vol(?:ume|umen)?\.?[- ]?(?:%|per ?cent|pct|prozent)|%[- ]?\(?v/v\)?",
    ),
    (
        "mass",
        r"%[- ]?\(?(?:masse?|wt|weight|gew)\b\.?\)?|(?:masse?n?|wt|weight|gew)\.?[- ]?(?:%|per ?cent|pct|prozent)"
        r"|%[- ]?\(?[mw]/[mw]\)?",
    ),
    ("other", r"\bgpm\b|gal/1000|mg/m|g/m|gr/100|retention|\brt\b|area|peak|\bbtu\b|norm(?:alised|alized)?\b(?! *mol)"),
)
_PATTERNS = tuple((kind, re.compile(pattern, re.IGNORECASE)) for kind, pattern in _COLUMNS)

TOTAL = re.compile(r"^\W*(?:total|totals|sum|summe|somme|suma|somma|totaal|итого|сумма|合计)\b", re.IGNORECASE)
"""A line that gives the sum of the analysis."""

ASIDE = re.compile(
    r"heat|calorific|brennwert|heizwert|wobbe|pci|pcs|density|gravity|dichte|densit|compress|factor|molar mass|"
    r"molecular|molmass|pressure|druck|pression|temperature|temperatur|dew|methane n|methanzahl|\bgpm\b|btu|"
    r"mj/|kj/|kwh|cylinder|sample|probe\b|report|bericht|page|phone|tel\b|fax|order|customer|station|meter|flow|"
    r"analy|method|astm|iso ?6976|iso ?6974|gpa|date|datum|time|operator|base|reference|result|component|"
    r"komponente|constituent|composant",
    re.IGNORECASE,
)
"""A line that speaks of something else than a component."""

_DATE_WORD = re.compile(
    r"sampl\w*(?: date| on| taken)?|date of sampl\w*|probenahme\w*|entnahme\w*|prélev\w*|muestr\w*|campion\w*",
    re.IGNORECASE,
)
_ISO_DATE = re.compile(r"\b(\d{4})-(\d{2})-(\d{2})\b")
_DOTTED = re.compile(r"\b(\d{1,2})\.(\d{1,2})\.(\d{4})\b")
_NAMED = re.compile(r"\b(\d{1,2})[ -]([A-Za-zäéû]{3,9})\.?,?[ -](\d{4})\b")
_MONTH_FIRST = re.compile(r"\b([A-Za-z]{3,9})\.? (\d{1,2}),? (\d{4})\b")
_MONTHS = {
    "jan": 1, "feb": 2, "mar": 3, "mär": 3, "apr": 4, "may": 5, "mai": 5, "jun": 6, "jul": 7, "aug": 8, "sep": 9,
    "oct": 10, "okt": 10, "nov": 11, "dec": 12, "dez": 12,
}  # fmt: skip


def columns_of(text: str) -> tuple[Column, ...]:
    """Return the kinds of column that a line names, from left to right.

    >>> columns_of("Component      Mol %    Wt %   GPM")
    ('mole', 'mass', 'other')
    """
    found: list[tuple[int, int, Column]] = []
    for kind, pattern in _PATTERNS:
        for match in pattern.finditer(text):
            if not any(start < match.end() and match.start() < end for start, end, _ in found):
                found.append((match.start(), match.end(), kind))
    return tuple(kind for _, _, kind in sorted(found))


def sampled_on(line: str) -> date | None:
    """Return the date of a line that tells when the sample was taken; 03/04/2031 is nobody's and is not read.

    >>> sampled_on("Sampled: 2 May 2032")
    datetime.date(2032, 5, 2)
    """
    return any_date(line) if _DATE_WORD.search(line) else None


def any_date(text: str) -> date | None:
    """Return a date written so that day and month cannot be taken for each other."""
    try:
        if found := _ISO_DATE.search(text):
            return date(int(found[1]), int(found[2]), int(found[3]))
        if found := _DOTTED.search(text):
            return date(int(found[3]), int(found[2]), int(found[1]))
        if (found := _NAMED.search(text)) and (month := _MONTHS.get(found[2][:3].casefold())):
            return date(int(found[3]), month, int(found[1]))
        if (found := _MONTH_FIRST.search(text)) and (month := _MONTHS.get(found[1][:3].casefold())):
            return date(int(found[3]), month, int(found[2]))
    except ValueError:  # the 31st of June
        return None
    return None
