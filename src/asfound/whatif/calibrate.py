"""Find what the readings say of the unknowns: Bayes, with the priors stated and draws to carry on.

The way: Gauss and Newton to the most probable unknowns (all derivatives in one call), a normal distribution about it, a
few hundred draws of a wider one worked out with the model itself, and weights by how well each agrees with readings and
priors (importance sampling, repeated while too few draws carry the weight). What the setting was read with is doubtful
too: those doubts are unknowns like the others, with the reading as their prior.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array
from asfound.whatif.engine import NO_NITRIC_OXIDE, QUICK, ROUGH, Build, Outcome, Setting, Unknowns, run
from asfound.whatif.priors import Prior, priors
from asfound.whatif.seen import OUTPUTS, Reading, Visit

DRAWS = 200
TRIED = 600
"""Draws of the normal distribution that are tried for one visit; for each further visit half as many more."""
TURNS = 8
SETTLED = 0.01
"""Gain in the logarithm of the posterior below which it is not looked on: draws are weighed afterwards."""
STEP = 0.15
"""In standard normal numbers, for derivatives."""
WIDER = 1.25
"""Spread of the draws that are tried over that of the normal distribution."""
ENOUGH = 60.0
"""Draws that must carry the weight (effective sample size)."""
SHORTENED = (1.0, 0.5, 0.25, 0.1)
BAD_FIT = 3.0
"""Doubts away from which a reading is said not to fit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Learned:
    """What was learned of one unknown."""

    prior: Prior
    middle: float
    low: float
    high: float
    """95 in 100."""
    narrowed: float
    """Share of the prior's spread that is gone: 0 when the readings say nothing of it. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A reading beside the model after it was fitted."""

    reading: Reading
    visit: str
    middle: float
    low: float
    high: float
    """Of the model, 95 in 100. [SI]"""
    away: float
    """Reading less model, in doubts of both."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibrated:
    """An engine that the model was fitted to.

    ``unknowns`` and ``settings`` hold arrays of `DRAWS` numbers that belong together.
    """

    build: Build
    visits: tuple[Visit, ...]
    unknowns: Unknowns
    settings: tuple[Setting, ...]
    outcomes: tuple[Outcome, ...]
    """At the setting of each visit."""
    rough_power: Array
    """The same with rough steps, for ratios of powers. [W]"""
    learned: tuple[Learned, ...]
    fits: tuple[Fit, ...]
    effective: float
    """Draws that carried the weight before they were evened out."""
    says: tuple[str, ...]
    """What does not fit, in words; empty where all does."""

    @property
    def outcome(self) -> Outcome:
        """At the first visit's setting."""
        return self.outcomes[0]

    @property
    def fuel(self) -> dict[str, float]:
        """Gas of the first visit."""
        return self.visits[0].fuel


def calibrate(build: Build, visits: Sequence[Visit], *, seed: int = 1, draws: int = DRAWS) -> Calibrated:
    """Return the engine fitted to the readings of one or several visits.

    Parameters
    ----------
    build : Build
    visits : sequence of Visit
        The first is the one from which changes will be asked.
    seed : int
        The same seed gives the same draws.
    draws : int
        Kept at the end.

    Raises
    ------
    InputError
        No visit has a reading that the model gives.
    """
    if not any(one.readings for one in visits):
        raise InputError(
            "readings", "none", "cannot be fitted to", allowed=", ".join(OUTPUTS),
            try_next="Take power, fuel flow, exhaust temperature and NOx at steady load.",
        )  # fmt: skip
    problem = _Problem(build, tuple(visits))
    middle = problem.most_probable()
    chance = np.random.default_rng(seed)
    z, effective = problem.draw(middle, chance, draws)
    unknowns, settings = problem.split(z)
    outcomes = [
        run(build, setting, unknowns, visit.fuel, reference=settings[0], steps=QUICK)
        for setting, visit in zip(settings, visits, strict=True)
    ]
    fits = tuple(
        _fit(one, visit.name, outcome)
        for visit, outcome in zip(visits, outcomes, strict=True)
        for one in visit.readings
    )
    return Calibrated(
        build=build,
        visits=tuple(visits),
        unknowns=unknowns,
        settings=settings,
        outcomes=tuple(outcomes),
        rough_power=rough_power(build, settings[0], unknowns, visits[0].fuel),
        learned=tuple(_learned(one, unknowns) for one in problem.known.values()),
        fits=fits,
        effective=effective,
        says=_misfits(fits),
    )


def rough_power(build: Build, setting: Setting, unknowns: Unknowns, fuel: Mapping[str, float]) -> Array:
    """Return the power by few steps. [W]"""
    return run(
        build, setting, unknowns, fuel, reference=setting, steps=ROUGH, layers=NO_NITRIC_OXIDE
    ).power  # fmt: skip


class _Problem:
    """Unknowns and doubts of the settings as one vector of standard normal numbers."""

    def __init__(self, build: Build, visits: tuple[Visit, ...]) -> None:
        self.build, self.visits = build, visits
        shipped = priors()
        ratio = replace(shipped["ratio_change"], spread=build.ratio_doubt)
        self.known: Mapping[str, Prior] = {**shipped, "ratio_change": ratio}
        self.knobs = [(at, knob) for at, visit in enumerate(visits) for knob, u in visit.u.items() if u > 0.0]
        self.size = len(self.known) + len(self.knobs)
        self.wanted = np.array(
            [float(OUTPUTS[r.output].compared(np.array(r.value))) for v in visits for r in v.readings]
        )
        self.doubt = np.array([r.doubt for v in visits for r in v.readings])

    def split(self, z: Array) -> tuple[Unknowns, tuple[Setting, ...]]:
        """Return unknowns and settings for numbers of shape (size, cases)."""
        unknowns = Unknowns(**{name: prior.value(z[at]) for at, (name, prior) in enumerate(self.known.items())})
        changes: list[dict[str, Array]] = [{} for _ in self.visits]
        for row, (at, knob) in enumerate(self.knobs, start=len(self.known)):
            visit = self.visits[at]
            changes[at][knob] = getattr(visit.setting, knob) + visit.u[knob] * z[row]
        settings = tuple(replace(v.setting, **one) for v, one in zip(self.visits, changes, strict=True))
        return unknowns, settings

    def misses(self, z: Array, steps: tuple[int, int, int] = QUICK) -> Array:
        """Return reading less model over their doubt, shape (readings, cases)."""
        unknowns, settings = self.split(z)
        rows = []
        for visit, setting in zip(self.visits, settings, strict=True):
            found = run(self.build, setting, unknowns, visit.fuel, reference=settings[0], steps=steps)
            rows += [OUTPUTS[one.output].compared(OUTPUTS[one.output].of(found)) for one in visit.readings]
        away = (self.wanted[:, None] - np.stack(rows)) / self.doubt[:, None]
        found_away: Array = np.nan_to_num(away, nan=1e3, posinf=1e3, neginf=-1e3)
        return found_away

    def cost(self, z: Array, misses: Array) -> Array:
        """Return minus the logarithm of the posterior, to a constant. Shape (cases,)"""
        total: Array = 0.5 * (np.sum(z**2, axis=0) + np.sum(misses**2, axis=0))
        return total

    def linear(self, z: Array) -> tuple[Array, Array]:
        """Return misses at a point (readings,) and how they change (readings, size)."""
        moves = STEP * np.eye(self.size)
        tried = self.misses(np.column_stack([z, z[:, None] + moves, z[:, None] - moves]), ROUGH)
        return tried[:, 0], (tried[:, 1 : self.size + 1] - tried[:, self.size + 1 :]) / (2 * STEP)

    def most_probable(self) -> tuple[Array, Array]:
        """Return the most probable numbers and their covariance by the normal distribution about them.

        By rough steps: draws of it are weighed by finer ones afterwards.
        """
        z = np.zeros(self.size)
        for _ in range(TURNS):
            miss, by_z = self.linear(z)
            precision = by_z.T @ by_z + np.eye(self.size)
            step = np.linalg.solve(precision, -(by_z.T @ miss) - z)
            ways = z[:, None] + step[:, None] * np.array(SHORTENED)
            costs = self.cost(ways, self.misses(ways, ROUGH))
            best = int(np.argmin(costs))
            now = float(self.cost(z[:, None], miss[:, None])[0])
            if costs[best] > now - SETTLED:
                break
            z = ways[:, best]
        _, by_z = self.linear(z)
        covariance: Array = np.asarray(np.linalg.inv(by_z.T @ by_z + np.eye(self.size)), dtype=np.float64)
        return z, covariance

    def draw(self, found: tuple[Array, Array], chance: np.random.Generator, draws: int) -> tuple[Array, float]:
        """Return draws of the posterior, shape (size, draws), and how many carried the weight."""
        middle, covariance = found
        best: tuple[float, Array, Array] | None = None
        tried = TRIED + TRIED // 2 * (len(self.visits) - 1)
        for turn in range(3):
            root = np.linalg.cholesky(covariance * WIDER**2 + 1e-9 * np.eye(self.size))
            t = chance.standard_normal((self.size, tried))
            z = middle[:, None] + root @ t
            log_weight = -self.cost(z, self.misses(z)) + 0.5 * np.sum(t**2, axis=0)
            weight = np.exp(log_weight - log_weight.max())
            weight /= weight.sum()
            effective = float(1.0 / np.sum(weight**2))
            if best is None or effective > best[0]:
                best = effective, z, weight
            if effective >= ENOUGH:
                break
            middle = z @ weight
            spread = (z - middle[:, None]) * np.sqrt(weight)
            share = 0.5 / (turn + 1)
            covariance = (1 - share) * (spread @ spread.T) * tried / (tried - 1) + share * covariance
        assert best is not None
        effective, z, weight = best
        at = np.searchsorted(np.cumsum(weight), (np.arange(draws) + chance.random()) / draws)
        return z[:, np.minimum(at, tried - 1)], effective


def _learned(prior: Prior, unknowns: Unknowns) -> Learned:
    """Return what was learned of an unknown."""
    values = np.asarray(getattr(unknowns, prior.name))
    low, middle, high = np.quantile(values, [0.025, 0.5, 0.975])
    before = prior.value(np.array([-1.96, 1.96]))
    return Learned(
        prior=prior, middle=float(middle), low=float(low), high=float(high),
        narrowed=float(max(0.0, 1.0 - (high - low) / (before[1] - before[0]))),
    )  # fmt: skip


def _fit(reading: Reading, visit: str, outcome: Outcome) -> Fit:
    """Return a reading beside the fitted model."""
    about = OUTPUTS[reading.output]
    values = about.of(outcome)
    low, middle, high = np.quantile(values, [0.025, 0.5, 0.975])
    away = float(about.compared(np.array(reading.value)) - np.mean(about.compared(values))) / reading.doubt
    return Fit(reading=reading, visit=visit, middle=float(middle), low=float(low), high=float(high), away=away)


def _misfits(fits: Sequence[Fit]) -> tuple[str, ...]:
    """Say which readings the model cannot be brought to agree with."""
    return tuple(
        f"{OUTPUTS[one.reading.output].title}: the reading stands {abs(one.away):.1f} doubts "
        f"{'above' if one.away > 0 else 'below'} what the model can be brought to"
        for one in fits
        if abs(one.away) > BAD_FIT
    )
