"""Worksheets of the exhaust: each subject brings its own module ``worksheets_*``."""

from __future__ import annotations

from asfound.exhaust import (
    worksheets_catalyst,
    worksheets_hydrocarbons,
    worksheets_inverse,
    worksheets_permit,
    worksheets_rates,
)

SUBJECTS = (worksheets_permit, worksheets_rates, worksheets_hydrocarbons, worksheets_catalyst, worksheets_inverse)
"""Where several give one quantity, the one of the earlier subject is taken unless somebody chooses another."""
