"""What to look at where a value is suspected, and how well another instrument would measure it."""

from __future__ import annotations

from functools import cache

from asfound.sources.tables import load_csv


@cache
def _rows() -> dict[str, dict[str, str]]:
    return {row["name"]: row for row in load_csv("asfound.crosscheck", "data/looks.csv")}


def _row(name: str) -> dict[str, str]:
    return _rows().get(name) or _rows().get("*/" + name.rsplit("/", 1)[-1]) or {}


def look_at(name: str) -> str:
    """Return what to look at, in words; empty where there is nothing."""
    return _row(name).get("look", "")


def measured_again(name: str, value: float) -> float | None:
    """Return the standard uncertainty [SI] with which another instrument would measure it; None where none would."""
    row = _row(name)
    if not row.get("again"):
        return None
    again = float(row["again"])
    return again * abs(value) if row["of"] == "share" else again
