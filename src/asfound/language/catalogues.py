"""The compiled catalogues: what each message of the program is in a language, read once when first wanted."""

from __future__ import annotations

import gettext
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

DOMAIN = "asfound"


@cache
def messages(language: str) -> Mapping[str, str]:
    """Return every translated message of a language by its English text; for English each is itself.

    Read with the standard library from ``<language>/LC_MESSAGES/asfound.mo``.
    """
    place = files("asfound.language").joinpath(language, "LC_MESSAGES", f"{DOMAIN}.mo")
    if not place.is_file():
        return {}
    with place.open("rb") as stream:
        found: Mapping[object, str] = gettext.GNUTranslations(stream)._catalog  # type: ignore[attr-defined]
    said = {}
    for name, text in found.items():
        if isinstance(name, str) and name and text:
            said[name] = text
        elif isinstance(name, tuple) and name[1] == 0 and text:  # one of several numbers of a thing
            said[name[0]] = text
    return said
