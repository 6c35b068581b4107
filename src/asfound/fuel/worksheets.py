"""Worksheets of the fuel gas: each subject brings its own module ``worksheets_*``."""

from __future__ import annotations

from asfound.fuel import worksheets_analysis, worksheets_properties, worksheets_quality

SUBJECTS = (worksheets_analysis, worksheets_properties, worksheets_quality)
"""Where several give one quantity, the one of the earlier subject is taken unless somebody chooses another."""
