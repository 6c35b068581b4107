"""Results with and without a reading judged false: it never vanishes, both are worked out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from asfound.crosscheck.outcome import CrossCheck
from asfound.errors import AsFoundError
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading
from asfound.quantities.worked import Worked
from asfound.quantities.worksheets import Worksheet


def without_suspects(readings: Sequence[Reading], found: CrossCheck) -> tuple[Reading, ...]:
    """Return the readings less those that the cross-check judges false; all of them where nobody lies.

    The sheet then takes another way to each number where there is one, or has no answer where there is none.
    """
    keys = set(found.suspect_keys)
    return tuple(one for one in readings if one.key not in keys)


def worked_without(
    worked: Worked, found: CrossCheck, *, worksheets: Mapping[str, Worksheet] | None = None
) -> Worked | None:
    """Return the sheet worked out without the suspects, with the same draws; None where there are none."""
    left = without_suspects(worked.readings, found)
    if len(left) == len(worked.readings):
        return None
    try:
        return work_out(left, number=worked.number, seed=worked.seed, chosen=dict(worked.chosen), worksheets=worksheets)
    except AsFoundError:
        return None
