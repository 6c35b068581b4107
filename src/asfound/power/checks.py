"""Published values of site and power, recomputed: each subject brings its own module ``checks_*``."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.power import checks_flow, checks_heat, checks_load, checks_rating, checks_site_air
from asfound.sources.prove import Check

SUBJECTS = (checks_site_air, checks_rating, checks_load, checks_flow, checks_heat)


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for subject in SUBJECTS:
        yield from subject.checks()
