"""What a console can show: a sign that it does not have is written in plain ones, and a minus never becomes a query."""

from __future__ import annotations

import codecs
import io
import os
import sys
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from typing import TextIO

HANDLER = "asfound.plain"
PLAIN = {
    "−": "-", "–": "-", "—": "-", "‐": "-", "‑": "-", "…": "...", "×": "x", "·": ".", "⋅": ".", "•": "*",
    "≤": "<=", "≥": ">=", "≈": "~", "±": "+/-", "→": "->", "←": "<-", "°": "deg ", "µ": "u", "μ": "u", "Ω": "ohm",
    "λ": "lambda", "Δ": "delta ", "η": "eta", "φ": "phi", "‰": "per mille", "“": "'", "”": "'", "„": "'", "‘": "'",
    "’": "'", "′": "'", "″": "''", "⁻": "-", "⁺": "+", "⁄": "/", "∕": "/", "€": "EUR", "ß": "ss", "ø": "o", "Ø": "O",
    "æ": "ae", "Æ": "AE", "å": "a", "ł": "l", "đ": "d", "\u202f": " ", "\u2009": " ", "\u00a0": " ", "\u00ad": "",
    "│": "|", "─": "-", "├": "|", "└": "`", "█": "#", "▌": "#", "■": "#", "□": ".", "✓": "x",
}  # fmt: skip


def written_plainly(fault: UnicodeError) -> tuple[str | bytes, int]:
    """Return what stands for signs that an encoding does not have; registered as an error handler of ``codecs``.

    >>> _ = register()
    >>> "−9 °F, CO₂ ≤ 3 λ".encode("ascii", "asfound.plain")
    b'-9 deg F, CO2 <= 3 lambda'
    """
    if not isinstance(fault, UnicodeEncodeError):
        raise fault
    return "".join(map(_plain, fault.object[fault.start : fault.end])), fault.end


def _plain(sign: str) -> str:
    if sign in PLAIN:
        return PLAIN[sign]
    import unicodedata

    taken_apart = unicodedata.normalize("NFKD", sign).translate({ord(one): two for one, two in PLAIN.items()})
    return "".join(one for one in taken_apart if one.isascii() and not unicodedata.combining(one)) or "?"


def register() -> str:
    """Make the handler known and return its name."""
    codecs.register_error(HANDLER, written_plainly)
    return HANDLER


def open_up(stream: TextIO | None) -> None:
    """Let a stream take every sign.

    A file or pipe on Windows is written in UTF-8, as JSON and CSV are read everywhere, unless ``PYTHONIOENCODING``
    says otherwise; a console keeps its own encoding.
    """
    if not isinstance(stream, io.TextIOWrapper):
        return
    if sys.platform == "win32" and not stream.isatty() and "PYTHONIOENCODING" not in os.environ:
        stream.reconfigure(encoding="utf-8")
    stream.reconfigure(errors=register())
