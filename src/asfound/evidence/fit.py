"""Does the best candidate fit at all? Two numbers for 'not in the catalogue', and a measure of conflict."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from asfound.evidence.model import Model
    from asfound.evidence.observations import Evidence


@dataclass(frozen=True, slots=True)
class Unknown:
    """The two numbers: ``other`` (relative, a posterior) and ``fit_z`` (absolute), and what they say.

    ``not_in_catalogue`` is true where fit_z < -3 or other > 0.5; ``nearest`` is the best catalogued lineage.
    """

    other: float
    fit_z: float
    nearest: str
    not_in_catalogue: bool


@dataclass(frozen=True, slots=True)
class Conflict:
    """Do the observations pull apart? ``bits`` above 0 warns; ``explained_by`` are the lineages that would make it negative."""

    bits: float
    explained_by: tuple[tuple[str, float], ...]


def fit_z(model: Model, observations: Sequence[Evidence], lineage: str | None = None) -> float:
    """Return z of the fit of a lineage (the best catalogued one where None)."""
    raise NotImplementedError


def unknown(model: Model, observations: Sequence[Evidence]) -> Unknown:
    """Return the two numbers for 'not in the catalogue'."""
    raise NotImplementedError


def conflict(model: Model, observations: Sequence[Evidence]) -> Conflict:
    """Return log2(product of P(e_i) / P(e)), each source one item."""
    raise NotImplementedError
