"""Find what the readings say of the unknowns: Bayes, with the priors stated and draws to carry on.

The way: Gauss and Newton to the most probable unknowns (all derivatives in one call), a normal distribution about it, a
few hundred draws of a wider one worked out with the model itself, and weights by how well each agrees with readings and
priors (importance sampling, repeated while too few draws carry the weight). What the setting was read with is doubtful
too: those doubts are unknowns like the others, with the reading as their prior.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.quantities.typing import Array
from asfound.whatif.engine import NO_NITRIC_OXIDE, QUICK, ROUGH, Build, Outcome, Setting, Unknowns, run
from asfound.whatif.posterior import Posterior, Remember
from asfound.whatif.priors import Prior
from asfound.whatif.seen import OUTPUTS, Reading, Visit

DRAWS = 200
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


def calibrate(
    build: Build, visits: Sequence[Visit], *, seed: int = 1, draws: int = DRAWS, remember: Remember | None = None
) -> Calibrated:
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
    remember : callable, optional
        Who may know the draws from before.

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
    posterior = Posterior(build, tuple(visits))
    drawn = posterior.drawn(seed, draws, remember)
    unknowns, settings = posterior.split(drawn.z)
    outcomes = drawn.outcomes if posterior.nitric_oxide else None
    outcomes = outcomes or posterior.outcomes(drawn.z, QUICK, nitric_oxide=True)
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
        outcomes=outcomes,
        rough_power=rough_power(build, settings[0], unknowns, visits[0].fuel),
        learned=tuple(_learned(one, unknowns) for one in posterior.known.values()),
        fits=fits,
        effective=drawn.effective,
        says=_misfits(fits),
    )


def rough_power(build: Build, setting: Setting, unknowns: Unknowns, fuel: Mapping[str, float]) -> Array:
    """Return the power by few steps. [W]"""
    return run(
        build, setting, unknowns, fuel, reference=setting, steps=ROUGH, layers=NO_NITRIC_OXIDE
    ).power  # fmt: skip


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
