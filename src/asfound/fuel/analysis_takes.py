"""What every worksheet that works from the analysis of the gas takes: the components, in the order of `ANALYSIS`."""

from __future__ import annotations

from asfound.fuel.visit_analysis import ANALYSIS
from asfound.quantities.worksheets import Take


def fraction(name: str) -> Take:
    """Return the take of a component; one that the analysis does not name counts as zero."""
    known = name == "fuel_methane"
    return Take(quantity=name, place="fuel", optional=not known, default=None if known else 0.0)


FRACTIONS = tuple(fraction(name) for name in ANALYSIS)
