"""The cross-check of an engine's readings: which agree, which stand apart, what would make them agree."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from asfound.crosscheck.assemble import Assembled, assemble
from asfound.crosscheck.critical import chi_squared_critical, normal_critical, sidak
from asfound.crosscheck.doubt_from_logs import LogDoubt
from asfound.crosscheck.engine_values import engine_values
from asfound.crosscheck.identify import ALPHA, Identification, identify
from asfound.crosscheck.marks import matrix, single_marks
from asfound.crosscheck.model_witness import values_of
from asfound.crosscheck.outcome import (
    Alternative,
    Checked,
    CheckedBalance,
    CrossCheck,
    Impossible,
    LeftOut,
    OfReading,
    Suspect,
)
from asfound.crosscheck.parity import Parity
from asfound.crosscheck.patterns import Pattern, patterns
from asfound.crosscheck.plant import Plant
from asfound.crosscheck.reconcile import Reconciled, reconcile
from asfound.crosscheck.suspects import explanations_of
from asfound.crosscheck.tests_of_readings import measurement_tests, smallest_errors, what_others_say
from asfound.errors import AsFoundError
from asfound.quantities.typing import Array

FAR_OUT = (
    "The balances could not be solved: some reading is so far out that nothing can be worked out with it. "
    "Look for a wrong unit or place among the readings."
)
WEAK = 10.0
"""A reading whose smallest noticed error is more than so many of its u is checked weakly. [1]"""
UNSURE = 2.0
"""From this distance on a reading stands apart somewhat, though no test at 1 % says so. [1]"""
LEAST_LIKELY = 0.03
"""Share of a group below which a suspect is only said to leave the same mark. [1]"""
FEW = 12
"""Rows of the left-out table."""


class UnsolvedError(AsFoundError):
    """The balances cannot be solved with these readings."""


def cross_check(
    plant: Plant,
    names: tuple[str, ...],
    values: Array,
    covariance: Array,
    *,
    known: Mapping[str, tuple[float, float]] | None = None,
    keys: Mapping[str, tuple[str, ...]] | None = None,
    state: str = "as_found",
    alpha: float = ALPHA,
    doubts: tuple[LogDoubt, ...] = (),
) -> CrossCheck | None:
    """Return what the balances say of these values; None where nothing checks anything.

    Parameters
    ----------
    plant, names, values, covariance, known
        As in `assemble`.
    keys : mapping, optional
        Readings of the visit behind each value.
    state : str
        Of the visit.
    alpha : float
        Probability of a false alarm.
    doubts : tuple of LogDoubt
        What the engine's log says against its readings: it weighs in who is named, not in whether they agree.

    Raises
    ------
    UnsolvedError
        A reading is so far out that the balances have no solution. What cannot be at all is left out before.
    """
    impossible = _impossible(plant, names, values, keys or {})
    out = {one.name for one in impossible}
    there = [at for at, name in enumerate(names) if name not in out]
    assembled = assemble(
        plant, tuple(names[at] for at in there), values[there], covariance[np.ix_(there, there)], known=known
    )
    if not assembled.used or not assembled.readings.names:
        return None
    drawn = patterns(assembled)
    doubted = {one.name: one for one in doubts if one.name in assembled.readings.names}
    prior = {
        name: max(assembled.values[name].prior, doubted[name].prior if name in doubted else 0.0)
        for name in assembled.readings.names
    }
    try:
        who = identify(
            assembled.balances,
            assembled.readings,
            marks=[one.mark for one in drawn],
            start=assembled.start,
            probability=prior,
            alpha=alpha,
        )
    except np.linalg.LinAlgError as error:
        raise UnsolvedError(FAR_OUT) from error
    if who.reconciled.degrees == 0:
        return None
    if not np.isfinite(who.reconciled.chi_squared):
        raise UnsolvedError(FAR_OUT)
    return _told(assembled, who, drawn, keys or {}, state, alpha, impossible, doubted)


def _impossible(
    plant: Plant, names: tuple[str, ...], values: Array, keys: Mapping[str, tuple[str, ...]]
) -> tuple[Impossible, ...]:
    """Return the readings that no true value can be."""
    table = {**engine_values(tuple(plant.stages), plant.stoichiometric), **values_of(plant.witness)}
    return tuple(
        Impossible(
            name=name, title=table[name].title, quantity=table[name].quantity, keys=keys.get(name, ()),
            value=float(value), low=table[name].low, high=table[name].high, unit=table[name].unit,
            gauge=name in plant.gauge,
        )
        for name, value in zip(names, values, strict=True)
        if name in table and not table[name].can_be(float(value))
    )  # fmt: skip


def _told(
    assembled: Assembled, who: Identification, drawn: tuple[Pattern, ...], keys: Mapping[str, tuple[str, ...]],
    state: str, alpha: float, impossible: tuple[Impossible, ...], doubted: Mapping[str, LogDoubt],
) -> CrossCheck:  # fmt: skip
    """Put the answer of `identify` into words of the engine."""
    explanations = explanations_of(assembled, who, drawn, keys, doubted)
    groups = explanations[0].groups if explanations else ()
    named = [next((one for one in group if one.possible), group[0]) for group in groups]
    plain, best = who.reconciled, _best(who, named, drawn)
    named = [_solved(one, best) for one in named]
    explanations = _refined(explanations, named)
    unknown = best.balances.unmeasured
    follows = np.isfinite(best.u_unmeasured)
    return CrossCheck(
        state=state,
        verdict=who.verdict,
        told_apart=bool(explanations) and len(explanations) == 1 and all(map(_alone, explanations[0].groups)),
        chi_squared=plain.chi_squared,
        degrees=plain.degrees,
        p_value=plain.p_value,
        usual_below=float(chi_squared_critical(alpha, plain.degrees)),
        readings=_readings(assembled, best, named, explanations, keys, alpha),
        balances=_balances(assembled, best, alpha),
        explanations=explanations,
        left_out=_left_out(assembled, who),
        best=_values(best),
        as_read=_values(plain),
        unknown=tuple(name for name, known in zip(unknown, follows, strict=True) if not known),
        solution=best,
        impossible=impossible,
        doubts=tuple(doubted.values()),
        assembled=assembled,
        identification=who,
    )


def _alone(group: tuple[Suspect, ...]) -> bool:
    """Tell whether one suspect of a group is far likelier than all others together."""
    possible = [one.probability for one in group if one.possible]
    return not possible or max(possible) >= 0.95 * sum(possible)


def _best(who: Identification, named: list[Suspect], drawn: tuple[Pattern, ...]) -> Reconciled:
    """Return the solution with the named suspects released; `identify` released the likeliest by size alone."""
    released = who.best
    names = tuple(one.name for one in named)
    if not names or tuple(mark.name for mark in released.released) == names:
        return released
    singles = single_marks(released.readings)
    of_name = {mark.name: mark for mark in (*singles, *(one.mark for one in drawn))}
    again = reconcile(
        released.balances, released.readings, released=[of_name[name] for name in names], point=who.reconciled.point
    )
    return again if again.converged else released


def _solved(one: Suspect, best: Reconciled) -> Suspect:
    """Return a named suspect with its size by the curved balances."""
    at = next((at for at, mark in enumerate(best.released) if mark.name == one.name), None)
    if at is None:
        return one
    size, u = float(best.sizes[at]), float(best.u_sizes[at])
    return replace(one, size=size, u=u, in_u=one.in_u * size / one.size if one.size else 0.0)


def _refined(explanations: tuple[Alternative, ...], named: list[Suspect]) -> tuple[Alternative, ...]:
    """Return the explanations with the named suspects of the best one as they were solved."""
    if not explanations:
        return ()
    by_name = {one.name: one for one in named}
    groups = tuple(tuple(by_name.get(one.name, one) for one in group) for group in explanations[0].groups)
    return (replace(explanations[0], groups=groups), *explanations[1:])


def _values(found: Reconciled) -> dict[str, tuple[float, float]]:
    names = (*found.readings.names, *found.balances.unmeasured)
    values = np.concatenate([found.x, found.unmeasured])
    u = np.concatenate([found.u, found.u_unmeasured])
    return {name: (float(value), float(doubt)) for name, value, doubt in zip(names, values, u, strict=True)}


def _readings(
    assembled: Assembled, best: Reconciled, named: list[Suspect],
    explanations: tuple[Alternative, ...], keys: Mapping[str, tuple[str, ...]], alpha: float,
) -> tuple[Checked, ...]:  # fmt: skip
    """Return every value beside what the others make of it; for a suspect without itself, for the rest without it."""
    parity = best.parity
    rest = _without(parity, best, ())
    others, tests, smallest = what_others_say(rest), measurement_tests(rest), smallest_errors(rest, alpha)
    values, u_others, distance = others.values.copy(), others.u.copy(), tests.test.copy()
    size = tests.size.copy()
    mates = _mates(explanations, best)
    for name, marks in mates.items():
        at = parity.readings.at(name)
        own = _without(parity, best, marks)
        of_own, test_own = what_others_say(own), measurement_tests(own)
        values[at], u_others[at], distance[at] = of_own.values[at], of_own.u[at], test_own.test[at]
        size[at], smallest[at] = test_own.size[at], smallest_errors(own, alpha)[at]
    groups = {
        one.name: one.possible and one.probability >= LEAST_LIKELY
        for alternative in explanations
        for group in alternative.groups
        for one in group
    }
    single = {name for one in named for name in one.names}
    u_best, found = best.u, []
    for at, name in enumerate(parity.readings.names):
        about, u = assembled.values[name], float(parity.readings.u[at])
        verdict = _verdict(name, single, groups, float(distance[at]), float(smallest[at]), u)
        half = 1.96 * float(u_others[at])
        found.append(
            Checked(
                name=name, title=about.title, symbol=about.symbol, quantity=about.quantity,
                key=keys[name][0] if len(keys.get(name, ())) == 1 else "", unit=about.unit,
                gauge=name in assembled.plant.gauge, value=float(parity.readings.values[at]), u=u,
                others=float(values[at]), u_others=float(u_others[at]),
                interval=(float(values[at]) - half, float(values[at]) + half), size=float(size[at]),
                distance=float(distance[at]), in_u=float(size[at]) / u if u > 0 else float("nan"), verdict=verdict,
                smallest_error=float(smallest[at]), best=float(best.x[at]), u_best=float(u_best[at]),
                assumed=name in assembled.assumed,
            )
        )  # fmt: skip
    return tuple(found)


def _mates(explanations: tuple[Alternative, ...], best: Reconciled) -> dict[str, tuple[str, ...]]:
    """Return for each value that a suspect touches the released marks that it stands or falls with."""
    found: dict[str, tuple[str, ...]] = {}
    released = {mark.name for mark in best.released}
    for alternative in explanations:
        for group in alternative.groups:
            with_it = tuple(one.name for one in group if one.name in released)
            for one in group:
                for name in one.names:
                    found.setdefault(name, with_it or tuple(released))
    return found


def _without(parity: Parity, best: Reconciled, but: tuple[str, ...]) -> Parity:
    """Return the parity with what was released taken out, but for the marks of these names."""
    marks = [mark for mark in best.released if mark.name not in but]
    return parity.without(matrix(marks, parity.readings)) if marks else parity


def _verdict(
    name: str, single: set[str], groups: Mapping[str, bool], distance: float, smallest: float, u: float
) -> OfReading:
    if not np.isfinite(smallest):
        return "not_checked"
    if name in single:
        return "apart"
    if name in groups:
        return "may_be_apart" if groups[name] else "same_mark"
    if abs(distance) > UNSURE:
        return "unsure"
    return "weakly_checked" if u > 0 and smallest > WEAK * u else "agrees"


def _balances(assembled: Assembled, best: Reconciled, alpha: float) -> tuple[CheckedBalance, ...]:
    """Return each balance with what would be left of it if it alone were wrong, the readings being as they are."""
    whitened, vector = best.checking.whitened, best.parity.vector
    squared = np.einsum("dm,dm->m", whitened, whitened)
    along = whitened.T @ vector
    scale = best.checking.row_scale
    seen = squared * scale**2 > 1e-12
    safe = np.where(seen, squared, 1.0)
    left, u = np.where(seen, along / safe, np.nan), np.where(seen, 1 / np.sqrt(safe), np.nan)
    critical = normal_critical(sidak(alpha, max(int(seen.sum()), 1)))
    made = []
    for at, one in enumerate(assembled.used):
        distance = float(left[at] / u[at])
        takes = assembled.takes[one.name]
        made.append(
            CheckedBalance(
                name=one.name, title=one.title, equation=one.equation,
                closes=bool(abs(distance) <= critical) if seen[at] else None, left_over=float(left[at]),
                u=float(u[at]), unit=one.unit, distance=distance, takes=takes,
                assumed=tuple(name for name in takes if name in assembled.assumed), source=one.source,
                clause=one.clause, model=one.model,
            )
        )  # fmt: skip
    return tuple(made)


def _left_out(assembled: Assembled, who: Identification) -> tuple[LeftOut, ...]:
    """Return what disagreement remains if one reading is left out, the least first."""
    parity = who.screen.parity
    ratio = measurement_tests(parity).ratio
    order = [int(at) for at in np.argsort(-np.where(np.isfinite(ratio), ratio, -1.0), kind="stable")]
    return tuple(
        LeftOut(
            name=parity.readings.names[at],
            title=assembled.values[parity.readings.names[at]].title,
            chi_squared=max(float(parity.chi_squared - ratio[at]), 0.0),
            degrees=parity.degrees - 1,
        )
        for at in order[:FEW]
        if np.isfinite(ratio[at])
    )
