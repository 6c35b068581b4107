"""Findings of the declaration: what the engine burns against what was declared for it, brought to the site."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from asfound.quantities.case_numbers import Number, each_state, held, said
from asfound.quantities.display import chance
from asfound.quantities.findings import Case
from asfound.quantities.limits import SURE, UNSURE
from asfound.quantities.words import Finding

TOLERANCE = 1.05
"""Declared fuel (heat) consumption may be exceeded by 5 %, where nothing else is agreed (ISO 3046-1, from memory)."""
DECLARED_LOAD = 0.90
"""A declaration is for declared power; below this load it says nothing (engineering judgement)."""


def find(case: Case) -> Iterator[Finding]:
    """Yield what the heat rate means beside the declared one."""
    for expected in each_state(case.worked, "engine", "site_heat_rate"):
        measured = held(case.worked, expected.state, "engine", "heat_rate")
        load = held(case.worked, expected.state, "engine", "load_fraction")
        if measured is None or load is None or load.value < DECLARED_LOAD:
            continue
        more = _more_than_allowed(case, measured, expected)
        if more <= UNSURE:
            continue
        sure = more >= SURE
        yield Finding(
            code="PW-04" if sure else "PW-05",
            subject="load",
            says=f"The engine burns {'more' if sure else 'perhaps more'} than was declared for it: "
            f"{said(case, measured)}, declared and brought to this air {said(case, expected)}, with 5 % allowed",
            severity="soon" if sure else "note",
            next_step=f"{chance(more)} to be over. Take fuel flow, heating value and load by a second road before the "
            "engine is blamed; then look at mixture, timing, compression and the turbocharger.",
            compared_with="declared heat rate times beta, plus 5 %: ISO 3046-1, the 5 % from memory",
            probability=more,
            because=(measured.key, expected.key),
            cautions=("gas", "hot"),
            state=expected.state,
        )


def _more_than_allowed(case: Case, measured: Number, expected: Number) -> float:
    """Return how probable it is that a heat rate is over the declared one and its tolerance: a count over the draws."""
    one, two = case.worked.draws(measured), case.worked.draws(expected)
    count = min(one.size, two.size)
    over = one[:count] - TOLERANCE * two[:count]
    finite = over[np.isfinite(over)]
    return float(np.count_nonzero(finite > 0)) / finite.size if finite.size else 0.0
