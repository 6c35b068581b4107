"""The map of settings in words: the most efficient that keeps the limits, and what it does not know."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from asfound.report.content_crosscheck_words import listed
from asfound.report.content_whatif_pictures import best_of
from asfound.report.whatif_permit import on_map

if TYPE_CHECKING:
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.whatif_fit import FittedEngine
    from asfound.report.whatif_how import Most

BINDING = {
    "nox_dry": "NOx", "nox_per_energy": "NOx", "nox_at_reference": "NOx", "exhaust_temperature": "exhaust temperature",
    "peak_pressure": "peak pressure", "knock": "nearness to knock",
}  # fmt: skip


def map_says(view: VisitView, state: State, fit: FittedEngine, most: Most) -> str:
    """Say which of the settings of the map is the most efficient that keeps the limits."""
    near_one = NEAR_ONE_MAP if fit.modelled.near_one else ""
    return near_one + _best_says(view, state, fit, most)


NEAR_ONE_MAP = (
    "A three-way catalyst holds this engine near lambda 1: only the column of its mixture can be run, the rest of the "
    "map shows what the engine would make. "
)


def _best_says(view: VisitView, state: State, fit: FittedEngine, most: Most) -> str:
    """Say which setting is the most efficient, or why none is."""
    wall = on_map(view, state, fit.engine).wall
    kept = (*(("the permit",) if wall is not None else ()), *most.words)
    if not kept:
        return (
            "No limit of this visit is one that the model can be held against, so the map has no wall; type one below "
            "to look for the most efficient setting within it."
        )
    best = best_of(view, state, fit, most)
    if best is None:
        return f"No setting of this map keeps {listed(list(kept))} in 95 of 100 draws at the power that was read."
    low, middle, high = (f"{100 * one:+.1f}".replace("-", "\N{MINUS SIGN}") for one in best.gain)
    if not best.surely_better:
        return (
            f"Of the settings of the map that keep {listed(list(kept))} none is surely more efficient than the one "
            f"that was read (the best by {middle} %, {low} to {high}, of what it is)."
        )
    timing = -float(np.degrees(best.timing))
    at = [BINDING[one] for one in best.binds]
    ends = f" What stops it is {listed(list(dict.fromkeys(at)))}." if at else ""
    ends += " It lies at the edge of the map: ask from there anew." if best.edge and not at else ""
    rest = [one for one in ("knock", "exhaust temperature") if not any(one in word for word in kept)]
    ends += (
        f" Nothing was asked of {' and '.join(rest)}; misfire is not in the model."
        if rest
        else (" Misfire is not in the model.")
    )
    return (
        f"Of the settings of the map the most efficient that keeps {listed(list(kept))} in 95 of 100 draws: "
        f"{timing:.1f} deg and lambda {best.excess_air_ratio:.2f}, efficiency {middle} % ({low} to {high}) of what it "
        f"is.{ends}"
    )
