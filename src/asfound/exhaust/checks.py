"""Published values of the exhaust, recomputed: each subject brings its own module ``checks_*``."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.exhaust import (
    checks_mixture,
    checks_permit,
    checks_rates,
    checks_rules,
    checks_test_run,
)
from asfound.sources.prove import Check

SUBJECTS = (checks_permit, checks_mixture, checks_rates, checks_test_run, checks_rules)


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for subject in SUBJECTS:
        yield from subject.checks()
