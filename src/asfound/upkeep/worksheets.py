"""Worksheets of upkeep: each subject brings its own module ``worksheets_*``."""

from __future__ import annotations

from types import ModuleType

from asfound.upkeep import worksheets_oil

SUBJECTS: tuple[ModuleType, ...] = (worksheets_oil,)
"""Where several give one quantity, the one of the earlier subject is taken unless somebody chooses another."""
