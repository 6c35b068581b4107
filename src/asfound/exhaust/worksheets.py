"""Worksheets of the exhaust: each subject brings its own module ``worksheets_*``."""

from __future__ import annotations

from asfound.exhaust import worksheets_hydrocarbons, worksheets_permit, worksheets_rates

SUBJECTS = (worksheets_permit, worksheets_rates, worksheets_hydrocarbons)
"""Where several give one quantity, the one of the earlier subject is taken unless somebody chooses another."""
