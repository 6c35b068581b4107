"""Does the best candidate fit at all? Two numbers for 'not in the catalogue', and a measure of conflict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from asfound.evidence.information import LN2
from asfound.evidence.model import OTHER
from asfound.evidence.posterior import Belief, posterior
from asfound.evidence.replicates import moments
from asfound.evidence.weigh import weigh
from asfound.evidence.witnesses import witnesses

if TYPE_CHECKING:
    from asfound.evidence.model import Model
    from asfound.evidence.observations import Evidence

LEAST_FIT = -3.0
"""Below this fit the best candidate does not fit (about; Willcox et al. 1973 and Priest and Alexander 1988 for the
practice).
"""
MOST_OTHER = 0.5
"""Above this posterior of ``other`` the thing is not in the catalogue."""


@dataclass(frozen=True, slots=True)
class Unknown:
    """The two numbers for 'not in the catalogue', and what they say.

    Attributes
    ----------
    other : float
        Posterior of the lineage ``other``: relative to the candidates. [-]
    fit_z : float
        Fit of the best catalogued candidate: absolute, in standard deviations. [-]
    nearest : str
        The best catalogued lineage.
    not_in_catalogue : bool
        fit_z below -3, or other above 0.5.
    """

    other: float
    fit_z: float
    nearest: str
    not_in_catalogue: bool


@dataclass(frozen=True, slots=True)
class Conflict:
    """Do the observations pull apart?

    Attributes
    ----------
    bits : float
        log2(product of P(e_i) / P(e)); above 0 warns. [bit]
    explained_by : tuple of (lineage, bits)
        Lineages that, added as a finding, would make it negative, the most negative first: a rare case explains the
        conflict.
    """

    bits: float
    explained_by: tuple[tuple[str, float], ...]


def fit_z(model: Model, observations: Sequence[Evidence] | Belief, lineage: str | None = None) -> float:
    """Return how well the observations fit a lineage: z = (log L - E log L) / sd, in standard deviations.

    Parameters
    ----------
    model : Model
    observations : sequence of observations, or the Belief that they gave
    lineage : str, optional
        The best catalogued one where None.

    Returns
    -------
    float
        About 0 for a good fit, below about -3 for none; 0 where nothing was observed or nothing could have come out
        otherwise.

    Notes ----- L is the probability of the whole set of observations given the lineage, slots integrated out, each
    source summed over right and wrong as one item. Expectation and standard deviation run over what the model
    itself predicts under that lineage for the same characters seen in the same ways. A ticked set is one outcome,
    the union of its states, beside each state that was not ticked; graded doubt is one impression that was had,
    against not having it. Slots that no source ties are independent given the lineage, so their expectations and
    variances add up. A block (slot, or tied slots) with up to 4,096 outcomes is enumerated; a larger one is
    estimated from 4,000 replicates drawn with a fixed seed.
    """
    belief = observations if isinstance(observations, Belief) else posterior(model, observations)
    g = best_known(belief) if lineage is None else model.lineage_names.index(lineage)
    parts = moments(model.compiled, belief.weighed.gathered, g)
    variance = sum(part[2] for part in parts)
    if variance <= 1e-18:
        return 0.0
    return float(sum(part[0] - part[1] for part in parts) / np.sqrt(variance))


def unknown(model: Model, observations: Sequence[Evidence]) -> Unknown:
    """Return the two numbers for 'not in the catalogue': posterior of ``other``, and fit of the best catalogued
    lineage.
    """
    belief = posterior(model, observations)
    nearest = model.lineages[best_known(belief)].name
    other = belief.lineages.get(OTHER, 0.0)
    z = fit_z(model, observations, nearest)
    return Unknown(other, z, nearest, z < LEAST_FIT or other > MOST_OTHER)


def best_known(belief: Belief) -> int:
    """Return the most probable catalogued lineage, the first of those that tie."""
    return int(np.argmax(np.round(belief.weighed.p[: len(belief.model.lineages)], 12)))


def conflict(model: Model, observations: Sequence[Evidence]) -> Conflict:
    """Return how far the observations pull apart: log2(product of P(e_i) / P(e)), each source one item. [bit]

    Above 0 warns. A lineage h added as a finding changes it by log2(P(h) / P(h | e)); those that make it negative would
    explain the conflict (Jensen et al. 1990, from memory).
    """
    c = model.compiled
    whole = weigh(c, tuple(observations))
    alone = sum(weigh(c, one.evidence).log_evidence for one in witnesses(tuple(observations)))
    bits = (alone - whole.log_evidence) / LN2
    with np.errstate(divide="ignore"):
        change = (c.log_prior - np.log(whole.p)) / LN2
    found = [(name, bits + float(d)) for name, d in zip(c.lineages, change, strict=True) if bits > 0 and bits + d < 0]
    return Conflict(bits, tuple(sorted(found, key=lambda pair: round(pair[1], 12))))
