"""Which readings in effect nothing checks: one meaning for finding, page and report."""

from __future__ import annotations

import math
from dataclasses import dataclass

from asfound.crosscheck.outcome import Checked, CrossCheck


def unnoticed(one: Checked, low: float | None, high: float | None) -> bool:
    """Tell whether in effect nothing checks a value: only an error that can hardly be would be noticed.

    That is one larger than the value itself, or than from one end of what can be (``low`` to ``high``) to the other.
    """
    if not math.isfinite(one.smallest_error):
        return True
    ends = [] if one.assumed or one.value == 0 else [abs(one.value)]
    ends += [high - low] if low is not None and high is not None else []
    return bool(ends) and one.smallest_error > min(ends)


SHOWN = ("apart", "may_be_apart", "same_mark", "unsure")
"""Verdicts whose value always stands beside what the others say."""


def silent(found: CrossCheck, one: Checked) -> bool:
    """Tell whether in effect nothing checks a value; a suspect always stands beside what the others say."""
    about = found.assembled.values[one.name]
    return one.verdict not in SHOWN and unnoticed(one, about.low, about.high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How many readings (assumptions left out) the others check, by how well."""

    read: int
    well: int
    weak: int
    """Only an error of more than 10 of their uncertainties would be noticed."""
    none: int
    """In effect not checked."""


def tally(found: CrossCheck) -> Tally:
    """Count the readings of a cross-check by how well the others check them; each is counted once."""
    read = [one for one in found.readings if not one.assumed]
    none = sum(silent(found, one) for one in read)
    weak = sum(one.verdict == "weakly_checked" and not silent(found, one) for one in read)
    return Tally(read=len(read), well=len(read) - none - weak, weak=weak, none=none)


def parts_said(count: Tally) -> list[str]:
    """Return the counts in words, as the pieces of a list."""
    parts = [f"{count.well} are checked well" if count.well != 1 else "1 is checked well"]
    parts += [f"{count.weak} only against large errors"] if count.weak else []
    parts += [f"{count.none} in effect not at all"] if count.none else []
    return parts
