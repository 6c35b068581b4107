"""Findings of the load: what the engine carries beside its rating."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.quantities.findings import Case
from asfound.quantities.limits import Verdict, Verdicts, beside_limits
from asfound.quantities.words import Finding

VERDICTS = Verdicts(
    beyond=Verdict(
        code="PW-01",
        says="is {side} the {limit}",
        severity="visit",
        next_step="Agree with the operator to bring the load back; look at knock, exhaust and bearing temperatures.",
        cautions=("hot",),
    ),
    undecided=Verdict(
        code="PW-02",
        says="is too close to the {limit} to be sure",
        severity="visit",
        next_step="Take the load by a second road (electrical, compressor, fuel) before more is asked of the engine.",
    ),
    inside=Verdict(code="PW-03", says="is inside the {limit}", severity="note", next_step="Nothing to do."),
)


def find(case: Case) -> Iterator[Finding]:
    """Yield a finding for each number of the load that a limit is set for."""
    yield from beside_limits(case, "load", VERDICTS)
