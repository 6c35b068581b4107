"""Changes of unit in a whole log, in bounded memory: a sample over all of it, then the rows around each step."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from asfound.history.channels import Times
from asfound.history.mapping import ColumnIs
from asfound.history.reading import Part
from asfound.history.unit_changes import UnitChange, unit_changes
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.typing import Array

MOST_ROWS = 60_000
_RUNNING = ("engine_power", "generator_power", "engine_speed", "engine_load")

Parts = Callable[[], Iterator[Part]]


def changes_in_file(
    parts: Parts, columns: Sequence[ColumnIs], *, barometer: float = ATMOSPHERE
) -> dict[str, tuple[UnitChange, ...]]:
    """Return the changes of unit by head.

    Parameters
    ----------
    parts : callable
        Gives the rows of the file from its beginning, each time it is called.
    columns : sequence of ColumnIs
        What the columns are in their first unit.
    """
    asked = [one for one in columns if one.quantity and one.unit]
    if not asked:
        return {}
    time, values, stride = _sampled(parts, [one.head for one in asked])
    if len(time) < 100:
        return {}
    running = _running(asked, values)
    found: dict[str, tuple[UnitChange, ...]] = {}
    for one in asked:
        changes = unit_changes(time, values[one.head], one, running=running, barometer=barometer)
        if changes:
            found[one.head] = changes
    if stride > 1 and found:
        return _to_the_row(parts, found, time)
    return found


def _sampled(parts: Parts, heads: Sequence[str]) -> tuple[Times, dict[str, Array], int]:
    """Return times and values of every n-th row, n doubled whenever too many have come."""
    times: list[Times] = []
    columns: dict[str, list[Array]] = {head: [] for head in heads}
    stride, seen, held = 1, 0, 0
    for part in parts():
        rows = np.arange((-seen) % stride, len(part.time), stride)
        seen += len(part.time)
        times.append(part.time[rows])
        for head in heads:
            column = part.values.get(head)
            columns[head].append(np.full(len(rows), np.nan) if column is None else column[rows])
        held += len(rows)
        while held > 2 * MOST_ROWS:
            whole = np.concatenate(times)[::2]
            times, held, stride = [whole], len(whole), 2 * stride
            for head in heads:
                columns[head] = [np.concatenate(columns[head])[::2]]
    if not times:
        return np.empty(0, np.int64), {head: np.empty(0) for head in heads}, 1
    time = np.concatenate(times)
    order = np.argsort(time, kind="stable")
    return time[order], {head: np.concatenate(several)[order] for head, several in columns.items()}, stride


def _running(columns: Sequence[ColumnIs], values: dict[str, Array]) -> Array | None:
    """Return where the engine runs by the first column that tells; None where none does."""
    for name in _RUNNING:
        one = next((column for column in columns if column.quantity == name), None)
        if one is not None:
            column = values[one.head]
            high = float(np.nanquantile(column, 0.95)) if np.isfinite(column).any() else 0.0
            if high > 0:
                return np.asarray(np.nan_to_num(column) > 0.1 * high, np.float64)
    return None


def _to_the_row(
    parts: Parts, found: dict[str, tuple[UnitChange, ...]], time: Times
) -> dict[str, tuple[UnitChange, ...]]:
    """Return the changes with the time of the very row, read again around the rows between which each lies."""
    windows: dict[tuple[str, int], tuple[int, int]] = {}
    for head, several in found.items():
        for at, change in enumerate(several):
            before = max(0, int(np.searchsorted(time, change.at)) - 2)
            windows[head, at] = int(time[before]), change.at
    rows: dict[tuple[str, int], list[tuple[Times, Array]]] = {key: [] for key in windows}
    for part in parts():
        for (head, at), (low, high) in windows.items():
            inside = (part.time >= low) & (part.time <= high)
            if inside.any() and head in part.values:
                rows[head, at].append((part.time[inside], part.values[head][inside]))
    return {
        head: tuple(_moved(change, rows[head, at]) for at, change in enumerate(several))
        for head, several in found.items()
    }


def _moved(change: UnitChange, rows: list[tuple[Times, Array]]) -> UnitChange:
    if not rows:
        return change
    time, values = np.concatenate([t for t, _ in rows]), np.concatenate([v for _, v in rows])
    order = np.argsort(time, kind="stable")
    time, values = time[order], values[order]
    known = np.isfinite(values)
    time, values = time[known], values[known]
    if len(values) < 2:
        return change
    step = int(np.argmax(np.abs(np.diff(values))))
    return replace(change, at=int(time[step + 1]))
