"""Which cylinders stand apart, in one sentence: what the page of the cylinders says first."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.cylinders.findings_spread import told_odd
from asfound.cylinders.mask import Mark
from asfound.report.content_cylinders import DEVIATION
from asfound.report.wording import say_value

if TYPE_CHECKING:
    from collections.abc import Sequence

    from asfound.report.content_cylinders import Cylinders
    from asfound.report.wording import System


def headline(shown: Cylinders, system: System) -> tuple[str, str]:
    """Return which cylinders stand apart, in a sentence, and what stands behind it; empty words where a port is unread.

    The newest state leads: what stood apart as found and does no more as left is told so.
    """
    told = {state: [one.name for one in spread.cylinders if told_odd(one)] for state, spread in shown.spread.items()}
    if not told:
        return "No port was judged.", "Exhaust temperatures are read on the running engine, at load."
    apart = next((names for names in told.values() if names), [])
    latest = list(told)[-1]
    if not apart:
        says = "No cylinder stands apart."
    elif told[latest]:
        says = f"{_cylinders(told[latest])} apart."
    else:
        says = f"{_cylinders(apart)} apart as found, none as left."
    seen = shown.spread[latest]
    read = [one for one in seen.cylinders if one.mark == Mark.VALID]
    off = max((abs(one.deviation) for one in read if one.deviation == one.deviation), default=0.0)
    away = say_value(off, DEVIATION, system)
    looked = say_value(seen.limit, DEVIATION, system)
    count = f"{len(read)} of {len(shown.ports)} ports read"
    return says, f"{count}; the farthest is {away} off its median. Looked into from {looked}."


def _cylinders(names: Sequence[str]) -> str:
    listed = f"{', '.join(names[:-1])} and {names[-1]}" if len(names) > 1 else names[0]
    return f"Cylinders {listed} stand" if len(names) > 1 else f"Cylinder {listed} stands"
