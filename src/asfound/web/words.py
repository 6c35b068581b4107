"""How dates, times, counts and chances are written on a page, and the titles of what the trade has fixed names for."""

from __future__ import annotations

from datetime import date, datetime
from typing import Final

from asfound.quantities.days import MONTHS

STEPS: Final = {
    "fitted": ("What is fitted", "Fitted"),
    "fuel": ("Fuel gas", "Gas"),
    "load": ("Load", "Load"),
    "exhaust": ("Exhaust", "Exhaust"),
    "cylinders": ("Cylinders", "Cylinders"),
    "other": ("All other readings", "The rest"),
}
STATES: Final = {"as_found": "As found", "as_left": "As left"}
SEVERITIES: Final = {
    "stop": "Stop now",
    "visit": "This visit",
    "clash": "Does not agree",
    "soon": "Next visit",
    "note": "Noted",
}
ANSWERS: Final = {"seen": "Seen", "not_there": "Looked, not there", "not_judged": "Could not judge"}
LOOKED: Final = {
    **{k: v[0].lower() + v[1:] for k, v in ANSWERS.items()},
    "open": "not looked at",
    "clash": "does not agree",
}
HOWS: Final = {
    "from_3m": "From 3 m",
    "at_part": "At the part",
    "in_hand": "In the hand",
    "read": "Number read",
    "photo": "In a photo",
    "said": "Somebody said",
}
DECISIONS: Final = {"agreed": "Agreed", "done": "Done", "handed_on": "Handed on", "set_aside": "Set aside"}
BANDS: Final = {
    "settled": "95 or more",
    "likely": "75 to 95",
    "leaning": "50 to 75",
    "open": "below 50",
    "not in the catalogue": "",
    "does not agree": "",
}
DRIVEN: Final = {
    "compressor": "compressor drive",
    "generator": "generator set",
    "pump": "pump drive",
    "other": "",
    "": "",
}
LAYOUTS: Final = {"inline": "in-line", "vee": "V"}


def _moment(text: str | date) -> date | None:
    if isinstance(text, date):
        return text
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def day(text: str | date) -> str:
    """Return a date in words; what is no date comes back as it is.

    >>> day("2032-07-08T09:52:00-06:00")
    '8 July 2032'
    """
    when = _moment(text)
    return f"{when.day} {MONTHS[when.month - 1]} {when.year}" if when else str(text)


def day_short(text: str | date) -> str:
    """Return day and month.

    >>> day_short("2032-07-08")
    '8 July'
    """
    when = _moment(text)
    return f"{when.day} {MONTHS[when.month - 1]}" if when else str(text)


def clock(text: str | datetime) -> str:
    """Return the time of day as it was at the place.

    >>> clock("2032-07-08T09:52:31-06:00")
    '09:52'
    """
    when = _moment(text)
    return f"{when:%H:%M}" if isinstance(when, datetime) else ""


def in_100(probability: float) -> str:
    """Return a probability as a count in a hundred, never rounded to nothing or to all.

    >>> in_100(0.962), in_100(0.0), in_100(0.9999)
    ('96', '<1', '>99')
    """
    if probability < 0.005:
        return "<1"
    if probability >= 0.995:
        return ">99"
    return f"{100 * probability:.0f}"


def plural(count: int, one: str, many: str = "") -> str:
    """Return a count with its noun.

    >>> plural(1, "place"), plural(3, "place"), plural(2, "analysis", "analyses")
    ('1 place', '3 places', '2 analyses')
    """
    return f"{count:,} {one if count == 1 else many or one + 's'}"


def minutes(value: float | None) -> str:
    """Return minutes for people.

    >>> minutes(12.0), minutes(95)
    ('12 min', '1 h 35 min')
    """
    if value is None:
        return ""
    whole = round(value)
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d} min"


def number(value: float, places: int = 1) -> str:
    """Return a plain number with the minus sign of typography.

    >>> number(-4.84), number(1437, 0), number(-0.04)
    ('\u22124.8', '1,437', '0.0')
    """
    return f"{value:z,.{places}f}".replace("-", "\u2212")


def sentence(text: str) -> str:
    """Return a text with its first letter large and a full stop, as a sentence among others.

    >>> sentence("harness differs"), sentence("Both ways."), sentence("")
    ('Harness differs.', 'Both ways.', '')
    """
    said = text.strip()
    return f"{said[:1].upper()}{said[1:]}" + ("" if said[-1:] in {".", "?", ""} else ".")


def title(text: str) -> str:
    """Return a text with its first letter large.

    >>> title("not in the catalogue")
    'Not in the catalogue'
    """
    return f"{text[:1].upper()}{text[1:]}"


def inside(text: str) -> str:
    """Return a title as it stands inside a sentence; what begins with capitals stays.

    >>> inside("Fuel gas became heavier"), inside("NOx sensor")
    ('fuel gas became heavier', 'NOx sensor')
    """
    return text if text[:2].isupper() else f"{text[:1].lower()}{text[1:]}"


FORMS = {"pdf": "PDF", "text": "Text", "csv": "Table, CSV", "json": "Data, JSON", "calendar": "Calendar"}
"""Forms in which a reader's document leaves."""
HOURS = {"travel": "Travel", "on_site": "On site", "waiting": "Waiting", "preparation": "Preparation",
         "writing": "Writing", "other": "Other"}  # fmt: skip
WARRANTY = {"": "Not said", "no": "No", "asked": "Asked for", "agreed": "Agreed", "refused": "Refused"}
