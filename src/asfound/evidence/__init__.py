"""Inference alone: lineages and slots, observations of differing reliability, belief, the next look, explanations.
Floor 1.

No word here tells what the things are that are looked at: rooms above bring names, this room does the arithmetic.

Start with :class:`Model` (what can be the case), :class:`Observation` (what was seen), :func:`posterior` (what to
believe), :func:`rank` (what to look at next), :func:`explain` (why).
"""

from __future__ import annotations

from asfound.evidence.explain import Explanation, explain
from asfound.evidence.fit import Unknown, conflict, fit_z, unknown
from asfound.evidence.look import Look, Setup
from asfound.evidence.looks import Ranking, rank
from asfound.evidence.model import AS_BUILT, INAPPLICABLE, OTHER, Character, Kind, Lineage, Model, Slot, Variant
from asfound.evidence.observations import LineageStatement, NothingFits, Observation, knowledge
from asfound.evidence.posterior import Belief, posterior
from asfound.evidence.ranked import RankedGroup, RankedLook, Stop

__all__ = [
    "AS_BUILT",
    "INAPPLICABLE",
    "OTHER",
    "Belief",
    "Character",
    "Explanation",
    "Kind",
    "Lineage",
    "LineageStatement",
    "Look",
    "Model",
    "NothingFits",
    "Observation",
    "RankedGroup",
    "RankedLook",
    "Ranking",
    "Setup",
    "Slot",
    "Stop",
    "Unknown",
    "Variant",
    "conflict",
    "explain",
    "fit_z",
    "knowledge",
    "posterior",
    "rank",
    "unknown",
]
