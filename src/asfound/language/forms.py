"""Numbers and dates in the reader's form; only where a text is nothing but an amount or a date."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, Final

from asfound.language.reader import NUMBERS
from asfound.quantities.days import MONTHS as ENGLISH

if TYPE_CHECKING:
    from collections.abc import Mapping

MONTHS: Final[Mapping[str, tuple[str, ...]]] = {
    "en": ENGLISH,
    "de": (
        "Januar", "Februar", "März", "April", "Mai", "Juni", "Juli", "August", "September", "Oktober", "November",
        "Dezember",
    ),
    "es": (
        "enero", "febrero", "marzo", "abril", "mayo", "junio", "julio", "agosto", "septiembre", "octubre", "noviembre",
        "diciembre",
    ),
}  # fmt: skip
_NUMBER = r"[−+-]?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?(?:e[−+-]?\d+)?"
_ONE = re.compile(rf"(?<![\w.,])(?P<number>{_NUMBER})(?![\w]|[.,]\d)")
_AMOUNT = re.compile(rf"[<>≤≥±~≈]?\s?{_NUMBER}(?P<rest>\s?[^\d\s].*)?")
_MONTH = "|".join(MONTHS["en"])
_DATE = re.compile(
    rf"(?:(?P<day>\d{{1,2}}) )?(?P<month>{_MONTH})(?: (?P<year>\d{{4}}))?(?P<clock>,? (?:at )?\d{{1,2}}:\d\d)?"
)


def number_in_form(text: str, form: str) -> str:
    """Return an English number (1,437.5) in a form.

    >>> number_in_form("1,437.5", "comma"), number_in_form("−0.95", "space_comma")
    ('1.437,5', '−0,95')
    """
    thousands, decimals = NUMBERS[form]
    return text.replace(",", "\0").replace(".", decimals).replace("\0", thousands)


def numbers_in_form(text: str, form: str) -> str:
    """Return a text with each number in it in a form."""
    return text if form == "point" else _ONE.sub(lambda found: number_in_form(found["number"], form), text)


@cache
def _units() -> frozenset[str]:
    """Return what stands behind numbers as a unit, as typed and as printed."""
    from asfound.quantities.pressure_kind import with_kind
    from asfound.quantities.register import quantities
    from asfound.quantities.units import unit

    symbols = {symbol for one in quantities().values() for symbol in (one.si_display, one.us_display, *one.units)}
    texts = set(symbols)
    for symbol in symbols:
        texts.add(unit(symbol).text)
    pressures = {symbol for one in quantities().values() if one.gauge_possible for symbol in one.units}
    texts.update(with_kind(symbol, gauge=gauge) for symbol in pressures for gauge in (True, False))
    return frozenset(
        texts | {"%", "%/h", "h", "min", "s", "d", "a", "deg", "°CA", "‰", "ppm", "mg/m3(n)", "g/hp-h", "mg KOH/g"}
    )


def is_unit(text: str) -> bool:
    """Return whether a text is a unit, as typed or as printed: ``psig``, ``m³(n)/h``."""
    return text in _units()


def is_amount(text: str) -> bool:
    """Return whether a text is a number, alone or with a unit behind it.

    >>> is_amount("1,437 kPa"), is_amount("+3.5 %"), is_amount("5 things"), is_amount("12.4.1")
    (True, True, False, False)
    """
    found = _AMOUNT.fullmatch(text)
    return found is not None and (not found["rest"] or found["rest"].strip() in _units())


def behind_day(year: str, language: str) -> str:
    """Return a year as it stands behind a day and its month, with the gap before it.

    >>> behind_day("2032", "de"), behind_day("2032", "es")
    (' 2032', ' de 2032')
    """
    return f" de {year}" if language == "es" else f" {year}"


def date_in_words(day: int | None, month: int, year: int | None, language: str, dates: str = "") -> str:
    """Return a date in a form; day or year may lack.

    >>> date_in_words(8, 7, 2032, "de"), date_in_words(8, 7, None, "es"), date_in_words(8, 7, 2032, "en", "iso")
    ('8. Juli 2032', '8 de julio', '2032-07-08')
    """
    if dates == "iso" and year is not None:
        return f"{year}-{month:02d}" + ("" if day is None else f"-{day:02d}")
    name = MONTHS[language][month - 1]
    if dates == "month_first" and language == "en":
        said = name if day is None else f"{name} {day}"
        return said if year is None else (f"{said}, {year}" if day is not None else f"{said} {year}")
    if language == "de":
        return " ".join(part for part in (f"{day}." if day else "", name, str(year or "")) if part)
    between = " de " if language == "es" else " "
    said = between.join(part for part in (str(day or ""), name) if part)
    return said if year is None else said + behind_day(str(year), language)


def date_told(text: str, language: str, dates: str) -> str | None:
    """Return an English date (8 July 2032, July 2032, 8 July, with or without the time) in the reader's form.

    >>> date_told("8 July 2032", "de", ""), date_told("8 July 2032, 09:52", "es", ""), date_told("in July", "de", "")
    ('8. Juli 2032', '8 de julio de 2032, 09:52', None)
    """
    found = _DATE.fullmatch(text)
    if not found or (found["day"] is None and found["year"] is None and language == "en"):
        return None
    month = MONTHS["en"].index(found["month"]) + 1
    day, year = (int(found[name]) if found[name] else None for name in ("day", "year"))
    clock = (found["clock"] or "").replace(" at ", ", ")
    return date_in_words(day, month, year, language, dates) + clock
