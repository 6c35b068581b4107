"""Worksheets of the cylinders: each subject brings its own module ``worksheets_*``."""

from __future__ import annotations

from asfound.cylinders import worksheets_sensors, worksheets_spread, worksheets_wear

SUBJECTS = (worksheets_sensors, worksheets_spread, worksheets_wear)
"""Where several give one quantity, the one of the earlier subject is taken unless somebody chooses another."""
