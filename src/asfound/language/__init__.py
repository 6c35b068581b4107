"""The reader's language and number form: what the program says stays English inside and is told on the way out.

Records, rooms and contents hold plain English: what is sealed stays in the words it was written in. A door (page,
picture, paper) hands each text to `told`, which finds the whole text, or the pattern that it was made by, in the
catalogue of the reader's language. Numbers and dates are turned into the reader's form there as well.
"""

from __future__ import annotations

from asfound.language.marks import N_, _, known, ngettext, told_content
from asfound.language.reader import (
    DATES,
    LANGUAGES,
    NUMBERS,
    PAPERS,
    Reader,
    Written,
    decimal_sign,
    of_header,
    reader,
    reading_as,
)
from asfound.language.telling import told, told_parts

__all__ = [
    "DATES",
    "LANGUAGES",
    "NUMBERS",
    "N_",
    "PAPERS",
    "Reader",
    "Written",
    "_",
    "decimal_sign",
    "known",
    "ngettext",
    "of_header",
    "reader",
    "reading_as",
    "told",
    "told_content",
    "told_parts",
]
