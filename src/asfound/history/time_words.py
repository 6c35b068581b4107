"""Words around a time: the day of the week before it, a word for 'o'clock' or the name of its zone behind it.

Only names that mean one offset are read. Those of North America as Internet mail defines them (RFC 5322, section 4.3),
but for CST, which is China's as well; those of Europe as their laws do (UTC+0, +1, +2, an hour more in summer). Any
other name stays, and the row is told as 'not a time'.
"""

from __future__ import annotations

import re

import numpy as np
from numpy.typing import NDArray

from asfound.history.split_lines import Bytes, Places

NO_OFFSET_SAID = np.iinfo(np.int64).min
_HOURS = {
    "UTC": 0, "GMT": 0, "UT": 0, "WET": 0, "WEST": 1, "CET": 1, "CEST": 2, "MEZ": 1, "MESZ": 2, "EET": 2, "EEST": 3,
    "EST": -5, "EDT": -4, "CDT": -5, "MST": -7, "MDT": -6, "PST": -8, "PDT": -7,
}  # fmt: skip
_O_CLOCK = ("UHR", "H", "HRS")
_NAMES = """
mon tue wed thu fri sat sun monday tuesday wednesday thursday friday saturday sunday tues thur thurs weds
mo di mi do fr sa so montag dienstag mittwoch donnerstag freitag samstag sonntag sonnabend
lun mar mié mie jue vie sáb sab dom lunes martes miércoles miercoles jueves viernes sábado sabado domingo
mer jeu ven sam dim lundi mardi mercredi jeudi vendredi samedi dimanche
gio lunedì martedì mercoledì giovedì venerdì sabato domenica
ma wo vr za zo maandag dinsdag woensdag donderdag vrijdag zaterdag zondag seg ter qua qui sex
"""
_WEEKDAYS = frozenset(_NAMES.split())
_DAY = re.compile(r"([^\d\s.,]{2,14})[.,]{0,2}\s+(?=\d{1,4}([./-])\d{1,2}\2\d{1,4})")
"""Before a date in figures alone: 'Mar 05 2024' is March."""
_BEHIND = re.compile(r"(?<=[\d\sMm.])\s*\b([A-Za-z]{1,4})$|(?<=\d)(Uhr|h|hrs)$", re.IGNORECASE)


def without_words(text: str) -> tuple[int, int, int]:
    """Return where the time itself begins and ends in a text without blanks around, and the minutes that its zone says.

    >>> without_words("Wed 13.03.2024 06:00 MEZ")
    (4, 20, 60)
    """
    begin, end, minutes = 0, len(text), NO_OFFSET_SAID
    day = _DAY.match(text)
    if day and _word(day[1]) in _WEEKDAYS:
        begin = day.end()
    behind = _BEHIND.search(text, begin)
    name = (behind[1] or behind[2]).upper() if behind else ""
    if behind and (name in _HOURS or name in _O_CLOCK):
        end = len(text[: behind.start()].rstrip())
        minutes = 60 * _HOURS[name] if name in _HOURS else minutes
    return begin, end, minutes


def _word(text: str) -> str:
    """Return a word in small letters; bytes of UTF-8 that were taken one by one are put together again."""
    try:
        return text.encode("latin-1").decode("utf-8").lower()
    except UnicodeError:
        return text.lower()


def freed(data: Bytes, starts: Places, ends: Places) -> tuple[Places, Places, NDArray[np.int64] | None]:
    """Return times of a column (rows,) without the words around them, and the minutes east that these say; None: none.

    ``starts`` and ``ends`` have no blanks around what they hold.
    """
    there = ends > starts
    first, before, last = (data[at] & 0xDF for at in (starts, np.maximum(ends - 2, 0), np.maximum(ends - 1, 0)))
    word_before, behind, two = ((one >= 65) & (one <= 90) for one in (first, last, before))
    usual = np.where(last == 90, ~two, last == 77)  # Z alone, AM, PM: read as figures are
    rows = np.flatnonzero(there & (word_before | (behind & ~usual)))
    if not len(rows):
        return starts, ends, None
    starts, ends = starts.copy(), ends.copy()
    minutes = np.full(len(starts), NO_OFFSET_SAID)
    for row in rows.tolist():
        start = int(starts[row])
        text = data[start : min(int(ends[row]), start + 80)].tobytes().decode("latin-1")
        begin, end, minutes[row] = without_words(text)
        if ends[row] - start <= 80:
            starts[row], ends[row] = start + begin, start + end
    return starts, ends, minutes if np.any(minutes != NO_OFFSET_SAID) else None


def either_offset(
    figures: NDArray[np.int64] | None, named: NDArray[np.int64] | None
) -> NDArray[np.int64] | None:  # fmt: skip
    """Return minutes east of Greenwich (rows,) from figures, else from a zone's name; None where no row has any."""
    if figures is None or named is None:
        return named if figures is None else figures
    return np.where(figures == NO_OFFSET_SAID, named, figures)
