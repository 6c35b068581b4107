"""Rates of failure and times to repair by item, and lives of items, counted from records of failures and of work.

A rate needs the hours that were watched: first and last hour of each engine. A mean time between failures holds only
where there is no trend, so the trend stands beside it. Mean repair time is of active hours, mean down time of stop to
back in service: they are not the same, and the words are printed with the numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from asfound.errors import InputError
from asfound.upkeep.failure_records import Record
from asfound.upkeep.life import WeibullFit, fit_weibull
from asfound.upkeep.repairs import mtbf_limits

Watched = Mapping[str, tuple[float, float]]
"""Engine to the running hours between which every failure was recorded."""
_TREND = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemRate:
    """Failures of one item over all engines watched."""

    item: str
    failures: int
    hours: float
    """Of engines, times the number of such items on one."""
    mtbf: float | None
    """Mean hours between failures; None without a failure."""
    low: float
    high: float | None
    level: float
    rate: float
    """Failures in 1000 h."""
    repair_hours: float | None
    """Mean active time of corrective work."""
    down_hours: float | None
    """Mean time from stop to back in service."""
    repaired: int
    """Records of work that the two means rest on."""
    trend: float | None
    """Laplace's u over all engines: above 1.96 failures come faster, below -1.96 slower; None with fewer than two."""
    left_out: int
    """Failures without hours, or outside the hours watched."""

    @property
    def steady(self) -> bool:
        """No trend at 5 %: a mean may be quoted without its date."""
        return self.trend is None or abs(self.trend) <= _TREND


def rates(
    failures: Sequence[Record], works: Sequence[Record], watched: Watched, *, by: str = "item",
    on_each: Mapping[str, int] | None = None, level: float = 0.9,
) -> tuple[ItemRate, ...]:  # fmt: skip
    """Return the rate of each item, most failures first.

    Parameters
    ----------
    failures, works : sequence of mapping
        Records as `failure_records` checks them; work is tied to a failure by ``failure``.
    watched : mapping
        Engine to first and last hour.
    by : str
        Field that is counted by: ``item``, ``subunit``, ``mode``, ``mechanism``, ``equipment``. An empty field counts
        as ``not noted``.
    on_each : mapping of str to int, optional
        How many of an item sit on an engine; 1 where not given.
    level : float
        Of the limits, by chi-square for a constant rate and an observation that ended at a time.
    """
    _watched(watched)
    groups: dict[str, list[Record]] = {}
    for one in failures:
        if one.get("equipment") in watched:
            groups.setdefault(str(one.get(by) or "not noted"), []).append(one)
    hours = math.fsum(last - first for first, last in watched.values())
    found = [
        _rate(name, of, works, watched, hours * (on_each or {}).get(name, 1), level) for name, of in groups.items()
    ]
    return tuple(sorted(found, key=lambda one: (-one.failures, one.item)))


def _rate(
    name: str, failures: Sequence[Record], works: Sequence[Record], watched: Watched, hours: float, level: float
) -> ItemRate:
    counted = [one for one in failures if _within(one, watched)]
    limits = mtbf_limits(hours, len(counted), level=level)
    ids = {one.get("record") for one in failures} - {None}
    done = [one for one in works if one.get("failure") in ids and one.get("category") != "preventive"]
    return ItemRate(
        item=name, failures=len(counted), hours=hours, mtbf=limits.mtbf, low=limits.lower, high=limits.upper,
        level=level, rate=1000.0 * len(counted) / hours, repair_hours=_mean(one.get("active_hours") for one in done),
        down_hours=_mean(one.get("down_hours") for one in done), repaired=len(done), trend=_trend(counted, watched),
        left_out=len(failures) - len(counted),
    )  # fmt: skip


def _trend(failures: Sequence[Record], watched: Watched) -> float | None:
    """Return Laplace's u for several engines at once, each over its own hours (Cox and Lewis 1966, from memory)."""
    if len(failures) < 2:
        return None
    over, spread = 0.0, 0.0
    for one in failures:
        first, last = watched[one["equipment"]]
        over += float(one["hours"]) - (first + last) / 2.0
        spread += (last - first) ** 2 / 12.0
    return over / math.sqrt(spread)


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemLife:
    """Lives of one item, counted from the day when a new one was put in."""

    item: str
    failures: tuple[float, ...]
    survivors: tuple[float, ...]
    """Ages of those taken out sound or in use still."""
    unknown_start: int
    """Lives left out because nobody knows when the first one was put in."""
    fit: WeibullFit | None
    says: str


def life_of(
    item: str, failures: Sequence[Record], works: Sequence[Record], watched: Watched, *, new_at_start: bool = False,
    level: float = 0.95,
) -> ItemLife:  # fmt: skip
    """Return the life of an item that is replaced by a new one each time.

    ``works`` with the item, its hours and ``replace`` without a failure are taken out sound. ``new_at_start``: the
    items were new at the first hour watched; else the life up to the first replacement is not known and left out.
    """
    _watched(watched)
    failed: list[float] = []
    sound: list[float] = []
    unknown = 0
    for engine, (first, last) in watched.items():
        events = sorted(
            [(float(one["hours"]), True) for one in failures if _is(one, item, engine) and _within(one, watched)]
            + [
                (float(one["hours"]), False)
                for one in works
                if _is(one, item, engine) and one.get("activity") == "replace" and not one.get("failure")
                and _within(one, watched)
            ]
        )  # fmt: skip
        begin = first if new_at_start else None
        for at, failure in events:
            if begin is None:
                unknown += 1
            elif at > begin:
                (failed if failure else sound).append(at - begin)
            begin = at
        if begin is not None and last > begin:
            sound.append(last - begin)
    enough = len(failed) > 1 and len(set(failed)) > 1
    fit = fit_weibull(failed, sound, level=level) if enough else None
    says = (
        f"{len(failed)} failed, {len(sound)} sound or in use."
        if fit
        else f"{len(failed)} failed: too few to tell whether it wears. A constant rate with its limits is all there is."
    )
    return ItemLife(
        item=item, failures=tuple(failed), survivors=tuple(sound), unknown_start=unknown, fit=fit, says=says
    )


def _is(record: Record, item: str, engine: str) -> bool:
    return record.get("item") == item and record.get("equipment") == engine


def _within(record: Record, watched: Watched) -> bool:
    hours, engine = record.get("hours"), str(record.get("equipment"))
    if hours in (None, "") or engine not in watched:
        return False
    first, last = watched[engine]
    return first <= float(hours) <= last


def _mean(values: Iterable[float | None]) -> float | None:
    known = [float(one) for one in values if one is not None]
    return math.fsum(known) / len(known) if known else None


def _watched(watched: Watched) -> None:
    for engine, (first, last) in watched.items():
        if not (math.isfinite(first) and math.isfinite(last) and first < last):
            raise InputError(
                "watched", f"{engine}: {first:g} to {last:g} h", "is no time watched", allowed="first < last"
            )
    if not watched:
        raise InputError("watched", "{}", "leaves no hours", allowed="one engine or more")
