"""How the family on an engine's record burns, by the packaged catalogue."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from asfound.errors import AsFoundError
from asfound.fitout.catalogue import load_catalogue


def combustion_of(engine: Mapping[str, Any]) -> str:
    """Return how the family burns, in words; empty where nothing is known, and of a company's own catalogue."""
    family = str(engine.get("family") or "")
    if not family or engine.get("catalogue"):
        return ""
    try:
        return load_catalogue().family(family).combustion
    except AsFoundError:
        return ""
