"""Worksheets of the exhaust: each subject brings its own module ``worksheets_*``."""

from __future__ import annotations

from asfound.exhaust import (
    worksheets_catalyst,
    worksheets_exhaust_flow,
    worksheets_hydrocarbons,
    worksheets_inverse,
    worksheets_mixture,
    worksheets_permit,
    worksheets_rates,
    worksheets_sensor_voltage,
    worksheets_test_run,
    worksheets_wet_dry,
)

SUBJECTS = (
    worksheets_test_run,
    worksheets_permit,
    worksheets_mixture,
    worksheets_exhaust_flow,
    worksheets_rates,
    worksheets_hydrocarbons,
    worksheets_wet_dry,
    worksheets_catalyst,
    worksheets_inverse,
    worksheets_sensor_voltage,
)
"""Where several give one quantity, the one of the earlier subject is taken unless somebody chooses another.

The mean of a formal test goes before what is worked out from readings beside it.
"""
