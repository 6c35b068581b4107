"""Findings of the fuel gas: each subject brings its own module ``findings_*``."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.fuel import findings_analysis, findings_engine, findings_line
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

SUBJECTS = (findings_engine, findings_analysis, findings_line)


def find(case: Case) -> Iterator[Finding]:
    """Yield what the gas of a visit means."""
    for subject in SUBJECTS:
        yield from subject.find(case)
