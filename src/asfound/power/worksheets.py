"""Worksheets of site and power: each subject brings its own module ``worksheets_*``."""

from __future__ import annotations

from asfound.power import worksheets_site_air

SUBJECTS = (worksheets_site_air,)
"""Where several give one quantity, the one of the earlier subject is taken unless somebody chooses another."""
