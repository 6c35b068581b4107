"""The cross-check of a visit as plain data in SI, for programs: the same for the HTTP door and the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.crosscheck.told import sentence
from asfound.report.content_crosscheck import checked_of

if TYPE_CHECKING:
    from asfound.crosscheck.outcome import Alternative, Checked, CheckedBalance, CrossCheck, Suspect
    from asfound.quantities.words import State
    from asfound.records.visit import VisitView


def crosscheck_data(view: VisitView, state: State) -> dict[str, Any]:
    """Return the cross-check of a state; with ``checked`` false where nothing checks anything."""
    head: dict[str, Any] = {"visit": view.visit.name, "state": state}
    found = checked_of(view, state)
    if found is None:
        return head | {
            "checked": False,
            "says": "No balance can be drawn up over what was read: nothing can be checked.",
        }
    return head | _whole(found, view)


def _whole(found: CrossCheck, view: VisitView) -> dict[str, Any]:
    return {
        "checked": True,
        "says": sentence(found, view.system),
        "verdict": found.verdict,
        "told_apart": found.told_apart,
        "disagreement": found.chi_squared,
        "checks": found.degrees,
        "usual_below": found.usual_below,
        "p_value": found.p_value,
        "suspect_readings": list(found.suspect_keys),
        "explanations": [_explanation(one) for one in found.explanations],
        "readings": [_reading(one) for one in found.readings],
        "balances": [_balance(one) for one in found.balances],
        "left_out": [
            {"name": one.name, "title": one.title, "disagreement": one.chi_squared, "checks": one.degrees}
            for one in found.left_out
        ],
        "one_more": [
            {
                "name": one.name, "title": one.title, "standard_uncertainty": one.u, "before": one.before,
                "after": one.after, "sharpens": one.wanted,
            }
            for one in found.one_more
        ],
        "best": {name: {"value": value, "standard_uncertainty": u} for name, (value, u) in found.best.items()},
        "unknown": list(found.unknown),
    }  # fmt: skip


def _reading(one: Checked) -> dict[str, Any]:
    return {
        "name": one.name,
        "title": one.title,
        "key": one.key,
        "assumed": one.assumed,
        "unit": one.unit,
        "gauge": one.gauge,
        "value": one.value,
        "standard_uncertainty": one.u,
        "others_say": one.others,
        "others_interval": list(one.interval),
        "difference": one.size,
        "distance": one.distance,
        "verdict": one.verdict,
        "smallest_error_noticed": one.smallest_error,
        "best": one.best,
        "best_standard_uncertainty": one.u_best,
    }


def _balance(one: CheckedBalance) -> dict[str, Any]:
    return {
        "name": one.name, "title": one.title, "equation": one.equation, "closes": one.closes,
        "left_over": one.left_over, "standard_uncertainty": one.u, "unit": one.unit, "distance": one.distance,
        "takes": list(one.takes), "assumed": list(one.assumed), "source": one.source, "clause": one.clause,
    }  # fmt: skip


def _explanation(one: Alternative) -> dict[str, Any]:
    return {
        "probability": one.probability,
        "disagreement": one.chi_squared,
        "errors": [[_suspect(of) for of in group] for group in one.groups],
    }


def _suspect(one: Suspect) -> dict[str, Any]:
    return {
        "name": one.name, "title": one.title, "kind": one.kind, "readings": list(one.keys), "size": one.size,
        "standard_uncertainty": one.u, "unit": one.unit, "probability": one.probability, "possible": one.possible,
        "mistake": one.mistake, "look": one.look,
    }  # fmt: skip
