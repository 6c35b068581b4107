"""When a demo engine runs, why it stands, and what load it carries."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from asfound.history.channels import SECOND, Times
from asfound.history.demo.calendar import DAY, HOUR
from asfound.history.demo.chance import stream, wander
from asfound.history.demo.fleet import Spec
from asfound.history.demo.planted import Stay
from asfound.quantities.typing import Array

FORCED = ("low suction", "oil pressure", "high jacket water", "speed signal lost", "fuel pressure", "vibration switch")
PATTERNS = {
    "compressor": {"forced": 1250.0, "maintenance": 750.0, "planned": 4300.0, "reserve": 0.0},
    "island": {"forced": 1500.0, "maintenance": 1000.0, "planned": 4300.0, "reserve": 0.0},
    "base": {"forced": 1700.0, "maintenance": 1000.0, "planned": 4300.0, "reserve": 1900.0},
    "biogas": {"forced": 900.0, "maintenance": 600.0, "planned": 4000.0, "reserve": 520.0},
}
"""Mean hours between the beginnings of stays of a kind; 0 for never."""
LENGTHS = {"forced": (4.0, 0.8), "maintenance": (3.5, 0.35), "planned": (30.0, 0.4), "reserve": (9.0, 0.7)}
"""Median hours of a stay and the standard deviation of their logarithm."""
APART = 8 * HOUR
FAILED_STARTS = 0.08
"""Share of starts before which one attempt failed."""


def stays(spec: Spec, seed: int, begins: int, ends: int, fixed: Iterable[Stay] = ()) -> tuple[Stay, ...]:
    """Return the table of states, without a hole from ``begins`` to ``ends``; stops in ``fixed`` stay."""
    random = stream(seed, spec.tag, "duty")
    stops = sorted(fixed, key=lambda one: one.start)
    for one in sorted(_drawn(spec, random, begins, ends), key=lambda one: one.start):
        if all(one.end + APART < other.start or one.start - APART > other.end for other in stops):
            stops.append(one)
    stops.sort(key=lambda one: one.start)
    found: list[Stay] = []
    at = begins
    for stop in stops:
        found += [Stay(at, stop.start, "service"), stop]
        at = stop.end
        if random.random() < FAILED_STARTS:
            found.append(Stay(at, at, "startfail", "did not fire"))
    found.append(Stay(at, ends, "service"))
    return tuple(found)


def _drawn(spec: Spec, random: np.random.Generator, begins: int, ends: int) -> Iterator[Stay]:
    for kind, every in PATTERNS[spec.duty].items():
        if not every:
            continue
        at = begins + 5 * DAY
        while True:
            spread = random.exponential(every) if kind in ("forced", "reserve") else every * random.uniform(0.85, 1.15)
            at += round(spread * 3600) * SECOND
            middle, scatter = LENGTHS[kind]
            long = max(round(middle * float(np.exp(scatter * random.standard_normal())) * 3600), 1500) * SECOND
            if at + long > ends - 2 * DAY:
                break
            why = str(random.choice(FORCED)) if kind == "forced" else kind
            yield Stay(at, at + long, kind, why)
            at += long


def running(time: Times, table: Iterable[Stay]) -> Array:
    """Return 1.0 where the engine is in service. (n,)"""
    edges = np.array([(one.start, one.end) for one in table if one.state == "service"], dtype=np.int64)
    inside = np.searchsorted(edges[:, 0], time, side="right") - np.searchsorted(edges[:, 1], time, side="right")
    return (inside > 0).astype(float)


def load(spec: Spec, seed: int, time: Times) -> tuple[Array, Array]:
    """Return share of rated power while running, and the standard deviation of its swing within a step. (n,), (n,)"""
    random = stream(seed, spec.tag, "load")
    n = len(time)
    hour = (time / HOUR + spec.site.offset_hours) % 24
    day = time / DAY
    slow = wander(random, n, 6 * 144, 0.025) + wander(random, n, 18, 0.012)
    swing = np.full(n, 0.003)
    if spec.duty == "compressor":
        share = spec.load + slow + 0.02 * np.cos(2 * np.pi * (day - 20) / 365.25)
        plan = np.repeat(random.choice([0.0, 0.0, 0.0, -0.07, -0.14], size=n // 1008 + 1), 1008)[:n]
        share = share + plan  # a week's nomination
    elif spec.duty == "island":
        crusher = _between(hour, 17.0, 21.5) * (np.floor(day + spec.site.offset_hours / 24) % 7 < 5)
        share = spec.load - 0.10 + 0.09 * np.sin(2 * np.pi * (hour - 9) / 24) + slow
        share = share + crusher * (0.07 + 0.05 * random.standard_normal(n))
        swing = swing + 0.045 * crusher
    elif spec.duty == "base":
        share = spec.load + slow + 0.03 * np.sin(2 * np.pi * (hour - 10) / 24)
    else:
        low_gas = np.clip(wander(random, n, 10 * 144, 0.07), -0.25, 0.0)
        share = np.minimum(spec.load + low_gas + 0.3 * slow, spec.load + 0.02)
    return np.clip(share, 0.35, 1.06), swing


def _between(hour: Array, low: float, high: float) -> Array:
    return ((hour >= low) & (hour < high)).astype(float)
