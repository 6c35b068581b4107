"""The fixed grid that a channel's values are counted on, so that sums are whole numbers and merge exactly.

Floating-point sums depend on their order; sums of whole numbers do not. For its buckets each channel has a fixed
reference and a fixed step, a power of two about 1.5e-8 of half the quantity's plausible range. A value counts as the
nearest number of steps from the reference. Both follow from the channel's name alone, so that every engine, month and
process counts on the same grid.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

from asfound.errors import UnknownNameError
from asfound.history.channels import split_channel

STEPS_IN_HALF_RANGE = 26
"""Half the plausible range is 2 ** 26 steps."""
LARGEST = 2**44
"""Values further than this many steps from the reference are counted as beyond, and left out of sums."""
UNKNOWN_HALF_RANGE = 64.0
"""For a column that is no quantity of the register: one step is about one millionth."""


@dataclass(frozen=True, slots=True)
class Scale:
    """Reference and step of a channel, both in the SI unit of its quantity; the reference is a multiple of the step."""

    reference: float
    step: float

    @property
    def reach(self) -> float:
        """Distance from the reference beyond which a value is left out of sums."""
        return self.step * (LARGEST - 1)


@cache
def scale_of(channel: str) -> Scale:
    """Return the grid of a channel: from the plausible range of its quantity, or the general one."""
    from asfound.quantities.register import quantity

    try:
        low, high = quantity(split_channel(channel)[0]).plausible
    except UnknownNameError:
        low, high = -UNKNOWN_HALF_RANGE, UNKNOWN_HALF_RANGE
    return scale_of_range(low, high)


def scale_of_range(low: float, high: float) -> Scale:
    """Return the grid for a range: its middle, rounded, and 2 ** -26 of its half, rounded up to a power of 2."""
    if not (math.isfinite(low) and math.isfinite(high) and high > low):
        low, high = -UNKNOWN_HALF_RANGE, UNKNOWN_HALF_RANGE
    half = 2.0 ** math.ceil(math.log2((high - low) / 2))
    coarse = half / 4
    return Scale(reference=round((low + high) / 2 / coarse) * coarse, step=half * 2.0**-STEPS_IN_HALF_RANGE)
