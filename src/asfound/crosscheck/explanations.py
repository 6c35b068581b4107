"""Explanations of a contradiction in words of marks: groups that cannot be told apart, sizes, what is left."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from asfound.crosscheck.critical import chi_squared_p, normal_critical, sidak
from asfound.crosscheck.marks import Mark, before_looking, matrix
from asfound.crosscheck.odds import Odds, odds
from asfound.crosscheck.parity import NOT_CHECKED, Parity
from asfound.crosscheck.reconcile import Reconciled
from asfound.crosscheck.same_mark import SAME, groups
from asfound.quantities.typing import Array

MOST_PAIRS = 400
"""Pairs whose rest is looked at, best first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """One error of a group, with the size that it would need."""

    name: str
    size: float
    """How much too high, in the mark's unit."""
    u: float
    test: float
    """Size over u. [1]"""
    in_u: float
    """Size over the uncertainty of the reading that it moves most. [1]"""
    probability: float
    """Of being in the true explanation, all explanations considered. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Explanation:
    """One error or two that would make the readings agree.

    ``suspects`` has one group for each error. The members of a group leave the same mark: the balances cannot tell them
    apart, whatever the size. The most probable member stands first.
    """

    suspects: tuple[tuple[Member, ...], ...]
    chi_squared: float
    """What is left."""
    degrees: int
    p_value: float
    largest_left: float
    """Largest test value of any other reading when this is taken out. [1]"""
    probability: float
    """Among all explanations with no more errors than this one. [1]"""
    refined: bool = False
    """Whether size and rest come from a solution of the curved balances with this error released."""

    @property
    def names(self) -> tuple[tuple[str, ...], ...]:
        """Names of each group."""
        return tuple(tuple(one.name for one in group) for group in self.suspects)

    @property
    def first(self) -> tuple[str, ...]:
        """The most probable member of each group."""
        return tuple(group[0].name for group in self.suspects)

    def solved(self, found: Reconciled) -> Explanation:
        """Return the same with sizes and rest of the curved balances solved with its first members released."""
        suspects = []
        for group, size, u in zip(self.suspects, found.sizes, found.u_sizes, strict=True):
            in_u = group[0].in_u * float(size) / group[0].size if group[0].size else 0.0
            told = replace(group[0], size=float(size), u=float(u), test=float(size / u), in_u=in_u)
            suspects.append((told, *group[1:]))
        return replace(
            self,
            suspects=tuple(suspects),
            chi_squared=found.chi_squared,
            degrees=found.degrees,
            p_value=found.p_value,
            refined=True,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Screen:
    """All marks on a parity vector, and which of them explain it."""

    parity: Parity
    marks: tuple[Mark, ...]
    effects: Array
    """Effects on the readings, shape (n, k)."""
    alpha: float
    """Of chi-squared and of the largest single test, each."""
    groups: tuple[tuple[int, ...], ...]
    odds: Odds
    _gram: Array
    _along: Array

    @classmethod
    def of(cls, parity: Parity, marks: Sequence[Mark], alpha: float, at_most: int, cosine: float = SAME) -> Screen:
        """Look at all marks; ``alpha`` is that of both tests together."""
        effects = matrix(marks, parity.readings)
        scaled = effects / parity.readings.scale[:, None]
        columns = parity.marks @ scaled
        seen = np.linalg.norm(columns, axis=0) > NOT_CHECKED * np.linalg.norm(scaled, axis=0)
        columns = np.where(seen, columns, 0.0)
        gram, along = columns.T @ columns, columns.T @ parity.vector
        alone = np.where(seen, along / np.where(seen, np.diag(gram), 1.0), 0.0)
        log_prior, spread = before_looking(marks, scaled, alone)
        size = np.array([mark.size for mark in marks])
        found = odds(parity.vector, columns, log_prior, size, spread, at_most)
        ratio = np.where(seen, along * alone, -1.0)
        same = tuple(tuple(group) for group in groups(columns, ratio, cosine))
        return cls(parity, tuple(marks), effects, sidak(alpha, 2), same, found, gram, along)

    @classmethod
    def nothing(cls, parity: Parity, marks: Sequence[Mark], alpha: float) -> Screen:
        """Return a screen without an answer: the balances have no value at the readings."""
        k = len(marks)
        nan, none = np.full(k, np.nan), np.zeros((len(parity.readings.names), k))
        unknown = Odds(nan, np.full((k, k), np.nan))
        return cls(parity, tuple(marks), none, sidak(alpha, 2), (), unknown, np.zeros((k, k)), nan)

    @property
    def critical(self) -> float:
        """Critical value of a single test among all distinct marks."""
        return normal_critical(sidak(self.alpha, len(self.groups)))

    @property
    def agrees(self) -> bool:
        """Whether nothing contradicts: all together and each alone."""
        together = float(chi_squared_p(self.parity.chi_squared, self.parity.degrees))
        return together >= self.alpha and self._largest_left(()) <= self.critical

    def named(self, names: Sequence[str]) -> tuple[Mark, ...]:
        """Return the marks of these names."""
        of_name = {mark.name: mark for mark in self.marks}
        return tuple(of_name[name] for name in names)

    def ones(self) -> list[Explanation]:
        """Return the single errors that explain everything, the most probable first."""
        leaders = np.array([group[0] for group in self.groups], dtype=int)
        left = self.parity.chi_squared - self._along[leaders] ** 2 / np.diag(self._gram)[leaders]
        passing = np.asarray(chi_squared_p(np.maximum(left, 0.0), max(self.parity.degrees - 1, 0))) >= self.alpha
        found = [(int(at),) for at in leaders[passing]]
        return self._explanations([one for one in found if self._largest_left(one) <= self.critical])

    def twos(self) -> list[Explanation]:
        """Return the pairs of errors that explain everything, the most probable first."""
        leaders = np.array([group[0] for group in self.groups])
        if len(leaders) < 2 or self.parity.degrees < 3:
            return []
        gram, along = self._gram[np.ix_(leaders, leaders)], self._along[leaders]
        squared = np.diag(gram)
        determinant = squared[:, None] * squared - gram**2
        distinct = determinant > (1 - SAME**2) * squared[:, None] * squared
        fall = along**2 * squared[:, None] + (along[:, None] ** 2) * squared - 2 * along[:, None] * along * gram
        left = self.parity.chi_squared - fall / np.where(distinct, determinant, np.inf)
        passing = np.triu(distinct & (chi_squared_p(left, self.parity.degrees - 2) >= self.alpha), 1)
        rows, columns = np.nonzero(passing)
        best = np.argsort(left[rows, columns])[:MOST_PAIRS]
        pairs = [(int(leaders[rows[at]]), int(leaders[columns[at]])) for at in best]
        return self._explanations([pair for pair in pairs if self._largest_left(pair) <= self.critical])

    def best(self, errors: int) -> Explanation:
        """Return the most probable explanation with so many errors, whether it passes or not."""
        leaders = [group[0] for group in self.groups]
        if errors == 1:
            return self._explanation((max(leaders, key=self._group_probability),))
        member = np.full(len(self.marks), -1)
        for at, group in enumerate(self.groups):
            member[list(group)] = at
        apart = (member[:, None] != member) & (member >= 0) & (member[:, None] >= 0)
        two = np.where(apart, self.odds.log_two, -np.inf)
        first, second = (int(at) for at in np.unravel_index(int(np.argmax(two)), two.shape))
        if not np.isfinite(two[first, second]):
            return self.best(1)
        return self._explanation((self.groups[member[first]][0], self.groups[member[second]][0]))

    def ranked(self, errors: int, mass: float, at_most: int) -> list[tuple[tuple[str, ...], float]]:
        """Return explanations with up to so many errors by name of their marks with their odds, the best first.

        Nobody is the empty one. As many as hold ``mass`` of their probability, ``at_most`` of them.
        """
        rows, columns = np.nonzero(np.isfinite(self.odds.log_two)) if errors > 1 else (np.zeros(0, dtype=int),) * 2
        named = [(), *((mark.name,) for mark in self.marks)]
        named += [(self.marks[row].name, self.marks[column].name) for row, column in zip(rows, columns, strict=True)]
        logs = np.concatenate([[0.0], self.odds.log_one, self.odds.log_two[rows, columns]])
        share = np.exp(logs - self.odds.log_total(errors))
        order = np.argsort(-share, kind="stable")[:at_most]
        enough = int(np.searchsorted(np.cumsum(share[order]), mass)) + 1
        return [(named[at], float(share[at])) for at in order[:enough]]

    def _group_probability(self, leader: int) -> float:
        return self.odds.among([(at,) for at in self._group(leader)], 1)

    def _group(self, leader: int) -> tuple[int, ...]:
        return next(group for group in self.groups if group[0] == leader)

    def _left(self, at: tuple[int, ...]) -> float:
        """Return chi-squared with some errors released."""
        some = list(at)
        fall = self._along[some] @ np.linalg.solve(self._gram[np.ix_(some, some)], self._along[some])
        return max(self.parity.chi_squared - float(fall), 0.0)

    def _largest_left(self, at: tuple[int, ...]) -> float:
        """Return the largest test value of what is left when some errors are released."""
        some, squared, along = list(at), np.diag(self._gram), self._along
        if some:
            pulled = np.linalg.solve(self._gram[np.ix_(some, some)], self._gram[some])
            squared = squared - np.einsum("ij,ij->j", pulled, self._gram[some])
            along = along - along[some] @ pulled
        free = squared > (1 - SAME**2) * np.diag(self._gram)
        return float(np.sqrt(np.max(along[free] ** 2 / squared[free], initial=0.0)))

    def _explanations(self, found: Sequence[tuple[int, ...]]) -> list[Explanation]:
        made = [self._explanation(at) for at in found]
        return sorted(made, key=lambda one: -one.probability)

    def _explanation(self, at: tuple[int, ...]) -> Explanation:
        """Return the explanation by the groups that these marks lead."""
        of_each = [self._group(leader) for leader in at]
        sets = list(product(*of_each))
        left, degrees = self._left(at), self.parity.degrees - len(at)
        return Explanation(
            suspects=tuple(self._members(group, [one for one in at if one not in group]) for group in of_each),
            chi_squared=left,
            degrees=degrees,
            p_value=float(chi_squared_p(left, degrees)),
            largest_left=self._largest_left(at),
            probability=self.odds.among(sets, len(at)),
        )

    def _members(self, group: tuple[int, ...], others: list[int]) -> tuple[Member, ...]:
        """Return the members of a group, the other errors of the explanation being there."""
        made = []
        scale, involved = self.parity.readings.scale, self.odds.involved
        for at in group:
            some = [at, *others]
            inverse = np.linalg.inv(self._gram[np.ix_(some, some)])
            size, u = float(inverse[0] @ self._along[some]), float(np.sqrt(inverse[0, 0]))
            moved = float(np.max(np.abs(self.effects[:, at]) / scale))
            made.append(
                Member(
                    name=self.marks[at].name,
                    size=size,
                    u=u,
                    test=size / u,
                    in_u=size * moved,
                    probability=float(involved[at]),
                )
            )
        return tuple(sorted(made, key=lambda one: -one.probability))
