"""Gauge, absolute, differential: what stands behind a unit of pressure."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Literal

from asfound.errors import AmbiguousError, UnknownNameError
from asfound.quantities.unit_text import plain
from asfound.quantities.units import Unit, unit

Kind = Literal["gauge", "absolute", "difference", "vacuum", ""]

_SUFFIX = re.compile(
    r"[\s._-]*\(?\s*(?P<kind>gauge|gage|absolute|absolut|abs|differential|difference|diff|vacuum|vac|ü|g|a|d|v)\s*\)?\.?$",
    re.IGNORECASE,
)
_KINDS: dict[str, Kind] = {"g": "gauge", "ü": "gauge", "a": "absolute", "d": "difference", "v": "vacuum"}
_TIGHT = {"psi": ("psig", "psia"), "at": ("atg", "ata")}


@lru_cache(maxsize=1024)
def split_pressure(text: str) -> tuple[str, Kind]:
    """Return a unit of pressure without its ending, and what the ending says; the text itself where it is no pressure.

    >>> split_pressure("bar(g)"), split_pressure("psia"), split_pressure("kPa"), split_pressure("g/kWh")
    (('bar', 'gauge'), ('psi', 'absolute'), ('kPa', ''), ('g/kWh', ''))
    """
    text = plain(text)
    found = _SUFFIX.search(text)
    if not found or _pressure(text):
        return text, ""
    core = text[: found.start()].strip()
    return (core, _KINDS[found["kind"][0].lower()]) if _pressure(core) else (text, "")


def with_kind(symbol: str, *, gauge: bool) -> str:
    """Return a unit of pressure with its ending, as the trade writes it: ``psig``, ``bar g``, ``kPa abs``.

    >>> with_kind("psi", gauge=True), with_kind("kPa", gauge=False)
    ('psig', 'kPa abs')
    """
    tight = _TIGHT.get(symbol)
    return tight[0 if gauge else 1] if tight else f"{symbol} {'g' if gauge else 'abs'}"


def _pressure(text: str) -> bool:
    found = _unit_or_none(text)
    return found is not None and found.dimension == "pressure"


def _unit_or_none(text: str) -> Unit | None:
    try:
        return unit(text) if text else None
    except (UnknownNameError, AmbiguousError):
        return None
