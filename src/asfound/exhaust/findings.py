"""Findings of the exhaust: each subject brings its own module ``findings_*``."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.exhaust import (
    findings_burning,
    findings_catalyst,
    findings_limits,
    findings_mixture,
    findings_nox_probe,
    findings_operating,
    findings_permit,
    findings_sensor_voltage,
    findings_setting,
    findings_test_run,
)
from asfound.quantities.findings import Case
from asfound.quantities.words import Finding

SUBJECTS = (
    findings_permit,
    findings_mixture,
    findings_burning,
    findings_nox_probe,
    findings_sensor_voltage,
    findings_test_run,
    findings_limits,
    findings_setting,
    findings_catalyst,
    findings_operating,
)


def find(case: Case) -> Iterator[Finding]:
    """Yield what each subject finds."""
    for subject in SUBJECTS:
        yield from subject.find(case)
