"""Worksheets of the exhaust: each subject brings its own module ``worksheets_*``."""

from __future__ import annotations

from asfound.exhaust import worksheets_permit

SUBJECTS = (worksheets_permit,)
"""Where several give one quantity, the one of the earlier subject is taken unless somebody chooses another."""
