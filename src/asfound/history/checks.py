"""Published values of the history of engines, recomputed: each subject brings its own module ``checks_*``."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.history import checks_events, checks_import, checks_see
from asfound.sources.prove import Check

SUBJECTS = (checks_events, checks_import, checks_see)


def checks() -> Iterator[Check]:
    """Yield each published value with what the functions of this room give now."""
    for subject in SUBJECTS:
        yield from subject.checks()
