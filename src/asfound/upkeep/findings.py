"""Findings of upkeep: each subject brings its own module ``findings_*``."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

from asfound.quantities.findings import Case
from asfound.quantities.words import Finding
from asfound.upkeep import findings_due, findings_failures, findings_oil, findings_sheet

SUBJECTS: tuple[ModuleType, ...] = (findings_due, findings_oil, findings_sheet, findings_failures)


def find(case: Case) -> Iterator[Finding]:
    """Yield what each subject finds."""
    for subject in SUBJECTS:
        yield from subject.find(case)
