"""Who lies: nobody, one error, two errors, with all explanations that pass, and what cannot be told apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from asfound.crosscheck.balances import Balances
from asfound.crosscheck.critical import POWER
from asfound.crosscheck.explanations import Explanation, Screen
from asfound.crosscheck.marks import Mark, single_marks
from asfound.crosscheck.parity import Parity
from asfound.crosscheck.readings import Readings
from asfound.crosscheck.reconcile import Reconciled, parity_at, reconcile
from asfound.crosscheck.robust import robust_start
from asfound.crosscheck.steps import Linear, Point
from asfound.crosscheck.tests_of_readings import smallest_errors
from asfound.quantities.typing import Array

Verdict = Literal["nobody", "one", "two", "unexplained"]
ALPHA = 0.01
ROUNDS = 4
"""Most times that the balances are linearised anew with the best explanation released."""
REFINED = 3
"""Explanations that are solved with the curved balances; the others keep their linear sizes."""
SETTLED = 1e-5
"""Last step of every value in units of its u: enough for a verdict and for what is shown. [1]"""
RIVAL = 0.05
"""An explanation with less than this share of the best one's probability is no rival, though it passes. [1]"""
FAR = 1e-6
"""Below this p-value curved balances are linearised at a robust solution first. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Identification:
    """What the balances say about the readings."""

    verdict: Verdict
    explanations: tuple[Explanation, ...]
    """All that pass with the fewest errors, the most probable first; empty when nobody lies or nothing explains it."""
    nearest: Explanation | None
    """When nothing explains it: the most probable pair all the same."""
    probability: Mapping[str, float]
    """Of each mark: to be in the true explanation."""
    nobody: float
    """Probability that nobody lies."""
    reconciled: Reconciled
    """With nothing released: best estimates if nobody lies."""
    released: Reconciled | None
    """With the best explanation released: best estimates if it is true."""
    screen: Screen
    alpha: float

    @property
    def told_apart(self) -> bool:
        """Whether the best explanation has no rival, and one member for each error."""
        return len(self.rivals) == 1 and all(len(group) == 1 for group in self.explanations[0].suspects)

    @property
    def rivals(self) -> tuple[Explanation, ...]:
        """The best explanation and those that are not much less probable: a twentieth of it at least."""
        return tuple(one for one in self.explanations if one.probability >= RIVAL * self.explanations[0].probability)

    @property
    def best(self) -> Reconciled:
        """The solution to show: with the best explanation released where there is one."""
        return self.released or self.reconciled

    @property
    def not_checked(self) -> tuple[str, ...]:
        """Readings of which nothing may be said."""
        return self.reconciled.classes.not_checked

    @property
    def smallest_errors(self) -> Array:
        """Smallest error of each reading that would be noticed (alpha of one test, power 80 %), shape (n,)."""
        return smallest_errors(self.screen.parity, self.alpha, POWER)


def identify(
    balances: Balances,
    readings: Readings,
    *,
    marks: Sequence[Mark] = (),
    start: Mapping[str, float] | None = None,
    probability: Mapping[str, float] | None = None,
    alpha: float = ALPHA,
    at_most: int = 2,
) -> Identification:
    """Return who lies.

    Readings agree when chi-squared of all and each single test pass; ``alpha`` is the probability of a false alarm of
    both together. Else every single error, and if none explains it every pair, is released in turn; those after which
    the rest agrees are the explanations. Balances that are curved are linearised where the best explanation puts them,
    again until it stays; the first time, where readings are far apart, at a robust solution.

    Parameters
    ----------
    marks : sequence of Mark
        Patterns beside the single readings, which are always looked at.
    start : mapping of str to float, optional
        Start values, as for `reconcile`.
    probability : mapping of str to float, optional
        Of single readings to be grossly wrong, where not the usual one.
    at_most : int
        1 or 2 errors.
    """
    readings = readings.in_order(balances.readings)
    suspects = (*single_marks(readings, probability), *marks)
    plain, place, parity = _plain(balances, readings, start)
    if not np.isfinite(parity.vector).all():
        return _answer("unexplained", (), None, plain, None, Screen.nothing(parity, suspects, alpha), alpha)
    screen = Screen.of(parity, suspects, alpha, at_most)
    if plain.converged and place.point is plain.point and screen.agrees:
        return _answer("nobody", (), None, plain, None, screen, alpha)
    screen, place, tried = _linearised_at_the_best(screen, place, alpha, at_most)
    for errors in range(1, at_most + 1):
        found = screen.ones() if errors == 1 else screen.twos()
        passing, released = _solved(found, screen, place, tried)
        if passing:
            verdict: Verdict = "one" if errors == 1 else "two"
            return _answer(verdict, passing, None, plain, released, screen, alpha)
    if not screen.groups:
        return _answer("unexplained", (), None, plain, None, screen, alpha)
    nearest = screen.best(min(at_most, len(screen.groups)))
    return _answer("unexplained", (), nearest, plain, place.released(screen, nearest), screen, alpha)


@dataclass(frozen=True, slots=True, eq=False)
class _Place:
    """Where the balances are linearised."""

    balances: Balances
    point: Point
    linear: Linear

    @classmethod
    def of(cls, found: Reconciled) -> _Place:
        return cls(found.balances, found.point, found.linear)

    def released(self, screen: Screen, explanation: Explanation) -> Reconciled:
        """Return the solution with the first members of an explanation released, from here."""
        marks, readings = screen.named(explanation.first), screen.parity.readings
        return reconcile(self.balances, readings, released=marks, point=self.point, linear=self.linear, settled=SETTLED)


def _plain(
    balances: Balances, readings: Readings, start: Mapping[str, float] | None
) -> tuple[Reconciled, _Place, Parity]:
    """Return least squares with nothing released, and where to look for errors: there, or at a robust solution."""
    plain = reconcile(balances, readings, start=start, settled=SETTLED)
    if plain.converged and (balances.linear or plain.p_value > FAR):
        return plain, _Place.of(plain), plain.parity
    far = robust_start(balances, readings, start)
    parity = parity_at(balances, readings, far.point, far.linear)
    if not plain.converged or parity.chi_squared < plain.chi_squared / 2:  # perhaps another solution, and a better one
        again = reconcile(balances, readings, point=far.point, linear=far.linear, settled=SETTLED)
        if again.converged and not (plain.converged and plain.chi_squared <= again.chi_squared):
            return again, _Place.of(again), again.parity
    return plain, _Place(balances, far.point, far.linear), parity


def _linearised_at_the_best(
    screen: Screen, place: _Place, alpha: float, at_most: int
) -> tuple[Screen, _Place, Reconciled | None]:
    """Linearise curved balances where the best explanation puts them, until it stays the best; with that solution."""
    solved = None
    before: set[frozenset[str]] = set()
    for _ in range(0 if place.balances.linear or not screen.groups else ROUNDS):
        found = screen.ones() or (screen.twos() if at_most > 1 else [])
        best = found[0] if found else screen.best(min(at_most, len(screen.groups)))
        now = {frozenset(group) for group in best.names}
        if now == before:
            break
        tried = place.released(screen, best)
        if not tried.converged:
            break
        before, place, solved = now, _Place.of(tried), tried
        screen = Screen.of(tried.parity, screen.marks, alpha, at_most)
        if not screen.groups:
            break
    return screen, place, solved


def _solved(
    found: list[Explanation], screen: Screen, place: _Place, tried: Reconciled | None
) -> tuple[tuple[Explanation, ...], Reconciled | None]:
    """Return the explanations that still pass when the curved balances are solved, and the solution of the best."""
    passing: list[Explanation] = []
    best: Reconciled | None = None
    for at, one in enumerate(found):
        if at >= REFINED and passing:
            passing.append(one)
            continue
        known = tried is not None and tried.released == screen.named(one.first)
        solved = tried if known and tried is not None else place.released(screen, one)
        if solved.converged and solved.p_value < screen.alpha:
            continue
        best = best or solved
        passing.append(one.solved(solved) if solved.converged else one)
    return tuple(passing), best


def _answer(
    verdict: Verdict,
    explanations: tuple[Explanation, ...],
    nearest: Explanation | None,
    plain: Reconciled,
    released: Reconciled | None,
    screen: Screen,
    alpha: float,
) -> Identification:
    involved = screen.odds.involved
    return Identification(
        verdict=verdict,
        explanations=explanations,
        nearest=nearest,
        probability={mark.name: float(involved[at]) for at, mark in enumerate(screen.marks)},
        nobody=screen.odds.nobody,
        reconciled=plain,
        released=released,
        screen=screen,
        alpha=alpha,
    )
