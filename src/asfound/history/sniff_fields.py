"""What a field looks like: a number, a time, a unit, a word. For the proposal of a form, not for reading."""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from functools import lru_cache

from asfound.errors import AmbiguousError, UnknownNameError
from asfound.history.time_words import without_words
from asfound.quantities.pressure_kind import split_pressure
from asfound.quantities.units import unit

NUMBER = re.compile(r"[-+−]?(\d{1,3}(?:[ .,'\xa0\u202f]\d{3})+|\d+)?(?:[.,]\d*)?(?:[eE][-+]?\d+)?$")
_DATE = re.compile(
    r"(\d{1,4})[./-](\d{1,2}|[^\W\d_]{3,9})\.?[./-](\d{1,4})\.?$|(\d{8})$|\d{1,2}\.? [^\W\d_]{3,9}\.? \d{2,4}$"
)
_CLOCK = re.compile(r"\d{1,2}[:.]\d{2}([:.]\d{2}([.,]\d+)?)?\s*([ap]\.?m\.?)?$", re.IGNORECASE)
_BOTH = re.compile(
    r"(\d{1,4}[./-](\d{1,2}|[^\W\d_]{3,9})\.?[./-]\d{1,4}\.?|\d{1,2}\.? [^\W\d_]{3,9}\.? \d{2,4}|\d{8}|\d{12}|\d{14})"
    r"([T ,_]*\d{1,2}:?\d{2}(:?\d{2}([.,]\d+)?)?)?\s*([ap]\.?m\.?)?\s*(Z|UTC|[-+]\d{2}:?\d{2}|[-+]\d{2})?$",
    re.IGNORECASE,
)
_OFFSET = re.compile(r"(UTC|GMT)?[-+]\d{1,2}:?\d{2}$|Z$")
TIME_WORDS = re.compile(
    r"^(time|date|datum|zeit|uhrzeit|zeitstempel|timestamp|fecha|hora|heure|horodat\w*|data|ora|tijd|datetime|dato|tid|"
    r"czas|instant|moment|recorded|logged)\b|\b(time|zeit|stamp|date)\b",
    re.IGNORECASE,
)
_BEHIND = re.compile(r"^(?P<head>.{2,}?)(?:\s*[,/;]\s*|\s+in\s+|_|\s+)(?P<unit>[^\s,;_]{1,12})$")
_SURE_UNIT = re.compile(
    r"(deg\.?[CF]|°[CF]|%|[kM]?Pa[ga]?|m?bar[ga]?|psi[gad]?|rpm|[kM]?W|hp|k[vV][aA]r?|Hz|ppm|in(Hg|H2O)|mm(Hg|H2O)|k?V|"
    r"m3/h|kg/h|g/kWh|mg/m3|Nm3/h|.*/.*)$",
    re.IGNORECASE,
)
"""Units that are no words of the trade besides: 'Turbine In' has no inches, 'Hour Meter' no metres, 'L1' no litre."""
_WITH_UNIT = re.compile(r"([-+−]?\d[\d.,' \xa0\u202f]*?)[ \xa0\u202f]?([^\W\d_][^\s;]{0,11}|[°%‰µ]\S{0,3})$")
_UNIT_WORDS = (
    "-",
    "--",
    "1",
    "°",
    "bool",
    "0/1",
    "on/off",
    "text",
    "none",
    "units",
    "unit",
    "einheit",
    "unidad",
    "unité",
)


def is_number(text: str) -> bool:
    """Return whether a field could be a number, in any country's spelling."""
    text = text.strip()
    return bool(text) and any(c.isdigit() for c in text) and bool(NUMBER.match(text))


def with_unit(text: str) -> tuple[str, str] | None:
    """Return number and unit of a field that holds both, as '12.3 bar'; None of any other.

    >>> with_unit("1,234.5 m3/h"), with_unit("85°C"), with_unit("1e5"), with_unit("Pump 3")
    (('1,234.5', 'm3/h'), ('85', '°C'), None, None)
    """
    found = None if is_number(text) else _WITH_UNIT.match(text.strip())
    if found is None or not is_number(found[1]) or not is_unit(found[2]):
        return None
    return found[1], found[2]


def time_kind(text: str) -> str:
    """Return ``time`` (date and clock), ``date``, ``clock``, ``offset`` or nothing."""
    text = text.strip()
    if not text or not any(c.isdigit() for c in text):
        return "offset" if text == "Z" else ""
    if _OFFSET.match(text):
        return "offset"
    if text[0].isalpha() or text[-1].isalpha():
        begin, end, _ = without_words(text)
        text = text[begin:end]
    if _DATE.match(text) and not (text.isdigit() and not _packed_date(text)):
        return "date"
    if _CLOCK.match(text) and ":" in text:
        return "clock"
    return "time" if _BOTH.match(text) and not (text.isdigit() and not _packed_date(text)) else ""


def _packed_date(text: str) -> bool:
    return len(text) in (8, 12, 14) and "1970" <= text[:4] <= "2099" and text[4:6] <= "12" and text[6:8] <= "31"


@lru_cache(maxsize=4096)
def is_unit(text: str) -> bool:
    """Return whether a text is a unit that somebody may write over a column."""
    text = text.strip()
    if not text or len(text) > 40:
        return False
    if text.lower() in _UNIT_WORDS:
        return True
    try:
        unit(split_pressure(text)[0])
    except AmbiguousError:
        return True
    except UnknownNameError:
        return False
    return True


def head_and_unit(text: str) -> tuple[str, str]:
    """Return a column's head without the unit that stands in it, and that unit.

    >>> head_and_unit("Manifold Press [psia]"), head_and_unit("Oil T, degC"), head_and_unit("Speed")
    (('Manifold Press', 'psia'), ('Oil T', 'degC'), ('Speed', ''))
    """
    text = " ".join(text.split())
    head, inside, square = _in_brackets(text)
    if head and inside and (square or is_unit(inside)):
        return head, inside
    found = _BEHIND.match(text)
    if found and _SURE_UNIT.match(found["unit"]) and is_unit(found["unit"]):
        return found["head"].strip(" _,"), found["unit"]
    return text, ""


def _in_brackets(text: str) -> tuple[str, str, bool]:
    """Return what stands before and within the brackets at the end of a text, and whether they are square."""
    pairs = {"]": "[", ")": "(", "}": "{"}
    closing = text[-1:]
    if closing not in pairs:
        return text, "", False
    depth = 0
    for at in range(len(text) - 1, -1, -1):
        depth += (text[at] in pairs) - (text[at] in pairs.values())
        if depth == 0:
            fits = text[at] == pairs[closing]
            return (text[:at].strip(), text[at + 1 : -1].strip(), closing == "]") if fits else (text, "", False)
    return text, "", False


def fields_of(line: str, delimiter: str, quote: str = '"') -> list[str]:
    """Return the fields of one line as text; a line that is no CSV is parted at each delimiter."""
    try:
        return next(csv.reader([line], delimiter=delimiter, quotechar=quote or None, quoting=0 if quote else 3), [])
    except csv.Error:
        return line.split(delimiter)


def rejoined(fields: list[str], columns: int) -> list[str]:
    """Return fields of a head with those put together again that a comma within brackets parted.

    >>> rejoined(["Flow [scfh (60 F", " 14.73 psia)]", "Speed"], 2)
    ['Flow [scfh (60 F, 14.73 psia)]', 'Speed']
    """
    if len(fields) <= columns:
        return fields
    found: list[str] = []
    for field in fields:
        open_before = bool(found) and found[-1].count("(") + found[-1].count("[") > found[-1].count(")") + found[
            -1
        ].count("]")
        if open_before:
            found[-1] += "," + field
        else:
            found.append(field)
    return found if len(found) == columns else fields


def looks_like_heads(fields: list[str]) -> bool:
    """Return whether fields are names of columns: words, no number and no time among most of them."""
    said = [field for field in fields if any(map(str.isalnum, field))]  # '#' over the numbers of rows is no word
    if len(said) < 2:
        return False
    words = sum(
        not (is_number(field) or time_kind(field) or with_unit(field)) and any(c.isalpha() for c in field)
        for field in said
    )
    return words >= 0.8 * len(said)


def looks_like_units(fields: list[str]) -> bool:
    """Return whether fields are a row of units."""
    said = [field for field in fields if field.strip()]
    return bool(said) and sum(is_unit(field) for field in said) >= 0.6 * len(said) and not any(map(is_number, said[1:]))


def row_of_data(row: Sequence[str]) -> bool:
    """Return whether fields are a row of data: a time, or a number in front, and at least one number."""
    said = [field.strip() for field in row if field.strip()]
    if len(said) < 2:
        return False
    timed = any(time_kind(field) in ("time", "date", "clock") for field in said[:6])
    return (timed or is_number(said[0])) and any(is_number(field) or with_unit(field) for field in said)
