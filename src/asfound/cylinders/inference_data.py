"""A verdict as plain data: for a page, an API answer, a report."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from asfound.cylinders.inference_knowledge import Knowledge, knowledge
from asfound.cylinders.inference_next import Next
from asfound.cylinders.inference_words import SIDE_WORDS, in_hundred
from asfound.cylinders.sensor_or_cylinder import Verdict
from asfound.evidence import OTHER

LEAST = 0.005
"""Causes below this are not listed."""


def as_data(verdict: Verdict, known: Knowledge | None = None) -> dict[str, Any]:
    """Return a verdict as dicts, lists, text and numbers; causes and witnesses by their titles as well.

    Parameters
    ----------
    verdict : Verdict
    known : Knowledge, optional
        The one it was judged by; the shipped one where None.
    """
    known = known or knowledge()
    return {
        "cylinder": verdict.cylinder,
        "says": verdict.says,
        "side": verdict.side,
        "sides": [
            {"side": side, "title": SIDE_WORDS[side], "probability": p, "in_words": in_hundred(p)}
            for side, p in verdict.sides.items()
        ],
        "causes": [
            {
                "cause": name,
                "title": SIDE_WORDS[OTHER] if name == OTHER else known.causes[name].title,
                "side": OTHER if name == OTHER else known.causes[name].side,
                "does": "" if name == OTHER else known.causes[name].does,
                "probability": p,
                "in_words": in_hundred(p),
            }
            for name, p in verdict.ranked
            if p >= LEAST
        ],
        "misfire": verdict.misfire,
        "wires": list(verdict.wires),
        "bound": verdict.bound,
        "bounded": verdict.bounded,
        "witnesses": [
            {
                "witness": one.statement.witness,
                "title": one.title,
                "says": one.says,
                "speaks_for": one.side,
                "factor": one.factor,
                "wire": one.wire,
                "because": list(one.statement.because),
            }
            for one in verdict.testimony
        ],
        "next": _listed(verdict.next),
        "next_later": _listed(verdict.next_later),
    }


def looks_to_offer(known: Knowledge | None = None) -> list[dict[str, Any]]:
    """Return what a person can be asked of a cylinder: witness, title, states in words, how it is heard."""
    known = known or knowledge()
    return [
        {
            "witness": one.name,
            "title": one.title,
            "states": [{"state": state, "says": said.says} for state, said in one.states.items()],
            "does": one.asked.does,
            "minutes": one.asked.minutes,
            "engine_state": one.asked.state,
            "cautions": list(one.asked.cautions),
        }
        for one in known.witnesses.values()
        if one.asked is not None
    ]


def _listed(all_: Sequence[Next]) -> list[dict[str, Any]]:
    return [
        {
            "witness": one.name,
            "title": one.title,
            "does": one.does,
            "minutes": one.minutes,
            "own_minutes": one.own_minutes,
            "engine_state": one.engine_state,
            "cautions": list(one.cautions),
            "share_of_doubt": one.share_of_doubt,
        }
        for one in all_
    ]
