"""Read the plain dict of an emission test field by field; what cannot be is named with its place, value and remedy."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from asfound.errors import InputError

Pair = tuple[float, float]


class Fields:
    """One mapping of the dict, with the place where it stands: ``runs[2].gases.nox``."""

    def __init__(self, given: object, where: str, known: Iterable[str]) -> None:
        self.where = where
        if not isinstance(given, Mapping):
            raise InputError(where or "test", _text(given), "is no table of fields", allowed="names with values")
        self.given = {str(name): value for name, value in given.items() if value is not None and value != ""}
        known = tuple(known)
        for name in self.given:
            if known and name not in known:
                raise InputError(
                    self.place(name), _text(self.given[name]), "is a field that a test does not have",
                    allowed=", ".join(known), try_next="Correct the name of the field.",
                )  # fmt: skip

    def place(self, name: str) -> str:
        """Return where a field stands, for a complaint."""
        return f"{self.where}.{name}" if self.where else name

    def has(self, name: str) -> bool:
        """Tell whether a field was given."""
        return name in self.given

    def text(self, name: str, default: str = "") -> str:
        """Return a field as text."""
        value = self.given.get(name, default)
        return value.isoformat() if hasattr(value, "isoformat") else str(value)

    def choice(self, name: str, allowed: Iterable[str], default: str = "") -> str:
        """Return a field that is one of some words."""
        allowed = tuple(allowed)
        found = self.text(name, default).strip().casefold()
        if found not in allowed:
            raise InputError(
                self.place(name), found, "is not known here", allowed=", ".join(one for one in allowed if one),
                try_next="Choose one of these.",
            )  # fmt: skip
        return found

    def flag(self, name: str, default: bool) -> bool:
        """Return a field that is yes or no."""
        value = self.given.get(name, default)
        words = {"yes": True, "no": False, "true": True, "false": False, "1": True, "0": False}
        found = value if isinstance(value, bool) else words.get(str(value).strip().casefold())
        if found is None:
            raise InputError(self.place(name), str(value), "is neither yes nor no", allowed="yes, no")
        return found

    def number(self, name: str, *, low: float = -math.inf, high: float = math.inf, says: str = "") -> float:
        """Return a field that must be a number between two bounds."""
        if name not in self.given:
            raise InputError(
                self.place(name), "", "is missing", allowed=says or "a number",
                try_next="Look into the log of the test and enter it.",
            )  # fmt: skip
        return number_of(self.given[name], self.place(name), low=low, high=high, says=says)

    def maybe(self, name: str, *, low: float = -math.inf, high: float = math.inf, says: str = "") -> float | None:
        """Return a field that may be missing, else a number between two bounds."""
        return self.number(name, low=low, high=high, says=says) if name in self.given else None

    def numbers(self, name: str) -> tuple[float, ...]:
        """Return a field that is a list of numbers; none where it is missing."""
        value = self.given.get(name, ())
        if isinstance(value, str) or not isinstance(value, Sequence):
            raise InputError(self.place(name), _text(value), "is no list of numbers", allowed="[51.2, 50.8]")
        return tuple(number_of(one, f"{self.place(name)}[{at}]") for at, one in enumerate(value, start=1))

    def pair(self, name: str, says: str) -> Pair | None:
        """Return a field that is two numbers; None where it is missing."""
        if name not in self.given:
            return None
        found = self.numbers(name)
        if len(found) != 2:
            raise InputError(self.place(name), _text(self.given[name]), "is not two numbers", allowed=says)
        return found[0], found[1]

    def pairs(self, name: str, says: str) -> tuple[Pair, ...]:
        """Return a field that is a list of two numbers each."""
        value = self.given.get(name, ())
        if isinstance(value, str) or not isinstance(value, Sequence):
            raise InputError(self.place(name), _text(value), "is no list of pairs", allowed=says)
        return tuple(
            pair
            for at, one in enumerate(value, start=1)
            if (pair := Fields({"pair": one}, f"{self.place(name)}[{at}]", ()).pair("pair", says)) is not None
        )

    def time(self, name: str) -> datetime:
        """Return a field that is a time with its offset from UTC."""
        text = self.text(name)
        try:
            found = datetime.fromisoformat(text)
        except ValueError:
            found = None
        if found is None or found.tzinfo is None:
            raise InputError(
                self.place(name), text, "is no time with its offset" if text else "is missing",
                allowed="2032-05-02T09:00+02:00", try_next="Write date, time and the offset from UTC.",
            )  # fmt: skip
        return found

    def table(self, name: str) -> Mapping[str, Any]:
        """Return a field that is itself a mapping; empty where it is missing."""
        return Fields(self.given.get(name, {}), self.place(name), ()).given


def number_of(value: object, place: str, *, low: float = -math.inf, high: float = math.inf, says: str = "") -> float:
    """Return a value as a finite number between two bounds, or refuse it with its place."""
    try:
        found = math.nan if isinstance(value, bool) else float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError):
        found = math.nan
    if not math.isfinite(found):
        raise InputError(place, _text(value), "is no number", allowed=says or "a number", try_next="Read it again.")
    if not low <= found <= high:
        raise InputError(
            place, _text(value), "cannot be", allowed=says or _range(low, high), try_next="Look at its unit and sign."
        )
    return found


def _range(low: float, high: float) -> str:
    if math.isinf(high):
        return f"{low:g} or more"
    return f"up to {high:g}" if math.isinf(low) else f"{low:g} to {high:g}"


def _text(value: object) -> str:
    """Return a value short enough for a complaint."""
    text = str(value)
    return text if len(text) <= 60 else text[:57] + "..."
