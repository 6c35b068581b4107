"""Which entry shows which cylinder: entries counted backwards, shifted by one, or two of them exchanged.

Entries and cylinders of one strip are numbered 0 to n - 1 in the order in which they should agree. An arrangement says
which cylinder each entry shows. What speaks for one: that the pattern shown fits the engine's usual pattern when the
entries are put back so (each deviation with its spread, heavy tails, the common level free), and witnesses: a cylinder
that was made or found odd by another road, and the entry that answered. How likely each is before anything is seen is
engineering judgement and can be set.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from types import MappingProxyType
from typing import Literal

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array

Kind = Literal["as_is", "reversed", "shifted", "swapped"]
BEFORE: Mapping[Kind, float] = MappingProxyType({"as_is": 0.90, "reversed": 0.04, "shifted": 0.02, "swapped": 0.04})
"""Before anything is seen; each kind shares its part among its arrangements. Engineering judgement."""
SURE = 0.95
"""From here an order is named; below it cannot be told. Engineering judgement."""
TAIL = 4.0
"""Degrees of freedom of Student's t: one sensor may have drifted without deciding the order."""
LONG = 6
"""Cylinders in line from which a row may have two strips."""
ANSWERS = 0.98
"""That the entry which answers is that of the cylinder which was touched. Engineering judgement."""


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Which cylinder each entry shows."""

    kind: Kind
    cylinder_of: tuple[int, ...]
    says: str


@dataclass(frozen=True, slots=True)
class Witness:
    """By another road than the temperatures a cylinder was known, and an entry answered (or one that should did not).

    A cylinder cut out, its plug lead lifted by the documented method, a probe warmed, a port that a hand thermometer
    found cold.
    """

    cylinder: int
    entry: int
    answered: bool = True
    """False: the entry did not move although this cylinder, or its thermocouple, was changed."""
    trust: float = ANSWERS

    def likelihood(self, arrangement: Arrangement) -> float:
        """Return how likely the answer is if an arrangement holds."""
        hit = arrangement.cylinder_of[self.entry] == self.cylinder
        others = max(len(arrangement.cylinder_of) - 1, 1)
        answers = self.trust if hit else (1 - self.trust) / others
        return answers if self.answered else 1 - answers


@dataclass(frozen=True, slots=True)
class OrderVerdict:
    """How probable each arrangement is, best first, and whether one can be named."""

    verdict: Kind | Literal["cannot_be_told"]
    probability: float
    """Of the best arrangement."""
    arrangements: tuple[tuple[Arrangement, float], ...]

    @property
    def best(self) -> Arrangement:
        """The most probable arrangement."""
        return self.arrangements[0][0]

    def of_kind(self, kind: Kind) -> float:
        """Return the probability of all arrangements of a kind."""
        return sum(chance for one, chance in self.arrangements if one.kind == kind)

    @property
    def says(self) -> str:
        """The verdict in words; where nothing can be named, what it may be."""
        if self.verdict != "cannot_be_told":
            return self.best.says
        listed = [f"{one.says} ({100 * chance:.0f} %)" for one, chance in self.arrangements[:3] if chance > 0.02]
        return "cannot be told: " + "; or ".join(listed)


def arrangements(
    count: int, *, called: Callable[[int], str] | None = None, strips: Sequence[tuple[int, int]] | None = None
) -> tuple[Arrangement, ...]:
    """Return all arrangements that are thought of for a strip or a row of strips, each map once.

    Parameters
    ----------
    count : int
        Entries that carry a cylinder.
    called : function, optional
        Gives the name of the cylinder for an index; 1, 2, 3 when left out.
    strips : sequence of (first, length), optional
        Parts that may be turned or shifted by themselves; one strip with all entries when left out.
    """
    if not 2 <= count <= 24:
        raise InputError("entries", str(count), "are no strip with an order", allowed="2 to 24")
    name = called or (lambda i: str(i + 1))
    as_is = tuple(range(count))
    found = [Arrangement("as_is", as_is, "each entry shows its own cylinder")]
    for first, length in strips or ((0, count),):
        part = as_is[first : first + length]
        of = "the entries" if length == count else f"the entries of {name(part[0])} to {name(part[-1])}"

        def put(inside: tuple[int, ...], at: int = first) -> tuple[int, ...]:
            return as_is[:at] + inside + as_is[at + len(inside) :]

        shows = f"the entry of {name(part[0])} shows {name(part[-1])}"
        found.append(Arrangement("reversed", put(part[::-1]), f"{of} count backwards: {shows}"))
        for moved in (part[1:] + part[:1], part[-1:] + part[:-1]):
            shows = f"the entry of {name(part[1])} shows {name(moved[1])}"
            found.append(Arrangement("shifted", put(moved), f"{of} are shifted: {shows}"))
    for one, other in combinations(as_is, 2):
        swapped = list(as_is)
        swapped[one], swapped[other] = other, one
        says = f"the entries of {name(one)} and {name(other)} are exchanged"
        found.append(Arrangement("swapped", tuple(swapped), says))
    each_once: dict[tuple[int, ...], Arrangement] = {}
    for arrangement in found:
        each_once.setdefault(arrangement.cylinder_of, arrangement)
    return tuple(each_once.values())


def likely_strips(count: int, rows: int) -> tuple[tuple[int, int], ...]:
    """Return parts of a row that may be one strip: all of it, and its halves where it is long and stands alone.

    A strip serves one row; a long row in line has two, cut in the middle or beside it (common practice, no source).

    >>> likely_strips(9, 1)
    ((0, 9), (0, 5), (5, 4), (0, 4), (4, 5))
    """
    whole = ((0, count),)
    if rows > 1 or count < LONG:
        return whole
    cuts = dict.fromkeys((-(-count // 2), count // 2))
    return whole + tuple(part for cut in cuts for part in ((0, cut), (cut, count - cut)))


def judge_order(
    shown: Sequence[float] | Array,
    usual: Sequence[float] | Array | None,
    spread: float | Sequence[float] | Array,
    *,
    witnesses: Sequence[Witness] = (),
    before: Mapping[Kind, float] = BEFORE,
    called: Callable[[int], str] | None = None,
    strips: Sequence[tuple[int, int]] | None = None,
) -> OrderVerdict:
    """Return how probable each arrangement of the entries is.

    Parameters
    ----------
    shown : sequence of float
        What each entry shows; nan where it shows nothing. [K]
    usual : sequence of float or None
        What each cylinder usually shows, of this engine at like load; None where nobody knows. [K]
    spread : float or sequence of float
        Standard deviation of the difference between two snapshots of a sound engine, of each entry. [K]
    witnesses : sequence of Witness
        Each independent of the others.
    before : mapping
        Probability of each kind before anything is seen.
    called, strips
        As in `arrangements`.
    """
    listed = arrangements(len(shown), called=called, strips=strips)
    size = {kind: sum(one.kind == kind for one in listed) for kind in before}
    weights = np.array(
        [
            math.log(before[one.kind] / size[one.kind]) + sum(math.log(w.likelihood(one)) for w in witnesses)
            for one in listed
        ]
    )
    if usual is not None:
        weights += _fit(np.asarray(shown, dtype=float), np.asarray(usual, dtype=float), spread, listed)
    chances = np.exp(weights - weights.max())
    chances /= chances.sum()
    ordered = sorted(zip(listed, chances.tolist(), strict=True), key=lambda pair: -pair[1])
    best, chance = ordered[0]
    return OrderVerdict(best.kind if chance >= SURE else "cannot_be_told", chance, tuple(ordered))


def _fit(
    shown: Array, usual: Array, spread: float | Sequence[float] | Array, listed: Sequence[Arrangement]
) -> Array:  # fmt: skip
    """Return the logarithm of the likelihood of what is shown, under each arrangement."""
    if usual.shape != shown.shape:
        raise InputError("usual", str(usual.size), "values do not match the entries", allowed=str(shown.size))
    doubt = np.broadcast_to(np.asarray(spread, dtype=float), shown.shape)
    if not np.all(doubt > 0):
        raise InputError("spread", str(spread), "is no spread", allowed="above 0 K")
    expected = usual[np.array([one.cylinder_of for one in listed])]  # (arrangements, entries)
    apart = shown - expected
    told = np.isfinite(apart).any(axis=1)  # an arrangement under which nothing can be compared has no level
    level = np.full((len(listed), 1), np.nan)
    level[told] = np.nanmedian(apart[told], axis=1, keepdims=True)
    terms = -(TAIL + 1) / 2 * np.log1p(((apart - level) / doubt) ** 2 / TAIL)
    found: Array = np.nansum(terms, axis=1)
    return found
