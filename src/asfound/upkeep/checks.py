"""Published values of upkeep, recomputed: each subject brings its own module ``checks_*``."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.sources.prove import Check
from asfound.upkeep import (
    checks_due,
    checks_grouping,
    checks_life,
    checks_money,
    checks_oil,
    checks_records,
    checks_spares,
    checks_upgrade,
)

SUBJECTS = (
    checks_due,
    checks_life,
    checks_spares,
    checks_grouping,
    checks_oil,
    checks_money,
    checks_upgrade,
    checks_records,
)


def checks() -> Iterator[Check]:
    """Yield each published value with what the room's functions give now."""
    for subject in SUBJECTS:
        yield from subject.checks()
