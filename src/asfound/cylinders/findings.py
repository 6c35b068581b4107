"""Findings of the cylinders: each subject brings its own module ``findings_*``."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

from asfound.cylinders import (
    findings_bearings,
    findings_cylinder,
    findings_numbering,
    findings_sensors,
    findings_spread,
    findings_wear,
)
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

SUBJECTS: tuple[ModuleType, ...] = (
    findings_numbering,
    findings_sensors,
    findings_spread,
    findings_bearings,
    findings_wear,
    findings_cylinder,
)


def find(case: Case) -> Iterator[Finding]:
    """Yield what each subject finds."""
    for subject in SUBJECTS:
        yield from subject.find(case)
