"""Belief over lineages, variants and sources, given observations: exact, in log space."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from asfound.evidence.model import Model
    from asfound.evidence.observations import Evidence


class Belief:
    """What to believe after the observations.

    Attributes
    ----------
    lineages : dict of lineage to probability
        In catalogue order, ``other`` last.
    slots : dict of slot to dict of variant to probability
        In catalogue order, ``other`` last.
    log_evidence : float
        Natural logarithm of the probability of all the observations. [nats]
    sources : dict of source to probability that it is right
        In the order in which they speak.
    """

    lineages: dict[str, float]
    slots: dict[str, dict[str, float]]
    log_evidence: float
    sources: dict[str, float]

    def ranked(self) -> tuple[tuple[str, float], ...]:
        """Return the lineages, most probable first; ties in catalogue order."""
        raise NotImplementedError

    @property
    def top(self) -> str:
        """Most probable lineage; the first in catalogue order of those that tie."""
        raise NotImplementedError


def posterior(model: Model, observations: Sequence[Evidence]) -> Belief:
    """Return the belief."""
    raise NotImplementedError
