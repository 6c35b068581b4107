"""Arrays of formulas that are also their own derivatives: real, or complex with a tiny imaginary part."""

from __future__ import annotations

from typing import Any

Any_ = Any
"""A float or complex array: NumPy's own types cannot say 'what goes in comes out' without casting everywhere."""
