"""Who reads: language, form of numbers, form of dates; each request and each paper has its own."""

from __future__ import annotations

from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

from asfound.quantities.own_units import showing

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

Language = Literal["en", "de", "es"]
Numbers = Literal["", "point", "comma", "space_comma", "space_point"]
Dates = Literal["", "iso", "month_first"]

LANGUAGES: Final[Mapping[str, str]] = {"en": "English", "de": "Deutsch", "es": "Español"}
"""Each under its own name."""
THIN: Final = "\N{NARROW NO-BREAK SPACE}"
NUMBERS: Final[Mapping[str, tuple[str, str]]] = {
    "point": (",", "."),
    "comma": (".", ","),
    "space_comma": (THIN, ","),
    "space_point": (THIN, "."),
}
"""Sign between thousands, decimal sign. A space between groups is the form of ISO 80000-1:2022, 7.3.1."""
DATES: Final = ("", "iso", "month_first")
PAPERS: Final = ("a4", "letter")
"""Sheets that papers are set on: A4 (ISO 216), US letter (8.5 by 11 in)."""
_OF_LANGUAGE: Final[Mapping[str, str]] = {"en": "point", "de": "comma", "es": "space_comma"}


@dataclass(frozen=True, slots=True)
class Reader:
    """How one person reads."""

    language: str = "en"
    numbers: str = ""
    """Empty: as the language does."""
    dates: str = ""
    """Empty: in words, as the language does."""
    units: str = ""
    """Unit system (`own_units.SYSTEMS`); empty: that of the home."""
    own_units: str = ""
    """Units chosen for kinds of quantities, before those of the system."""
    paper: str = "a4"
    """Sheet that papers are set on (`PAPERS`)."""

    @property
    def form(self) -> str:
        """Name of the form of numbers in force."""
        return self.numbers or _OF_LANGUAGE.get(self.language, "point")

    @property
    def plain(self) -> bool:
        """Whether this reader reads what the program says inside: English, 1,234.5, 8 July 2032."""
        return self.language == "en" and self.form == "point" and not self.dates


class Written(str):
    """What a person wrote: never translated, whatever it says."""

    __slots__ = ()


_PLAIN: Final = Reader()
_READER: ContextVar[Reader] = ContextVar("asfound_reader", default=_PLAIN)


def reader() -> Reader:
    """Return who reads what is being made now."""
    return _READER.get()


@contextmanager
def reading_as(who: Reader) -> Iterator[None]:
    """Make what follows for this reader."""
    token = _READER.set(who)
    try:
        with showing(who.units, who.own_units):
            yield
    finally:
        _READER.reset(token)


def decimal_sign(numbers: str) -> Literal["point", "comma"] | None:
    """Return the decimal sign of a form that a person chose; None for none: then what can be read in two ways is asked.

    >>> decimal_sign("space_comma"), decimal_sign("")
    ('comma', None)
    """
    signs: dict[str, Literal["point", "comma"]] = {".": "point", ",": "comma"}
    return signs[NUMBERS[numbers][1]] if numbers in NUMBERS else None


def of_header(accepted: str) -> str:
    """Return the language of ours that a browser asks for first (RFC 9110, 12.5.4); English where none fits.

    >>> of_header("fr-CH, de;q=0.8, en;q=0.9"), of_header("es-MX,es"), of_header("")
    ('en', 'es', 'en')
    """
    wanted = []
    for place, one in enumerate(accepted[:400].split(",")):
        name, _, weight = one.strip().partition(";")
        try:
            share = float(weight.strip().removeprefix("q=")) if weight else 1.0
        except ValueError:
            share = 0.0
        if share > 0:
            wanted.append((-share, place, name.partition("-")[0].strip().lower()))
    return next((name for _, _, name in sorted(wanted) if name in LANGUAGES), "en")
