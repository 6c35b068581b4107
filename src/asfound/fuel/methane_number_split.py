"""Step (c) of EN 16726 annex A: share the gas among the chosen diagrams until all show one methane number.

More shares are free than there are equations, so that a search at random answers differently each time (1 to 2.5 for a
natural gas). The rule here is our own and has one answer: start with each gas shared in proportion to its start
weights, and of all equal splits take the one with the smallest sum of squared shifts in volume per cent. It is found by
Newton's method on the equations, each step with the smallest total shift; splits that would go below zero or leave a
diagram's limits are held at the limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from asfound.fuel.arranged import Flags, Numbers
from asfound.fuel.methane_number_tables import Diagram, diagrams
from asfound.quantities.typing import Array

STEPS = 60
EQUAL = 1e-5  # methane numbers nearer than this are one
SOFT = 1e-13  # keeps equations solvable that say the same twice
GIVE, LAST_BARRIER = 1e-7, 1e-7  # how far equations give way; how far from a bound the interior points stay
MOST_SHIFT = 10.0  # volume per cent in one step


@dataclass(frozen=True, slots=True, eq=False)
class _Layout:
    """The variables of one choice of diagrams: how much of a gas goes to a diagram."""

    parts: tuple[Diagram, ...]
    places: tuple[tuple[int, ...], ...]
    """Variables of each diagram."""
    axes: tuple[tuple[int, ...], ...]
    """Axis (0 x, 1 y, 2 z) of each of them."""
    gas: Numbers
    """Gas of each variable, counted among those present."""
    start: Array
    """Share of the gas that the variable starts with."""
    free: Array
    """Orthonormal columns: the shifts that keep the sum of each gas. [variable, free]"""
    bounds: Array
    """Rows whose product with the variables must not be negative. [bound, variable]"""


@cache
def _layout(chosen: tuple[int, ...], present: tuple[int, ...]) -> _Layout:
    parts = tuple(diagrams()[at] for at in chosen)
    gas: list[int] = []
    weight: list[float] = []
    places, axes = [], []
    for part in parts:
        inside = [axis for axis, member in enumerate(part.members) if member in present]
        places.append(tuple(range(len(gas), len(gas) + len(inside))))
        axes.append(tuple(inside))
        gas += [present.index(part.members[axis]) for axis in inside]
        weight += [part.weights[axis] for axis in inside]
    of = np.array(gas)
    sums = (of == np.arange(len(present))[:, None]).astype(float)
    start = np.array(weight) / (sums @ np.array(weight))[of]
    rank = len(present)
    free = np.linalg.svd(sums)[2][rank:].T
    return _Layout(parts, tuple(places), tuple(axes), of, start, free, _bounds(parts, places, axes, of.size))


def _bounds(parts: tuple[Diagram, ...], places: list[tuple[int, ...]], axes: list[tuple[int, ...]], size: int) -> Array:
    rows = list(np.eye(size))
    for part, place, axis in zip(parts, places, axes, strict=True):
        for at, one in zip(place, axis, strict=True):
            least, most = part.limits[one]
            for limit, sign in ((least, 1.0), (most, -1.0)):
                if 0 < limit < 100:
                    row = np.zeros(size)
                    row[list(place)] = -sign * limit / 100
                    row[at] += sign
                    rows.append(row)
    return np.array(rows)


def equal_split(chosen: tuple[int, ...], present: tuple[int, ...], amounts: Array) -> tuple[Array, Array]:
    """Return the common methane number of gases that share one choice of diagrams.

    Parameters
    ----------
    chosen : tuple of int
        Numbers of the diagrams in `diagrams`.
    present : tuple of int
        Numbers in `GASES`; each is a member of at least one chosen diagram.
    amounts : array [gas sample, present]
        Volume per cent.

    Returns
    -------
    tuple of array
        Mean of the diagrams weighted with their share of the gas, and the largest difference between two of them that
        no split within the limits removes.
    """
    layout = _layout(chosen, present)
    first = amounts[:, layout.gas] * layout.start
    split = _newton(layout, first)
    number, apart = _mean(layout, split)
    with np.errstate(invalid="ignore"):
        wrong = np.flatnonzero(~((apart < EQUAL) & (split @ layout.bounds.T >= -1e-9).all(1)))
    if wrong.size and layout.free.size and len(layout.parts) > 1:
        number[wrong], apart[wrong] = _mean(layout, _interior(layout, first[wrong]))
    return number, apart


def _mean(layout: _Layout, split: Array) -> tuple[Array, Array]:
    numbers, _ = _numbers(layout, split, slopes=False)
    shares = np.stack([split[:, list(place)].sum(1) for place in layout.places], axis=1)
    mean: Array = (numbers * shares).sum(1) / shares.sum(1)
    return mean, np.ptp(numbers, axis=1)


def _numbers(layout: _Layout, split: Array, *, slopes: bool = True) -> tuple[Array, Array]:
    """Return the methane number of each diagram, and its derivatives by the variables. [sample, diagram, variable]"""
    count = len(layout.parts)
    numbers = np.empty((len(split), count))
    slope = np.zeros((len(split), count, split.shape[1])) if slopes else np.empty(0)
    for row, (part, place, axis) in enumerate(zip(layout.parts, layout.places, layout.axes, strict=True)):
        whole = split[:, list(place)].sum(1)
        scale = 100 / whole
        percent = [np.zeros(len(split))] * 3
        for at, one in zip(place, axis, strict=True):
            percent[one] = split[:, at] * scale
        numbers[:, row], by_x, by_y = part.number(percent[0], percent[1])
        if slopes:
            common = (by_x * percent[0] + by_y * percent[1]) / 100
            for at, one in zip(place, axis, strict=True):
                own = (by_x, by_y, 0.0)[one]
                slope[:, row, at] = scale * (own - common)
    return numbers, slope


def _newton(layout: _Layout, first: Array) -> Array:
    """Return the split with equal numbers that is nearest to the first one, where no bound is in the way."""
    split, shift = first.copy(), np.zeros((len(first), layout.free.shape[1]))
    if len(layout.parts) < 2 or not layout.free.size:
        return split
    going = np.arange(len(first))
    with np.errstate(all="ignore"):
        for _ in range(STEPS):
            gap, tilt = _equations(layout, split[going])
            wanted = np.einsum("skf,sf->sk", tilt, shift[going]) - gap
            square = np.einsum("skf,slf->skl", tilt, tilt)
            size = np.trace(square, axis1=1, axis2=2)[:, None, None] + 1e-9
            force = np.linalg.solve(square + SOFT * size * np.eye(square.shape[1]), wanted[..., None])[..., 0]
            step = np.einsum("skf,sk->sf", tilt, force) - shift[going]
            move = step @ layout.free.T
            length = np.minimum(1.0, np.where(move < 0, -0.9 * split[going] / move, np.inf).min(axis=1))
            shift[going] += length[:, None] * step
            split[going] = first[going] + shift[going] @ layout.free.T
            still = (np.abs(step).max(axis=1) > 1e-9) & (length > 1e-3)
            going = going[still]
            if not going.size:
                break
    return split


def _equations(layout: _Layout, split: Array) -> tuple[Array, Array]:
    """Return the differences of neighbouring diagrams, and their derivatives by the free shifts."""
    numbers, slope = _numbers(layout, split)
    return np.diff(numbers, axis=1), np.einsum("skv,vf->skf", np.diff(slope, axis=1), layout.free)


def _interior(layout: _Layout, first: Array) -> Array:
    """Return the split with equal numbers that is nearest to the first one, within the bounds.

    A primal-dual interior-point method; the equations may give way by a hair, so that a gas without an equal split
    gets the most equal one.
    """
    free, equations = layout.free.shape[1], len(layout.parts) - 1
    bounds = layout.bounds @ layout.free
    answer, going = first.copy(), np.arange(len(first))
    at = _Interior.begin(len(first), free, equations, first @ layout.bounds.T)
    with np.errstate(all="ignore"):
        for _ in range(STEPS):
            split = np.maximum(first[going] + at.shift @ layout.free.T, 1e-12)
            step = at.step(bounds, *_equations(layout, split))
            done = (at.barrier <= LAST_BARRIER) & (step < 1e-5)
            answer[going[done]] = np.maximum(first[going[done]] + at.shift[done] @ layout.free.T, 0.0)
            going = going[~done]
            if not going.size:
                return answer
            at.keep(~done)
    answer[going] = np.maximum(first[going] + at.shift @ layout.free.T, 0.0)
    return answer


@dataclass(slots=True, eq=False)
class _Interior:
    """Where the interior-point method stands, one row for each sample."""

    height: Array
    """Distance of the first split from each bound."""
    shift: Array
    pull: Array
    """Multipliers of the equations."""
    room: Array
    """Distance from each bound, never zero."""
    force: Array
    """Multipliers of the bounds."""
    barrier: Array

    @classmethod
    def begin(cls, samples: int, free: int, equations: int, height: Array) -> _Interior:
        one = np.ones(height.shape)
        zero = np.zeros((samples, free))
        return cls(height, zero, np.zeros((samples, equations)), np.maximum(height, 0.1), one, np.ones(samples))

    def keep(self, rows: Flags) -> None:
        """Leave the other samples out."""
        for name in self.__slots__:
            setattr(self, name, getattr(self, name)[rows])

    def step(self, bounds: Array, gap: Array, tilt: Array) -> Array:
        """Take one step and return its largest shift."""
        free, size = bounds.shape[1], bounds.shape[1] + gap.shape[1]
        short = self.height + self.shift @ bounds.T - self.room
        stiff = self.force / self.room
        kkt = np.zeros((len(gap), size, size))
        kkt[:, :free, :free] = np.eye(free) + np.einsum("sb,bf,bg->sfg", stiff, bounds, bounds, optimize=True)
        kkt[:, free:, :free], kkt[:, :free, free:] = tilt, -np.swapaxes(tilt, 1, 2)
        kkt[:, free:, free:] = GIVE * np.eye(size - free)
        target = self.barrier[:, None] / self.room - stiff * short
        right = np.concatenate([target @ bounds - self.shift, -GIVE * self.pull - gap], axis=1)
        right[:, :free] += np.einsum("skf,sk->sf", tilt, self.pull)
        step = np.linalg.solve(kkt, right[..., None])[..., 0]
        to_room = step[:, :free] @ bounds.T + short
        to_force = (self.barrier[:, None] - self.force * to_room) / self.room - self.force
        largest: Array = np.abs(step[:, :free]).max(axis=1)
        ahead = np.minimum(_length(self.room, to_room), _length(self.force, to_force))
        ahead *= np.minimum(1.0, MOST_SHIFT / largest)
        self.shift = self.shift + ahead[:, None] * step[:, :free]
        self.pull = self.pull + ahead[:, None] * step[:, free:]
        self.room = np.maximum(self.room + ahead[:, None] * to_room, 1e-10)
        self.force = np.maximum(self.force + ahead[:, None] * to_force, 1e-10)
        average = (self.room * self.force).mean(axis=1)
        self.barrier = np.maximum(np.where(ahead > 0.5, 0.1, 0.7) * average, LAST_BARRIER)
        return largest


def _length(of: Array, step: Array) -> Array:
    """Return how far a step may go before something positive is no longer so."""
    answer: Array = np.minimum(1.0, np.where(step < 0, -0.99 * of / step, np.inf).min(axis=1))
    return answer
