"""Whole contents told, and the marks for the rare text that no door sees."""

from __future__ import annotations

from typing import Any

from asfound.language.catalogues import messages
from asfound.language.patterns import PLACE
from asfound.language.reader import reader
from asfound.language.telling import _teller, told, told_parts


def told_content(value: Any, *, leave: frozenset[str] = frozenset()) -> Any:
    """Return nested content with each text told; pictures (keys that end in ``svg``) and keys in ``leave`` stay."""
    if reader().plain:
        return value
    if isinstance(value, str):
        return told(value)
    if isinstance(value, dict):
        return {
            key: one if str(key).endswith("svg") or key in leave else told_content(one, leave=leave)
            for key, one in value.items()
        }
    return [told_content(one, leave=leave) for one in value] if isinstance(value, (list, tuple)) else value


def N_(text: str) -> str:  # noqa: N802 the name that every tool for messages knows
    """Mark a text that is told later."""
    return text


def _(text: str, *places: object) -> str:
    """Return a message in the reader's language, with its places filled: ``_("{0} of {1}", 3, 5)``."""
    who = reader()
    said = text if who.language == "en" else messages(who.language).get(text, text)
    if not places:
        return said
    filled = [told(str(one)) for one in places]
    return PLACE.sub(lambda place: filled[int(place[1])], said)


def ngettext(one: str, many: str, count: int) -> str:
    """Return a message for a number of things; ``{0}`` in it is the number."""
    return _(one if count == 1 else many, f"{count:,}")


def by_sentence(text: str) -> list[tuple[str, bool]]:
    """Return a text in pieces, each as the reader reads it and whether it is known; together they are the text."""
    who = reader()
    if who.plain:
        return [(text, True)]
    teller = _teller(who.language, who.numbers, who.dates)
    pieces = teller.sentences(text)
    return pieces if len(pieces) > 1 else [teller.tell(text)]


def known(text: str) -> bool:
    """Return whether all of a text is known in the reader's language."""
    return told_parts(text)[1]
