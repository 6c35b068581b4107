"""Belief over lineages, variants and sources, given observations: exact, in log space."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from asfound.errors import InputError
from asfound.evidence.weigh import Weighed, weigh

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
        In the order in which they speak; sources that cannot be wrong are right.
    """

    def __init__(self, model: Model, observations: tuple[Evidence, ...], weighed: Weighed) -> None:
        self.model, self.observations, self.weighed = model, observations, weighed
        self.log_evidence = weighed.log_evidence
        self._lineages: dict[str, float] | None = None
        self._slots: dict[str, dict[str, float]] | None = None

    @property
    def lineages(self) -> dict[str, float]:
        """Lineage to probability, catalogue order, ``other`` last."""
        if self._lineages is None:
            self._lineages = dict(zip(self.model.lineage_names, self.weighed.p.tolist(), strict=True))
        return self._lineages

    @property
    def slots(self) -> dict[str, dict[str, float]]:
        """Slot to variant to probability, catalogue order, ``other`` last."""
        if self._slots is None:
            c = self.weighed.c
            rows = self.weighed.variants.tolist()
            self._slots = {
                slot: dict(zip(names, row, strict=False))
                for slot, names, row in zip(c.slot_names, c.variant_names, rows, strict=True)
            }
        return self._slots

    @cached_property
    def sources(self) -> dict[str, float]:
        """Source to probability that it is right."""
        return self.weighed.source_right()

    def ranked(self) -> tuple[tuple[str, float], ...]:
        """Return the lineages, most probable first; ties in catalogue order."""
        return tuple(sorted(self.lineages.items(), key=lambda pair: -pair[1]))

    @property
    def top(self) -> str:
        """Most probable lineage; the first in catalogue order of those that tie."""
        return self.model.lineage_names[int(np.argmax(self.weighed.p))]

    def given(self, lineage: str, slot: str) -> dict[str, float]:
        """Return the variants of one slot if this lineage is the case."""
        g = self.model.lineage_names.index(lineage)
        row = self.weighed.variant_given(self.model.slot_index(slot))[g].tolist()
        return dict(zip(self.model.variant_names(slot), row, strict=False))

    def most_probable(self) -> tuple[dict[str, str], float]:
        """Return the single most probable whole (lineage, then every slot with its variant), and its probability.

        Given the lineage the slots are independent, so each takes its best variant. Not to be asked where sources tie
        several slots: then they are not.

        Raises
        ------
        InputError
            Where sources tie several slots.
        """
        weighed = self.weighed
        best: tuple[float, int, list[int]] | None = None
        if any(len(tie.slots) > 1 for tie in weighed.ties):
            raise InputError(
                "sources",
                ", ".join(self.sources),
                "tie several slots together",
                try_next="Ask for the slots one by one.",
            )
        for g in range(weighed.c.G):
            tops = [weighed.variant_given(s)[g] for s in range(weighed.c.S)]
            chance = float(weighed.p[g] * np.prod([row.max() for row in tops]))
            if best is None or chance > best[0] * (1 + 1e-12):
                best = (chance, g, [int(np.argmax(row)) for row in tops])
        assert best is not None
        names = {
            slot.name: self.model.variant_names(slot.name)[v] for slot, v in zip(self.model.slots, best[2], strict=True)
        }
        return {"lineage": self.model.lineage_names[best[1]], **names}, best[0]


def posterior(model: Model, observations: Sequence[Evidence]) -> Belief:
    """Return the belief over lineages, variants and sources.

    Parameters
    ----------
    model : Model
    observations : sequence of Observation or LineageStatement

    Returns
    -------
    Belief

    Raises
    ------
    UnknownNameError
        An observation speaks of a character, state, kind or lineage that the model has not.
    NothingFits
        The observations exclude every lineage.

    Notes ----- P(o | v, kind) = (1 - e) theta + e b, at least 1e-4 unless the state is excluded and e = 0; several
    ticked states add up; statements about one character share one true state; statements of one source are right
    together or describe another thing drawn from the catalogue's priors. Lineages are summed exactly: L[s, v] = sum
    log P(o | v), z[s, g] = sum_v P(v | g) exp(L), log P(g | o) = log P(g) + sum_s log z[s, g], P(v | o) = sum_g P(g
    | o) P(v | g) exp(L) / z.

    Examples
    --------
    >>> from asfound.evidence import Character, Lineage, Model, Observation, Slot
    >>> model = Model(
    ...     [Lineage("early", 0.5, {"lid": "flat"}), Lineage("late", 0.5, {"lid": "hinged"})],  # invented numbers
    ...     [Slot("lid", ["flat", "hinged"])],
    ...     [Character("hinges", "lid", ("none", "two"), {"flat": "none", "hinged": "two"})],
    ... )
    >>> belief = posterior(model, [Observation("hinges", ("two",), "seen")])
    >>> {name: round(p, 3) for name, p in belief.lineages.items()}
    {'early': 0.132, 'late': 0.848, 'other': 0.02}
    """
    kept = tuple(observations)
    return Belief(model, kept, weigh(model.compiled, kept))
