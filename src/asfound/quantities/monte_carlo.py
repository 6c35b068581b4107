"""Propagation of distributions by Monte Carlo (JCGM 101:2008), with a fixed number of draws or until it is stable."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from asfound.errors import InputError
from asfound.quantities.distributions import Distribution, MultivariateNormal, draw_inputs
from asfound.quantities.intervals import shortest, symmetric

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from asfound.quantities.typing import Array

Formula = Callable[..., Any]
Inputs = Sequence[Distribution | MultivariateNormal]
MOST_BATCHES = 1_000


@dataclass(frozen=True, slots=True)
class MonteCarlo:
    """What the draws of a formula come to."""

    y: float
    """Mean of the draws."""
    u: float
    """Standard deviation of the draws."""
    interval: tuple[float, float]
    """Coverage interval with equal tails."""
    shortest: tuple[float, float]
    """Shortest coverage interval; differs for a skew quantity."""
    probability: float
    without: int
    """Draws without an answer (nan or infinite); left out."""
    draws: Array = field(repr=False)
    stable: bool | None = None
    """Of the adaptive procedure: whether it got stable within the batches it was allowed."""
    batches: int = 1


class Tolerance(NamedTuple):
    """Numerical tolerance of an uncertainty: u is about c 10^l, delta half of 10^l."""

    c: int
    l: int  # noqa: E741  (as the guide writes it)
    delta: float


def monte_carlo(
    f: Formula, inputs: Inputs, *, number: int = 1_000_000, seed: int = 1, probability: float = 0.95
) -> MonteCarlo:
    """Draw the inputs, run the formula on the draws, and sum up what comes out.

    Parameters
    ----------
    f : function
        Takes arrays of shape (number,) positionally, one for each input, and answers an array; nan where it has no
        answer.
    inputs : sequence of Distribution or MultivariateNormal
        In the order of the arguments; a `MultivariateNormal` fills as many as it has means.
    number, seed : int
    probability : float
        Coverage probability of the intervals.
    """
    _check(number, seed)
    random = np.random.Generator(np.random.Philox(seed))
    return _sum_up(_answers(f, inputs, random, number), probability)


def monte_carlo_many(f: Formula, inputs: Inputs, *, number: int = 1_000_000, seed: int = 1) -> tuple[Array, Array]:
    """Draw the inputs of a formula with several answers: return their means and covariance (JCGM 102:2011 7).

    Draws in which one of the answers is missing are left out.
    """
    _check(number, seed)
    random = np.random.Generator(np.random.Philox(seed))
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        answers = np.stack(f(*draw_inputs(inputs, random, number)))
    answers = answers[:, np.isfinite(answers).all(axis=0)]
    return answers.mean(axis=1), np.atleast_2d(np.cov(answers))


def adaptive(
    f: Formula,
    inputs: Inputs,
    *,
    probability: float = 0.95,
    digits: int = 2,
    seed: int = 1,
    most_batches: int = MOST_BATCHES,
) -> MonteCarlo:
    """Draw batch after batch until estimate, uncertainty and interval are stable to the digits wanted.

    A batch has M = max(100 / (1 - p) rounded up, 10,000) draws. It stops when twice the standard error, over the
    batches, of each of the four numbers is at most the numerical tolerance of u; where that does not happen within
    ``most_batches``, ``stable`` is False.

    References
    ----------
    .. [1] JCGM 101:2008 7.9.4.
    """
    if not 0.0 < probability < 1.0:
        raise InputError("probability", f"{probability:g}", "is no coverage probability", allowed="between 0 and 1")
    _check(2, seed)
    number = max(math.ceil(round(100.0 / (1.0 - probability), 6)), 10_000)
    random = np.random.Generator(np.random.Philox(seed))
    all_: list[Array] = []
    rows: list[tuple[float, float, float, float]] = []
    stable = False
    while len(rows) < most_batches and not stable:
        batch = _answers(f, inputs, random, number)
        all_.append(batch)
        finite = batch[np.isfinite(batch)]
        rows.append((float(finite.mean()), float(finite.std(ddof=1)), *symmetric(finite, probability)))
        if len(rows) >= 2:
            together = np.concatenate(all_)
            u = float(together[np.isfinite(together)].std(ddof=1))
            stable = u == 0.0 or is_stable(rows, numerical_tolerance(u, digits).delta)
    found = _sum_up(np.concatenate(all_), probability)
    return MonteCarlo(
        found.y, found.u, found.interval, found.shortest, probability, found.without, found.draws, stable, len(rows)
    )


def numerical_tolerance(u: float, digits: int = 2) -> Tolerance:
    """Return c, l and delta for an uncertainty taken as meaningful to so many digits.

    References
    ----------
    .. [1] JCGM 101:2008 7.9.2: u = c 10^l with c an integer of that many digits, delta = 10^l / 2.

    Examples
    --------
    >>> numerical_tolerance(0.00035, 2)
    Tolerance(c=35, l=-5, delta=5e-06)
    """
    if not (u > 0.0 and math.isfinite(u)):
        raise InputError("u", f"{u:g}", "has no numerical tolerance", allowed="more than 0")
    if digits < 1:
        raise InputError("digits", str(digits), "is no number of digits", allowed="1 or more")
    exact = Decimal(repr(float(u)))
    exponent = exact.adjusted() - digits + 1
    c = int(exact.scaleb(-exponent).quantize(Decimal(1), ROUND_HALF_UP))
    if c == 10**digits:  # rounding carried into one digit more
        c, exponent = c // 10, exponent + 1
    return Tolerance(c, exponent, float(Decimal(5).scaleb(exponent - 1)))


def standard_errors(batches: ArrayLike) -> Array:
    """Return the standard error of the mean over batches of each column. Shape (columns,)."""
    rows = np.asarray(batches, dtype=float)
    errors: Array = rows.std(axis=0, ddof=1) / math.sqrt(len(rows))
    return errors


def is_stable(batches: ArrayLike, delta: float) -> bool:
    """Return whether twice the standard error of y, u, low and high over the batches is at most delta (7.9.4 h)."""
    return bool((2.0 * standard_errors(batches) <= delta).all())


def _answers(f: Formula, inputs: Inputs, random: np.random.Generator, number: int) -> Array:
    """Return the formula's answers to one set of draws."""
    drawn = draw_inputs(inputs, random, number)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):  # nan is 'no answer', and counted
        return np.broadcast_to(np.asarray(f(*drawn), dtype=float), (number,))


def _sum_up(draws: Array, probability: float) -> MonteCarlo:
    finite = draws[np.isfinite(draws)]
    if finite.size < 2:
        raise InputError(
            "inputs", "these", "leave the formula without an answer", allowed="inputs it has an answer for"
        )
    return MonteCarlo(
        y=float(finite.mean()),
        u=float(finite.std(ddof=1)),
        interval=symmetric(finite, probability),
        shortest=shortest(finite, probability),
        probability=probability,
        without=draws.size - finite.size,
        draws=draws,
    )


def _check(number: int, seed: int) -> None:
    if number < 2:
        raise InputError("number", str(number), "is too few draws", allowed="2 or more")
    if seed < 0:
        raise InputError("seed", str(seed), "cannot seed the draws", allowed="0 or more")
