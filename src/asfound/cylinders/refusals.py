"""What a worksheet of the machine figures says to a person whose number cannot be."""

from __future__ import annotations

from asfound.quantities.refusals import between

RATIO = between(3.0, 30.0, "3 to 30", "Take the geometric ratio of the heads and pistons that are fitted.")
GAP = between(0.02e-3, 5e-3, "0.02 to 5 mm", "Measure the gap again with a wire gauge; say whether it is mm or inch.")
HOURS = between(3600.0, 3.6e9, "1 h to a million hours", "Look up when the part was fitted, and enter the hours since.")
PRESSURE = between(1e4, 5e7, "0.1 to 500 bar absolute", "Read it again; say whether it is gauge or absolute.")
VOLTAGE = between(100.0, 2e5, "0.1 to 200 kV", "Read it again; say whether it is V or kV.")
RECESSION = between(-5e-3, 20e-3, "-5 to 20 mm", "Measure the height again; say whether it is mm or inch.")
"""A valve may stand a little higher than when new: a slip of the measurement, or another valve."""
