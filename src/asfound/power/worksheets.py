"""Worksheets of site and power: each subject brings its own module ``worksheets_*``."""

from __future__ import annotations

from asfound.power import (
    worksheets_balance,
    worksheets_compressor,
    worksheets_compressor_gas,
    worksheets_efficiency,
    worksheets_flow,
    worksheets_generator,
    worksheets_heat,
    worksheets_load,
    worksheets_load_from_fuel,
    worksheets_orifice,
    worksheets_rating,
    worksheets_site_air,
)

SUBJECTS = (
    worksheets_site_air,
    worksheets_rating,
    worksheets_generator,
    worksheets_compressor_gas,
    worksheets_compressor,
    worksheets_load,
    worksheets_orifice,
    worksheets_flow,
    worksheets_efficiency,
    worksheets_heat,
    worksheets_balance,
    worksheets_load_from_fuel,  # last: what was worked out goes before an efficiency that was taken over
)
"""Where several give one quantity, the one of the earlier subject is taken unless somebody chooses another."""
