"""Published values of the cylinders, recomputed: each subject brings its own module ``checks_*``."""

from __future__ import annotations

from collections.abc import Iterator
from types import ModuleType

from asfound.cylinders import checks_inference, checks_sensors, checks_spread
from asfound.sources.prove import Check

SUBJECTS: tuple[ModuleType, ...] = (
    checks_sensors,
    checks_spread,
    checks_inference,
)


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for subject in SUBJECTS:
        yield from subject.checks()
