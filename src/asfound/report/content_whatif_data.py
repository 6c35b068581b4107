"""What-if as plain data for programs, in SI."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from asfound.report.content_whatif import LackingShown, answered, whatif_shown
from asfound.report.content_whatif_pictures import best_of, map_of_engine
from asfound.report.content_whatif_words import CAN, CANNOT, DECIDES
from asfound.report.whatif_anchor import anchored
from asfound.report.whatif_back import ways_shown
from asfound.report.whatif_fit import FittedEngine, fitted
from asfound.report.whatif_how import how_of, most_of
from asfound.report.whatif_permit import beyond_now, judged, limits_of
from asfound.report.whatif_question import asked_of
from asfound.whatif.ask import TOLD, draws_of
from asfound.whatif.optimum import chance_kept

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.quantities.typing import Array
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView
    from asfound.report.whatif_how import Most
    from asfound.report.whatif_question import Question
    from asfound.report.wording import System

ANCHORS = {
    "power": "engine_power", "efficiency": "brake_efficiency", "exhaust_temperature": "exhaust_median",
    "peak_pressure": "peak_firing_pressure", "nox_dry": "exhaust_nox_dry", "nox_per_energy": "nox_mass_per_energy",
    "oxygen_dry": "exhaust_oxygen_dry",
}  # fmt: skip


def whatif_data(
    view: VisitView,
    state: State,
    question: Question,
    system: System,
    *,
    gases: Mapping[str, Mapping[str, float]] | None = None,
    decimal: Literal[".", ","] | None = None,
    whole: bool = False,
    wanted: str = "",
) -> dict[str, Any]:
    """Return the answer to a question.

    Raises
    ------
    InputError
        A part of the question cannot be; the first is named.
    """
    how = how_of(question.typed)
    fit = fitted(view, state, how)
    if not isinstance(fit, FittedEngine):
        lacking = whatif_shown(view, state, question, system)
        assert isinstance(lacking, LackingShown)
        return {
            "state": state, "modelled": False, "missing": list(fit.quantities), "then_assumed": list(fit.then_assumed),
            "says": list(fit.says),
            "other_state": lacking.other,
        }  # fmt: skip
    asked = asked_of(fit, question, system, gases=gases, decimal=decimal)
    if asked.faults:
        raise next(iter(asked.faults.values()))
    answer, refused = answered(fit, asked)
    outcome = answer.outcome if answer else fit.engine.outcome
    held = answer is not None and answer.held
    numbers = {}
    for name in TOLD:
        pair = draws_of(fit.engine, outcome, name, given=held and name == "power")
        if name in ANCHORS:
            pair = anchored(view, state, ANCHORS[name], *pair)
        numbers[name] = {"now": _three(pair[0]), "then": _three(pair[1]), "change": _three(pair[1] - pair[0])}
    data: dict[str, Any] = {
        "state": state, "modelled": True, "asked": dict(asked.targets), "gas": asked.fuel, "draws": len(outcome.power),
        "numbers": numbers, "says": [*refused, *(answer.says if answer else ())],
        "permit": [
            {"quantity": one.limit.quantity, "limit": one.limit.value, "as_typed": one.limit.as_typed,
             "now": _three(one.now), "then": _three(one.then), "chance_beyond_now": beyond_now(view, state, one)[1],
             "chance_beyond_then": one.beyond(one.then)}
            for one in judged(view, state, fit.engine, outcome)
        ],
        "assumed": list(fit.modelled.assumed), "unread": list(fit.modelled.unread),
        "fitted_to": list(fit.fitted_to), "rates": how.rates,
        "fits": [
            {"visit": one.visit, "output": one.reading.output, "read": one.reading.value,
             "model": [one.low, one.middle, one.high],
             "doubts_away": one.away}
            for one in fit.engine.fits
        ],
        "misfits": list(fit.engine.says), "can": list(CAN), "cannot": list(CANNOT), "decides": DECIDES,
    }  # fmt: skip
    if whole:
        data["map"] = _map(view, state, fit, most_of(question.typed, system, decimal))
    if wanted:
        found = ways_shown(view, state, fit, wanted, system, decimal=decimal)
        data["ways"] = [
            {"part": one.title, "now": one.now, "then": one.then, "reached": one.reached,
             "changes": dict(zip(found.heads, (cell.whole for cell in one.cells), strict=True))}
            for one in found.ways
        ]  # fmt: skip
    return data


def _three(values: Array) -> list[float]:
    """Return low, middle, high; 95 in 100."""
    return [float(one) for one in np.quantile(values, [0.025, 0.5, 0.975])]


def _map(view: VisitView, state: State, fit: FittedEngine, most: Most) -> dict[str, Any]:
    found, best = map_of_engine(view, state, fit), best_of(view, state, fit, most)
    return {
        "timing_before_top_dead_centre": (-found.timing).tolist(),
        "excess_air_ratio": np.asarray(found.excess_air_ratio).tolist(),
        "nox_dry": np.median(found.nox_dry, axis=2).tolist(),
        "efficiency": np.median(found.efficiency, axis=2).tolist(),
        "chance_kept": chance_kept(found, limits_of(view, state, fit.engine, most)).tolist(),
        "best": None if best is None else {
            "timing_before_top_dead_centre": -best.timing, "excess_air_ratio": best.excess_air_ratio,
            "efficiency_gain": list(best.gain), "binds": list(best.binds), "at_edge": best.edge,
            "surely_better": best.surely_better,
        },
    }  # fmt: skip
