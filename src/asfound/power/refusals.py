"""What a worksheet of the load says to a person whose number cannot be."""

from __future__ import annotations

from collections.abc import Callable

from asfound.errors import InputError
from asfound.quantities.words import Reading, Result

Refusal = Callable[[Reading | Result], None]


def between(low: float, high: float, allowed: str, try_next: str) -> Refusal:
    """Return a refusal of what lies outside a range that nothing real leaves.

    Parameters
    ----------
    low, high : float
        [SI]
    allowed : str
        The range in words.
    try_next : str
        What to do at the engine.
    """

    def refuse(given: Reading | Result) -> None:
        if not low <= given.value <= high:
            typed = getattr(given, "as_typed", f"{given.value:.4g}")
            raise InputError(given.key, typed, "cannot be", allowed=allowed, try_next=try_next)

    return refuse


def factor(given: Reading | Result) -> None:
    """Refuse a power factor that is none, or none that a loaded generator has."""
    if not 0.05 <= abs(given.value) <= 1.0:
        raise InputError(
            given.key,
            getattr(given, "as_typed", f"{given.value:.4g}"),
            "is no power factor of a loaded generator",
            allowed="0.05 to 1, leading ones with a minus sign or without",
            try_next="Read the power factor again, or enter kvar instead.",
        )
