"""The rows of an engine's log made ready for a look: quick stretches apart, faulty spans out, blocks of steady rows."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from asfound.history.channels import SECOND, Channels, Times
from asfound.history.resample import resample
from asfound.history.sensor_fault import RUNNING, Fault, Mask, running_of, settled
from asfound.history.steady import steady
from asfound.history.store import Store
from asfound.history.timeline import run_hours
from asfound.history.watched import POWER
from asfound.quantities.typing import Array

Places = npt.NDArray[np.int64]
MOST_ROWS = 1_000_000
"""A longer log is looked at by means of ten minutes."""
SLOW = 600 * SECOND
QUICK = 10.0
"""Rows this many seconds apart or closer are a quick stretch beside a slow log. [s]"""
FEWEST_QUICK = 300
BLOCK = 3 * 3600 * SECOND
FEWEST_OF_SWING = 12
"""Rows of a block that tell how far a signal swings."""
SWINGS = 2.0
"""A block counts where the load swings so many times as far as in the middle of all blocks. [1]"""
LEAST_SHARE = 0.05
"""Below this share of steady rows all warm rows count."""
LEFT_OUT = ("stuck", "spike", "unit_change", "gauge_absolute")
"""Faults whose span says nothing of the engine."""
RUN_WORDS = ("run", "running", "status", "zustand", "xs-run", "state", "on")
"""Heads of raw columns that may say whether the engine runs; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """What a look works on."""

    slow: Channels
    """By time, without quick stretches; running as `RUNNING`."""
    quick: tuple[Channels, ...]
    running: Mask
    counts: Mask
    """Steady and warm."""
    hours: Array
    """Run hours since the first row."""
    power: str
    """Channel of the load; empty where there is none."""
    step: float
    """Usual seconds between rows."""
    notes: tuple[str, ...]


def rows_of(store: Store, engine: str, end: int) -> Rows:
    """Return the rows of an engine up to ``end``, made ready."""
    notes: list[str] = []
    total = sum(part.rows for one in store.manifests(engine, None, end) for part in one.rows)
    words = tuple(name for name in store.texts(engine) if _of_running(name))
    if total > MOST_ROWS:
        log = _by_means(store, engine, end)
        notes.append(f"{total:,} rows: looked at by means of ten minutes.")
    else:
        log = store.read(engine, None, None, end, texts=words)
    log = with_running(log)
    slow, quick = apart(log)
    running = running_of(slow)
    power = next((one for one in POWER if one in slow.values and np.isfinite(slow.values[one]).any()), "")
    counts = settled(slow.time, running)
    if power and len(slow) > 1:
        load = np.where(np.isfinite(slow.values[power]), slow.values[power], np.nan)
        found = steady(slow.time, running, load, slow.values.get("engine_speed@engine")).counts & counts
        if found.sum() >= LEAST_SHARE * max(int(running.sum()), 1):
            counts = found
        else:
            notes.append("Load or speed hardly ever keep still: all warm rows count, so intervals are wide.")
    elif not power:
        notes.append("No load is logged: what moves with it cannot be told from drift.")
    hours = run_hours(slow.time, running) if len(slow) else np.zeros(0)
    step = float(np.median(np.diff(slow.time))) * 1e-6 if len(slow) > 1 else math.nan
    return Rows(
        slow=slow, quick=quick, running=running, counts=counts, hours=hours, power=power, step=step, notes=tuple(notes)
    )


def _of_running(name: str) -> bool:
    head = name.removeprefix("text:").removeprefix("raw:").rpartition("@")[0].casefold()
    return head in RUN_WORDS or "run" in head.split("_")


RUNS = {"1", "run", "running", "on", "ein", "marche", "true", "yes"}
STANDS = {"0", "stop", "stopped", "off", "aus", "arret", "false", "no"}
"""Words of a run column; common practice, no source."""


def with_running(log: Channels) -> Channels:
    """Return the log with `RUNNING` from all columns that say so; from the speed where none does."""
    said = [log.values[RUNNING]] if RUNNING in log.values else []
    for name, text in log.texts.items():
        words = [word.strip().casefold() for word in text.words]
        if _of_running(name) and words and set(words) <= RUNS | STANDS:
            table = np.array([*(1.0 if word in RUNS else 0.0 for word in words), np.nan])
            said.append(table[text.codes])
    for name, values in log.values.items():
        if name.startswith("raw:") and name != RUNNING and _of_running(name):
            known = values[np.isfinite(values)]
            if np.isin(known, (0.0, 1.0)).all():
                said.append(values)
    if not said:
        return replace(log, texts={})
    running = np.full(len(log), np.nan)
    for one in said:
        running = np.where(np.isnan(running), one, running)
    speed = log.values.get("engine_speed@engine")
    if speed is not None and np.isfinite(speed).any():
        by_speed = np.where(np.isfinite(speed), (speed > 0.5 * np.nanpercentile(speed, 90)).astype(float), np.nan)
        running = np.where(np.isnan(running), by_speed, running)
    return replace(log, values={**log.values, RUNNING: running}, texts={})


def _by_means(store: Store, engine: str, end: int) -> Channels:
    span = store.span(engine)
    assert span is not None
    found = resample(store, engine, store.channels(engine), span[0], min(span[1] + 1, end), SLOW)
    there = np.any([np.isfinite(values) for values in found.values.values()], axis=0)
    return found.take(there)


def apart(log: Channels) -> tuple[Channels, tuple[Channels, ...]]:
    """Return the slow log, and the quick stretches recorded beside it (or, of a quick log, its last hours)."""
    if len(log) < FEWEST_QUICK:
        return log, ()
    step = np.diff(log.time) / SECOND
    usual = float(np.median(step))
    close = np.concatenate([step <= QUICK, [False]]) | np.concatenate([[False], step <= QUICK])
    edges = np.flatnonzero(np.diff(np.concatenate([[False], close, [False]]).astype(np.int8))).reshape(-1, 2)
    stretches = [log.take(np.arange(low, high)) for low, high in edges if high - low >= FEWEST_QUICK]
    if usual <= QUICK:
        return log, tuple(stretches[-3:])
    if not stretches:
        return log, ()
    inside = np.zeros(len(log), dtype=bool)
    for low, high in edges:
        if high - low >= FEWEST_QUICK:
            inside[low:high] = True
    return log.take(~inside), tuple(stretches)


def without(log: Channels, faults: Iterable[Fault]) -> dict[str, Array]:
    """Return the channels with nan where a fault of the sensor or its units says nothing of the engine."""
    found: dict[str, Array] = dict(log.values)
    for one in faults:
        if one.kind in LEFT_OUT and one.channel in found:
            low, high = np.searchsorted(log.time, [one.start, one.end + 1])
            if found[one.channel] is log.values[one.channel]:
                found[one.channel] = found[one.channel].copy()
            found[one.channel][low:high] = np.nan
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Blocks:
    """Means of three hours of the rows that count."""

    time: Array
    """Seconds. (m,)"""
    hours: Array
    """Run hours since the first row. (m,)"""
    counts: Mask
    effects: Mapping[str, Array]
    running_share: float
    """Of the last 90 days."""
    running_scatter: float = 0.0
    """Standard deviation of that share from one such 30 days to the next."""


def blocks_of(rows: Rows, values: Mapping[str, Array], rated_power: float, rated_speed: float) -> Blocks:
    """Return the blocks with what moves signals: load as a share, ambient in K, speed as a share."""
    log = rows.slow
    first = starts_of(rows) if len(log) else np.zeros(0, np.int64)
    if not first.size:
        return Blocks(time=np.zeros(0), hours=np.zeros(0), counts=np.zeros(0, bool), effects={}, running_share=0.0)
    number = np.add.reduceat(rows.counts.astype(float), first)
    late = log.time >= log.time[-1] - 90 * 86_400 * SECOND
    effects = {}
    for name, channel, rated in (
        ("load", rows.power, rated_power), ("ambient", "ambient_temperature@site", 1.0),
        ("speed", "engine_speed@engine", rated_speed),
    ):  # fmt: skip
        if channel not in values:
            continue
        column = values[channel]
        good = column[rows.counts & np.isfinite(column)]
        if not good.size:
            continue
        by = rated if math.isfinite(rated) and rated > 0 else float(np.quantile(np.abs(good), 0.98)) or 1.0
        mean = block_mean(column / by, rows.counts, first)
        if name == "speed" and np.nanstd(mean) < 0.002:
            continue  # held by its governor: says nothing, and what is left of it is noise
        effects[name] = mean
    damp = moisture(values)
    if damp is not None:
        effects["moisture"] = block_mean(damp, rows.counts, first)
    return Blocks(
        time=np.add.reduceat(log.time * 1e-6, first) / np.diff(np.append(first, len(log))),
        hours=rows.hours[first], counts=number >= 3, effects=effects,
        running_share=float(rows.running[late].mean()) if late.any() else 0.0,
        running_scatter=_scatter(log.time, rows.running),
    )  # fmt: skip


def _scatter(time: Times, running: Mask) -> float:
    """Return the standard deviation of the share of running over stretches of 30 days; 0 with fewer than three."""
    month = (time - time[0]) // (30 * 86_400 * SECOND)
    full = np.bincount(month) >= 30
    shares = (np.bincount(month, weights=running.astype(float)) / np.maximum(np.bincount(month), 1))[full]
    return float(np.std(shares, ddof=1)) if len(shares) >= 3 else 0.0


def swing(values: Array, over: Array, running: Mask, first: Places) -> Array:
    """Return how far a signal swings for the swing of another, by block; nan where the other hardly swings. (m,)

    Both swings are standard deviations of the rows of a block. Only blocks count in which the other swings twice as far
    as usual: what is left of a signal beside a calm load is its own noise.
    """
    both = running & np.isfinite(values) & np.isfinite(over)
    number = np.add.reduceat(both.astype(float), first)

    def deviation(of: Array) -> Array:
        kept = np.where(both, of, 0.0)
        with np.errstate(all="ignore"):
            mean = np.add.reduceat(kept, first) / number
            apart = np.where(both, of - np.repeat(mean, np.diff(np.append(first, len(of)))), 0.0)
            return np.asarray(np.sqrt(np.add.reduceat(apart**2, first) / (number - 1.0)))

    mine, others = deviation(values), deviation(over)
    enough = (number >= FEWEST_OF_SWING) & (others > 0.0)
    usual = float(np.median(others[enough])) if enough.any() else math.nan
    with np.errstate(all="ignore"):
        return np.where(enough & (others >= SWINGS * usual) & (mine > 0.0), mine / others, np.nan)


def moisture(values: Mapping[str, Array]) -> Array | None:
    """Return water in the air in kg per kg of dry air, by the Magnus formula (WMO-No. 8, constants from memory)."""
    names = ("ambient_temperature@site", "relative_humidity@site", "barometric_pressure@site")
    if any(name not in values for name in names):
        return None
    warm, humid, pressure = (values[name] for name in names)
    celsius = warm - 273.15
    vapour = humid * 611.2 * np.exp(17.62 * celsius / (243.12 + celsius))
    found: Array = 0.622 * vapour / np.where(pressure > vapour, pressure - vapour, np.nan)
    return found


def block_mean(column: Array, use: Mask, first: Places) -> Array:
    """Return means by block of the rows in use; nan for a block with fewer than three."""
    good = use & np.isfinite(column)
    count = np.add.reduceat(good.astype(float), first)
    total = np.add.reduceat(np.where(good, column, 0.0), first)
    found: Array = np.divide(total, count, out=np.full(len(first), np.nan), where=count >= 3)
    return found


def starts_of(rows: Rows) -> Places:
    """Return the first row of each block."""
    of = rows.slow.time // BLOCK
    return np.flatnonzero(np.concatenate([[True], of[1:] != of[:-1]])).astype(np.int64)
