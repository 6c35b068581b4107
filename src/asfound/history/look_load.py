"""The load that an engine carries: since when it is held down, and what of the log stands at its end meanwhile."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from asfound.history.channels import SECOND, split_channel
from asfound.history.load_held import Held, Mask, held
from asfound.history.load_parts import LoadHeld, Margin
from asfound.history.look_facts import Facts, VisitFact, WorkFact
from asfound.history.look_rows import Rows
from asfound.history.sensor_fault import settled
from asfound.quantities.typing import Array

LEAST_LOAD = 0.2
"""Below this share of rated power an engine idles or is being loaded. [1]"""
AT_LEVEL = 0.01
YEAR, DAY_US = 365.25 * 86_400.0, 86_400 * SECOND
FEWEST = 24
"""Rows that tell where a channel stands."""
MARGINS = ("throttle_position", "wastegate_position", "manifold_temperature", "ignition_retard")
"""What may stand at its end while a load is held down."""
AIR = "ambient_temperature@site"


def loads_of(rows: Rows, values: Mapping[str, Array], facts: Facts) -> tuple[LoadHeld, ...]:
    """Return the ceilings put on the load of a log, in the order of time; nothing where no load is logged."""
    if not rows.power or rows.power not in values or len(rows.slow) < 2:
        return ()
    rated = facts.rated_power
    column = np.where(rows.running & settled(rows.slow.time, rows.running), values[rows.power], np.nan)
    good = column[np.isfinite(column)]
    if not good.size:
        return ()
    by = rated if math.isfinite(rated) and rated > 0 else float(np.quantile(good, 0.98))
    if not by > 0:
        return ()
    share = np.where(column > LEAST_LOAD * by, column / by, np.nan)
    time = rows.slow.time.astype(np.float64) * 1e-6
    return tuple(_seen(one, rows.power, by, time, share, values, facts) for one in held(time, share))


def _seen(
    one: Held, power: str, by: float, time: Array, share: Array, values: Mapping[str, Array], facts: Facts
) -> LoadHeld:
    resting = (time >= one.start) & (time < one.end) & (np.abs(share - one.level) <= AT_LEVEL)
    passed = (time >= one.earliest - YEAR) & (time <= one.earliest) & (share > one.level + AT_LEVEL)
    air = values[AIR][resting] if AIR in values else np.zeros(0)
    air = air[np.isfinite(air)]
    earliest, latest = _us(one.earliest), _us(one.latest)
    visits = [one for one in facts.visits if one.end + DAY_US >= earliest and one.start <= latest]
    works = [one for one in facts.works if one.end + DAY_US >= earliest and one.start <= latest]
    visit: VisitFact | None = min(visits, key=lambda fact: fact.start, default=None)
    work: WorkFact | None = None if visit else min(works, key=lambda fact: fact.start, default=None)
    cause = visit or work  # the first: before it the load still passed the level
    start = min(max(cause.end, earliest), latest) if cause is not None else _us(one.start)
    return LoadHeld(
        channel=power, time=start, earliest=earliest, latest=latest, end=_us(one.end) if one.end < math.inf else 0,
        level=one.level * by, spread=one.spread * by, before=one.before * by, rated=facts.rated_power,
        at_level=one.at_level, at_level_before=one.at_level_before, passed=one.passed, days=one.days,
        chance=one.chance,
        air_low=float(air.min()) if air.size else math.nan, air_high=float(air.max()) if air.size else math.nan,
        margins=tuple(_margins(values, resting, passed)),
        visit=visit.name if visit is not None else "",
        why=visit.did if visit is not None else work.says if work is not None else "",
    )  # fmt: skip


def _margins(values: Mapping[str, Array], resting: Mask, passed: Mask) -> list[Margin]:
    found = []
    for name, column in values.items():
        quantity, _ = split_channel(name)
        if quantity not in MARGINS:
            continue
        now, then = (column[use][np.isfinite(column[use])] for use in (resting, passed))
        if now.size >= FEWEST:
            before = float(np.median(then)) if then.size >= FEWEST else math.nan
            found.append(Margin(channel=name, now=float(np.median(now)), before=before, most=float(np.max(now))))
    return found


def _us(seconds: float) -> int:
    return round(seconds * 1e6)
