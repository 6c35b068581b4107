"""What a person chose: light, hand, units and the column being written for this browser; sign and name for this home.

A tablet and a laptop that show the same visit may differ in light and hand, so those live in cookies and fall back on
the home's settings. Name and decimal sign belong to the home: the command line uses the same ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, cast

from asfound.language import decimal_sign
from asfound.web.speaking import OF_THE_READER, allowed, reader_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.quantities.words import State
    from asfound.records.home import Settings

YEAR = 365 * 24 * 3600
IN_COOKIES: Mapping[str, tuple[str, ...]] = {
    "light": ("day", "night", "sun"),
    "hand": ("right", "left"),
    "column": ("as_found", "as_left"),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Preferences:
    """The choices that hold for one request."""

    light: str = ""
    """Empty: the system decides."""
    hand: str = "right"
    column: State = "as_found"
    """State of the visit that the hand is writing."""
    units: str = "site"
    """``site``: as the site's people use them."""
    decimal: str = ""
    """Empty: a number that can be read in two ways is asked about."""
    numbers: str = ""
    """Form that numbers are shown in; empty: as the language does, and then it says nothing of what is typed."""
    who: str = ""

    @property
    def decimal_sign(self) -> Literal["point", "comma"] | None:
        """Return what `quantities.parse` takes."""
        signs: dict[str, Literal["point", "comma"]] = {".": "point", ",": "comma"}
        return signs.get(self.decimal) or decimal_sign(self.numbers)

    def system(self, site_units: str = "si") -> Literal["si", "us"]:
        """Return the system to show numbers in."""
        return "us" if (site_units if self.units == "site" else self.units) == "us" else "si"


def preferences(request: Request, settings: Settings, who: str) -> Preferences:
    """Read the choices; a cookie that holds something else counts as none."""
    cookie = {
        name: value for name, allowed in IN_COOKIES.items() if (value := request.cookies.get(name, "")) in allowed
    }
    written_in = request.headers.get("x-asfound-column", "")  # what waited on a device keeps the column it was typed in
    if written_in in IN_COOKIES["column"]:
        cookie["column"] = written_in
    reads = reader_of(request, settings)
    return Preferences(
        light=cookie.get("light", settings.light),
        hand=cookie.get("hand", settings.hand),
        column=cast("State", cookie.get("column", "as_found")),
        units=reads.units or settings.units,
        decimal=settings.decimal,
        numbers=reads.numbers,
        who=_of_device(request) or settings.person or who,
    )


def _of_device(request: Request) -> str:
    """Return who works on the device that asks, where it is one that was let in."""
    device = request.scope.get("asfound_device")
    return str(device.person) if device is not None else ""


def remember(response: Response, name: str, value: str, *, path: str = "/") -> None:
    """Keep one choice of this browser for a year; an empty one is forgotten, anything not allowed is left alone."""
    of_reader = name in OF_THE_READER
    if of_reader and not value:
        response.delete_cookie(name, path=path)
    elif allowed(name, value) if of_reader else value in IN_COOKIES[name]:
        response.set_cookie(name, value, max_age=YEAR, path=path, samesite="strict")
