"""Published values of the cross-check, recomputed: each subject brings its own module ``checks_*``."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.crosscheck import checks_constants, checks_published, checks_truth, checks_visits
from asfound.sources.prove import Check

SUBJECTS = (checks_published, checks_truth, checks_visits, checks_constants)


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for subject in SUBJECTS:
        yield from subject.checks()
