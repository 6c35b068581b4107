"""How a report writes dates, times, places, instruments and numbers; each rule once."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any, Literal

from asfound.quantities.days import day_text
from asfound.quantities.display import show
from asfound.quantities.register import quantity
from asfound.quantities.register import title_of as title_of
from asfound.quantities.units import unit

if TYPE_CHECKING:
    from asfound.quantities.words import Reading, Result
    from asfound.records.view_parts import KeptReading

System = Literal["si", "us"]
"""Units of the reader."""
COVERAGE = 1.959964
"""Of 95 % for a normal distribution."""

_READABLE = (
    (0x20, 0x7E), (0xA1, 0x17F), (0x218, 0x21B), (0x391, 0x3A9), (0x3B1, 0x3C9), (0x400, 0x45F), (0x5D0, 0x5EA),
    (0x621, 0x63A), (0x641, 0x652), (0x1E80, 0x1E85), (0x2013, 0x2014), (0x2018, 0x201E), (0x2022, 0x2022),
    (0x2026, 0x2026), (0x2039, 0x203A), (0x20AC, 0x20AC), (0x2122, 0x2122), (0x2212, 0x2212),
)  # fmt: skip
"""Characters that the typesetter's faces are known to have; all others are written out."""


_ALL_READABLE = re.compile(
    f"[{''.join(f'{chr(a)}-{chr(b)}' for a, b in _READABLE).replace(chr(0x5C), chr(0x5C) * 2)}]*"
).fullmatch


def clean(text: object) -> str:
    r"""Return a text that the typesetter can set: what its faces lack is written as ``[U+1F600]``, controls go.

    Nothing readable is lost: signs for the direction of writing go because the typesetter finds it, and the other
    controls are no text.

    Examples
    --------
    >>> clean("ok \u2713 8\u00a0h\x07")
    'ok [U+2713] 8 h'
    """
    whole = unicodedata.normalize("NFC", str(text))
    if _ALL_READABLE(whole):
        return whole
    said = []
    for sign in whole:
        code = ord(sign)
        if any(low <= code <= high for low, high in _READABLE):
            said.append(sign)
        elif sign.isspace() or unicodedata.category(sign) == "Zs":
            said.append(" ")
        elif unicodedata.category(sign) not in {"Cc", "Cf"} and not 0xFE00 <= code <= 0xFE0F:
            said.append(f"[U+{code:04X}]")
    return "".join(said)


LONG, CHUNK, MAY_BREAK = 15, 8, "\u200b"
"""A word longer than LONG may be broken, invisibly, after each CHUNK characters: no cell is wider than its column."""


def breakable(text: str) -> str:
    """Return a text whose very long words may be broken by the typesetter."""
    if len(text) <= LONG:
        return text
    return " ".join(
        word if len(word) <= LONG else MAY_BREAK.join(word[i : i + CHUNK] for i in range(0, len(word), CHUNK))
        for word in text.split(" ")
    )


def plain(value: Any) -> Any:
    """Return nested content with every text made fit for the typesetter; pictures (``...svg``) stay as they are."""
    if isinstance(value, str):
        return breakable(clean(value))
    if isinstance(value, Mapping):
        return {str(k): _under(str(k), v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    return value


def unbroken(text: str) -> str:
    """Return a text without the places at which `breakable` lets long words break."""
    return text.replace(MAY_BREAK, "")


def written_out(value: Any) -> Any:
    """Return nested content with every sign that is not of Latin writing written as ``[U+05D0]``; pictures stay."""
    if isinstance(value, str):
        return "".join(sign if ord(sign) <= 0x17F or sign in "–‘’“”„•…€−" else f"[U+{ord(sign):04X}]" for sign in value)
    if isinstance(value, Mapping):
        return {str(k): v if str(k).endswith("svg") else written_out(v) for k, v in value.items()}
    return [written_out(one) for one in value] if isinstance(value, (list, tuple)) else value


def _under(key: str, value: Any) -> Any:
    if key.endswith("svg"):
        return value
    return clean(value) if key == "alt" and isinstance(value, str) else plain(value)


def day_words(text: str) -> str:
    """Return a date as ``8 July 2032``; what is no date stays as it is."""
    return day_text(text)


def clock(text: str) -> str:
    """Return the time of day ``09:52`` of an ISO time, empty where there is none."""
    try:
        return datetime.fromisoformat(text).strftime("%H:%M") if "T" in text else ""
    except ValueError:
        return ""


def place_words(place: str) -> str:
    """Return a place as words: ``cylinder L4``, ``before catalyst``; the engine as a whole needs none.

    >>> place_words("cylinder_L4"), place_words("engine")
    ('cylinder L4', '')
    """
    return "" if place in {"engine", ""} else place.replace("_", " ")


def natural(text: str) -> tuple[tuple[bool, int, str], ...]:
    """Return a key that sorts ``cylinder_2`` before ``cylinder_10``."""
    return tuple(
        (not part.isdigit(), int(part) if part.isdigit() else 0, part) for part in re.split(r"(\d+)", text) if part
    )


@cache
def named(name: str, place: str) -> str:
    """Return quantity and place: ``Exhaust temperature, cylinder L4``."""
    where = place_words(place)
    return f"{title_of(name)}, {where}" if where else title_of(name)


@dataclass(frozen=True, slots=True)
class Said:
    """A number in words: value, unit, interval."""

    value: str
    unit: str
    interval: str = ""

    @property
    def whole(self) -> str:
        """Value with its unit."""
        return f"{self.value} {self.unit}".strip()

    def as_dict(self) -> dict[str, str]:
        """Return it as plain values."""
        return {"value": self.value, "unit": self.unit, "interval": self.interval}


def say(number: Reading | Result, system: System) -> Said:
    """Return a reading or result as the reader's units show it, decimals after its interval."""
    low, high = interval_of(number)
    gauge = getattr(number, "gauge", False)  # a reading typed as gauge stays gauge; results are absolute
    if low == high:
        shown = show(number.value, number.quantity, system=system, gauge=gauge)
        return Said(shown.value, _unit(shown.unit))
    shown = show(number.value, number.quantity, system=system, interval=(low, high), gauge=gauge)
    return Said(shown.value, _unit(shown.unit), f"{shown.low} to {shown.high}" if shown.low else "")


def say_value(value: float, name: str, system: System) -> str:
    """Return an SI value of a quantity with its unit, as the reader's units show it, without interval."""
    shown = show(value, name, system=system)
    return f"{shown.value} {_unit(shown.unit)}".strip()


def _unit(symbol: str) -> str:
    """Leave out the unit one."""
    return "" if symbol == "1" else symbol


def sentence(text: str) -> str:
    """Return a text that begins with a capital letter and keeps the rest as it is."""
    return text[:1].upper() + text[1:]


def interval_of(number: Reading | Result) -> tuple[float, float]:
    """Return the 95 % interval, SI: of a result from its draws, of a reading from its standard uncertainty."""
    found = getattr(number, "interval", None)
    if found is not None:
        return float(found[0]), float(found[1])
    half = COVERAGE * number.standard_uncertainty
    return number.value - half, number.value + half


def in_units(value: float, name: str, system: System) -> float:
    """Return a value of a quantity in the unit that the reader is shown; for positions on a scale."""
    known = quantity(name)
    return float(known.to_unit(value, known.display(system)))


def unit_words(name: str, system: System) -> str:
    """Return the symbol of the unit that the reader is shown."""
    known = quantity(name)
    return known.display(system)


def doubt(kept: KeptReading, system: System) -> str:
    """Return what an instrument claims, in its own words: ``± 5 % of reading``; else the standard uncertainty."""
    specs = kept.instrument.content.get("specs", {}) if kept.instrument is not None else {}
    spec = specs.get(kept.quantity)
    if spec:
        return ", ".join(_claims(spec, kept.quantity, system))
    if kept.standard_uncertainty > 0 and kept.value is not None:
        return f"± {_difference_text(COVERAGE * kept.standard_uncertainty, kept.quantity, system)} (95 in 100)"
    return ""


USUAL = "usual doubt"
"""Of what such instruments usually show, where nobody stated another: one word where it stands in many rows."""


def brief(said_by: str) -> str:
    """Return who read it, with the usual doubt in one word."""
    return said_by.replace(" (doubt as usual for such instruments)", f", {USUAL}")


def _claims(spec: Mapping[str, Any], name: str, system: System) -> list[str]:
    claims = []
    if spec.get("percent_of_reading"):
        claims.append(f"± {spec['percent_of_reading']:g} % of reading")
    if spec.get("absolute"):
        claims.append(f"± {_difference_text(spec['absolute'], name, system)}")
    if spec.get("resolution") and not claims:
        claims.append(f"reads to {_difference_text(spec['resolution'], name, system)}")
    return claims


def _difference_text(value: float, name: str, system: System) -> str:
    """Return an amount of difference in the reader's unit: a factor only, never the offset of a temperature scale."""
    symbol = unit_words(name, system)
    return f"{value / unit(symbol).factor:.3g} {symbol}"
