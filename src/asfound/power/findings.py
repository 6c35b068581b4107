"""Findings of site and power: each subject brings its own module ``findings_*``."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.power import (
    findings_compressor,
    findings_declared,
    findings_flow,
    findings_generator,
    findings_heat,
    findings_limits,
    findings_load,
    findings_rating,
    findings_recovery,
)
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

SUBJECTS = (
    findings_limits,
    findings_rating,
    findings_load,
    findings_generator,
    findings_compressor,
    findings_declared,
    findings_flow,
    findings_heat,
    findings_recovery,
)


def find(case: Case) -> Iterator[Finding]:
    """Yield what each subject finds."""
    for subject in SUBJECTS:
        yield from subject.find(case)
