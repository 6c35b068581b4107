"""Words and thresholds that the findings of the cross-check share."""

from __future__ import annotations

from asfound.quantities.findings import Case
from asfound.quantities.words import Limit

AT_THE_ENGINE = ("hot", "local")
LEAST_CHECKS = 3
"""With fewer independent checks it is not worth saying that nothing contradicts."""
PERMIT_READINGS = (
    "exhaust_oxygen_dry", "exhaust_nox_dry", "exhaust_co_dry", "exhaust_co2_dry", "fuel_flow", "engine_power",
)  # fmt: skip
"""What permit numbers rest on, and heating value besides."""


def permits(case: Case) -> tuple[Limit, ...]:
    """Return the limits of the permit."""
    return tuple(one for one in case.limits if one.name == "permit")


def listed(words: list[str]) -> str:
    """Return words as a list in a sentence."""
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def lower(title: str) -> str:
    """Return a title inside a sentence; what is written in capitals stays so."""
    return title if title[:2].isupper() else title[0].lower() + title[1:]


def capital(text: str) -> str:
    """Return a sentence with its first letter large."""
    return text[0].upper() + text[1:]
