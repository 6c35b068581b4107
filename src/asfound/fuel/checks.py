"""Published values of the fuel gas, recomputed: each subject brings its own module ``checks_*``."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.fuel import checks_analysis, checks_properties, checks_tables
from asfound.sources.prove import Check

SUBJECTS = (checks_analysis, checks_properties, checks_tables)


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for subject in SUBJECTS:
        yield from subject.checks()
