"""How far the model may be asked, by `data/bounds.csv`."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.errors import InputError
from asfound.sources.tables import load_csv
from asfound.whatif.engine import Setting
from asfound.whatif.seen import Knob


@dataclass(frozen=True, slots=True, kw_only=True)
class Bound:
    """How far a part of the setting may be changed from where it was read, and its own ends; SI."""

    knob: Knob
    title: str
    less: float
    more: float
    low: float
    high: float
    relative: bool
    why: str


@cache
def bounds() -> dict[str, Bound]:
    """Return the bounds by the name of what is changed."""
    made = {}
    for row in load_csv("asfound.whatif", "data/bounds.csv"):
        scale = np.pi / 180.0 if row["unit"] == "deg" else np.pi / 30.0 if row["unit"] == "r/min" else 1.0
        scale = 1e5 if row["unit"] == "bar" else scale
        by = 1.0 if row["relative"] == "yes" else scale
        made[row["name"]] = Bound(
            knob=row["name"],  # type: ignore[arg-type]
            title=row["title"],
            less=float(row["less"]) * by,
            more=float(row["more"]) * by,
            low=float(row["low"]) * scale,
            high=float(row["high"]) * scale,
            relative=row["relative"] == "yes",
            why=row["why"],
        )
    return made


def check_within(now: Setting, name: str, by: float) -> None:
    """Refuse a change beyond the bounds."""
    if name not in bounds():
        raise InputError("change", name, "is not a setting that the model can change", allowed=", ".join(bounds()))
    bound = bounds()[name]
    middle = float(np.median(np.asarray(getattr(now, name))))
    less, more = (bound.less * middle, bound.more * middle) if bound.relative else (bound.less, bound.more)
    if not (np.isfinite(by) and less <= by <= more and bound.low <= middle + by <= bound.high):
        low, high = max(middle + less, bound.low), min(middle + more, bound.high)
        raise InputError(
            name, f"{middle + by:.4g}", f"is beyond what the model may be asked: {bound.why}",
            allowed=f"{low:.4g} to {high:.4g} (SI)",
            try_next="Ask for a smaller step, make it at the engine, read again, and ask anew.",
        )  # fmt: skip
