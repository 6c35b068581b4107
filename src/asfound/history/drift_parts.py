"""Drift in each part between repairs: what drifted before one need not go on after it.

`drift` holds one slope throughout. Where a visit took the cause away, or a new part wears at a rate of its own, each
part between two visits is looked at alone, all brought to one reference. The last part tells what goes on now.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from asfound.errors import InputError
from asfound.history.drift import Drift, drift
from asfound.history.estimate import LEVEL, Estimate
from asfound.history.timeline import HOUR, Mask, run_hours, seconds
from asfound.quantities.typing import Array


@dataclass(frozen=True, slots=True)
class Part:
    """One part between two repairs."""

    start: float
    """s."""
    end: float
    drift: Drift
    onto: Estimate | None
    """Level at its beginning less level at the end of the part before, at the reference; None for the first."""


def drift_by_parts(
    time: npt.ArrayLike,
    y: Array,
    effects: Mapping[str, Array],
    repairs: Sequence[float] | npt.ArrayLike,
    *,
    running: Mask | None = None,
    counts: Mask | None = None,
    reference: Mapping[str, float] | None = None,
    hours: Array | None = None,
    level: float = LEVEL,
) -> tuple[Part, ...]:
    """Return the drift of each part between repairs; parts of fewer than 20 days are left out.

    Parameters
    ----------
    time, y, effects, running, counts, hours, level
        As for `drift`.
    repairs : array
        Times, like ``time``, at which the cause may have been taken away: ends of visits, or the steps that `drift`
        found.
    reference : mapping, optional
        Values to which all parts are brought; the medians of the whole log without it.
    """
    at = seconds(time)
    used = np.isfinite(y) & (np.ones(at.size, dtype=bool) if counts is None else counts)
    if counts is None and running is not None:
        used = used & running
    if hours is None:
        hours = run_hours(at, running) if running is not None else (at - at[0]) / HOUR
    refer = {name: float(np.nanmedian(values[used])) for name, values in effects.items()} | dict(reference or {})
    cuts = np.sort(seconds(repairs)) if len(np.atleast_1d(np.asarray(repairs))) else np.zeros(0)
    edges = [-np.inf, *cuts[(cuts > at[0]) & (cuts < at[-1])].tolist(), np.inf]
    found: list[Part] = []
    for low, high in pairwise(edges):
        inside = (at >= low) & (at < high)
        try:
            one = drift(
                at[inside], y[inside], {n: v[inside] for n, v in effects.items()}, counts=used[inside],
                hours=hours[inside], reference=refer, level=level,
            )  # fmt: skip
        except InputError:
            continue
        onto = _onto(found[-1].drift, one, at[inside], hours[inside], level) if found else None
        found.append(Part(float(at[inside][0]), float(at[inside][-1]), one, onto))
    return tuple(found)


def _onto(before: Drift, after: Drift, at: Array, hours: Array, level: float) -> Estimate:
    """Return the move of the level across a repair."""
    value, columns = after.path(at, hours)
    names = [after.fit.names.index(name) for name in after.path_names]
    spread = float(columns[0] @ after.fit.covariance[np.ix_(names, names)] @ columns[0])
    error = float(np.hypot(np.sqrt(max(spread, 0.0)), before.level.error))
    return Estimate.of(float(value[0]) - before.level.value, error, min(before.fit.freedom, after.fit.freedom), level)
