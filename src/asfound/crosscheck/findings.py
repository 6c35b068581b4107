"""Findings of the cross-check: each subject brings its own module ``findings_*``."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

from asfound.crosscheck import findings_agreement, findings_model, findings_unchecked
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

SUBJECTS: tuple[ModuleType, ...] = (findings_agreement, findings_unchecked, findings_model)


def find(case: Case) -> Iterator[Finding]:
    """Yield what each subject finds."""
    for subject in SUBJECTS:
        yield from subject.find(case)
