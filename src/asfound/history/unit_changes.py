"""A unit that changes in the middle of a log: after a change of the panel psi becomes bar, °F °C, under one head.

Found where a column steps to another level at which it stays, and the step is just that from one unit of its quantity
to another: what was there before goes on in the new unit. A load that changes makes no such step: it comes back.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.errors import AmbiguousError, InputError, UnknownNameError
from asfound.history.channels import Times
from asfound.history.mapping import ColumnIs, UnitFrom, moment_text, scale_of
from asfound.quantities.constants import ATMOSPHERE
from asfound.quantities.pressure_kind import split_pressure, with_kind
from asfound.quantities.register import quantity
from asfound.quantities.typing import Array

_BLOCKS = 400
_LEAST = 40
_EDGES = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitChange:
    """A proposed change: from a row on, the column is in another unit."""

    at: int
    """Microseconds of the first row in the new unit."""
    row: int
    before: str
    unit: str
    misfit: float
    """How far the level after it lies from the level before, read in the new unit, against its own scatter."""
    why: str

    @property
    def spell(self) -> UnitFrom:
        """The change as a mapping keeps it."""
        return UnitFrom(at=self.at, unit=self.unit)


def unit_changes(
    time: Times, values: Array, column: ColumnIs, *, running: Array | None = None, barometer: float = ATMOSPHERE
) -> tuple[UnitChange, ...]:  # fmt: skip
    """Return the changes of unit of one column, in the order of time.

    Parameters
    ----------
    time, values : array, shape (n,)
        Sorted by time; values in the unit of the file.
    column : ColumnIs
        What it is taken to be, in its first unit.
    running : array, optional
        Not zero where the engine runs; a column at standstill says little of its unit.
    """
    if not column.quantity or not column.unit:
        return ()
    known = np.isfinite(values) & (np.ones(len(values), bool) if running is None else np.nan_to_num(running) > 0)
    rows = np.flatnonzero(known)
    found: list[UnitChange] = []
    unit = column.unit
    while len(rows) >= 2 * _LEAST:
        change = _next(time, values, rows, column.quantity, unit, barometer)
        if change is None:
            break
        found.append(change)
        rows, unit = rows[np.searchsorted(rows, change.row) :], change.unit
        if len(found) >= 20:
            break
    return tuple(found)


def with_changes(column: ColumnIs, changes: tuple[UnitChange, ...]) -> ColumnIs:
    """Return what a column is with its changes of unit."""
    return ColumnIs(
        head=column.head, unit=column.unit, quantity=column.quantity, place=column.place, score=column.score,
        why=(*column.why, *(change.why for change in changes)), changes=tuple(change.spell for change in changes),
    )  # fmt: skip


def _next(
    time: Times, values: Array, rows: np.ndarray, name: str, unit: str, barometer: float
) -> UnitChange | None:  # fmt: skip
    seen = values[rows]
    place = _step(seen)
    if place is None:
        return None
    before, after = seen[:place], seen[place:]
    if min(len(before), len(after)) < _LEAST:
        return None
    level, new = float(np.median(before)), float(np.median(after))
    scatter = max(_scatter(before), 1e-9 * abs(level))
    if abs(new - level) < 4 * scatter:
        return None
    best: tuple[float, str] | None = None
    for other in _units(name, unit):
        expected = _in_unit(name, unit, other, level, barometer)
        if expected is None:
            continue
        spread = max(abs((_in_unit(name, unit, other, level + scatter, barometer) or 0.0) - expected), 1e-12)
        misfit = abs(new - expected) / (spread + 0.02 * abs(expected))
        if misfit < 1.5 and abs(expected - level) > 4 * scatter and (best is None or misfit < best[0]):
            best = (misfit, other)
    if best is None or not _plausible(name, best[1], after, barometer):
        return None
    row = int(rows[place])
    why = (
        f"from {moment_text(int(time[row]))} on in {best[1]}: its level goes from {level:.4g} to {new:.4g}, "
        f"as from {unit} to {best[1]}"
    )
    return UnitChange(at=int(time[row]), row=row, before=unit, unit=best[1], misfit=best[0], why=why)


def _step(seen: Array) -> int | None:
    """Return where a column steps most for good: the split with the largest rank difference, to the row."""
    blocks = np.array_split(np.arange(len(seen)), min(_BLOCKS, max(2, len(seen) // 20)))
    medians = np.array([np.median(seen[block]) for block in blocks])
    best, at = 0.0, None
    likely = np.argsort(-np.abs(np.diff(medians)), kind="stable")[:_EDGES] + 1  # a change of unit is a large step
    for edge in sorted(likely.tolist()):
        left, right = medians[:edge], medians[edge:]
        gap = max(float(right.min() - np.quantile(left, 0.9)), float(np.quantile(left, 0.1) - right.max())) if len(
            right) < 3 else max(float(np.quantile(right, 0.1) - np.quantile(left, 0.9)),
                                float(np.quantile(left, 0.1) - np.quantile(right, 0.9)))  # fmt: skip
        jump = abs(float(medians[edge] - medians[edge - 1]))
        if gap > 0 and gap + jump > best:
            best, at = gap + jump, edge
    if at is None:
        return None
    low, high = int(blocks[max(0, at - 2)][0]), int(blocks[min(len(blocks) - 1, at + 1)][-1])
    middle = (float(np.median(medians[:at])) + float(np.median(medians[at:]))) / 2
    up = medians[at:].mean() > medians[:at].mean()
    side = (seen[low:high] > middle) == up
    wrong = np.cumsum(side) + (len(side) - np.arange(1, len(side) + 1) - (side.sum() - np.cumsum(side)))
    return low + int(np.argmin(np.concatenate(([len(side) - side.sum()], wrong))))


def _scatter(values: Array) -> float:
    return 1.4826 * float(np.median(np.abs(values - np.median(values))))


def _units(name: str, unit: str) -> list[str]:
    about = quantity(name)
    units = list(about.units)
    if about.gauge_possible:
        units = [with_kind(one, gauge=gauge) for one in units for gauge in (True, False)]
    kind = split_pressure(unit)[1]
    if kind in ("gauge", "absolute"):  # the kind of a gauge does not change with its unit; if it does, it comes last
        units.sort(key=lambda one: split_pressure(one)[1] != kind)
    return [one for one in units if one != unit]


def _in_unit(name: str, unit: str, other: str, value: float, barometer: float) -> float | None:
    try:
        (a, b), (c, d) = scale_of(name, unit, barometer), scale_of(name, other, barometer)
    except (AmbiguousError, InputError, UnknownNameError):
        return None
    return (value * a + b - d) / c


def _plausible(name: str, unit: str, values: Array, barometer: float) -> bool:
    a, b = scale_of(name, unit, barometer)
    low, high = quantity(name).plausible
    return float(np.mean((values * a + b >= low) & (values * a + b <= high))) > 0.9
