"""What the engine's own log says against its readings, as doubt before the balances are looked at.

A reading whose channel stood still, changed its unit or parted from its twin is more probable to be grossly wrong than
another one. How probable is engineering judgement; whether the readings agree does not hang on it, only which one is
named when they do not. What the crew read with an instrument of its own is no channel of the log.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from asfound.quantities.words import Reading

PRIOR = {"stuck": 0.5, "twins_apart": 0.35, "gauge_absolute": 0.3, "unit_change": 0.2, "at_limit": 0.3}
"""Probability of being grossly wrong, by what the log says; engineering judgement. Of two twins one is wrong."""
FITS = 2.0
"""An error fits what the log says when it is this near, in units of the doubt of both. [1]"""
WEIGHT = 3.0
"""How much more probable a reading is to be the wrong one because its error is as large as the log says. [1]"""
OWN_SENSOR = "_sensor_reading"
"""Ending of quantities that only the engine's own sensor reads."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogDoubt:
    """What the log says against one value of the balances."""

    name: str
    key: str
    """Of its reading on the visit."""
    kind: str
    prior: float
    size: float
    """How much too high it reads by its log, SI; nan where that is not told."""
    u: float
    says: str
    """What its log shows, for a sentence about the reading."""

    def fits(self, size: float, u: float) -> bool:
        """Tell whether an error of this size is the one that the log shows."""
        return math.isfinite(self.size) and abs(size - self.size) <= FITS * math.hypot(u, self.u)


def doubts_from_logs(
    said: Sequence[Mapping[str, Any]], readings: Mapping[tuple[str, str], Reading], keys: Mapping[str, tuple[str, ...]]
) -> tuple[LogDoubt, ...]:
    """Return the doubt of each value that the log speaks against.

    Parameters
    ----------
    said : sequence of mapping
        ``case.visit["channels_in_doubt"]``: quantity, place, kind, says, and size with u or None.
    readings : mapping of (quantity, place) to reading
        Of the state.
    keys : mapping of value to keys
        Readings behind each value of the balances; a mean of several is not doubted for one of them.
    """
    of_key = {many[0]: name for name, many in keys.items() if len(many) == 1}
    found: dict[str, LogDoubt] = {}
    for one in _of_own_sensors(said, readings, of_key):
        worst = found.get(one.name)
        if worst is None or one.prior > worst.prior:
            found[one.name] = one
    return tuple(found.values())


def _of_own_sensors(
    said: Sequence[Mapping[str, Any]], readings: Mapping[tuple[str, str], Reading], of_key: Mapping[str, str]
) -> Iterator[LogDoubt]:
    for one in said:
        prior = PRIOR.get(str(one.get("kind", "")))
        reading = readings.get((str(one.get("quantity", "")), str(one.get("place", ""))))
        if prior is None or reading is None or reading.key not in of_key:
            continue
        if reading.shared_with and not reading.quantity.endswith(OWN_SENSOR):
            continue
        size, u = one.get("size"), one.get("u")
        yield LogDoubt(
            name=of_key[reading.key], key=reading.key, kind=str(one["kind"]), prior=prior,
            size=math.nan if size is None else float(size), u=math.nan if u is None else float(u),
            says=str(one.get("says", "")),
        )  # fmt: skip
