"""Worksheets of the cylinders: each subject brings its own module ``worksheets_*``."""

from __future__ import annotations

from types import ModuleType

SUBJECTS: tuple[ModuleType, ...] = ()
"""Where several give one quantity, the one of the earlier subject is taken unless somebody chooses another."""
