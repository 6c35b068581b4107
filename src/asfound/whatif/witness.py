"""The model as a witness of what was read: what it makes of a setting, how it bends with it, how far it may be off.

Nothing of the visit is fitted to. What nobody knows of the engine (`priors`, or what an earlier visit taught) is what
the witness may be off by, the same unknowns in all its numbers: so these doubts belong together. Whoever weighs it
against readings then lets each reading speak once. It is linearised about a setting rounded to a coarse grid, and
followed from there: typing another reading does not work it out anew, and no digit hangs on what was typed before.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from asfound.errors import AsFoundError
from asfound.quantities.typing import Array
from asfound.whatif.calibrate import DRAWS
from asfound.whatif.engine import NO_NITRIC_OXIDE, ROUGH, Build, Outcome, Setting, Unknowns, run
from asfound.whatif.geometry import Geometry
from asfound.whatif.layers import LAYERS
from asfound.whatif.posterior import Posterior, Remember
from asfound.whatif.priors import believed
from asfound.whatif.seen import OUTPUTS, Knob, Visit

SINCE = 0.3
"""By how much an unknown may have moved since an earlier visit, in its prior's spread (engineering judgement). [1]"""
HUMIDITY_DOUBT = 0.003
"""Of the water in the charge air, which is not followed. [mol/mol]"""
STEP = 0.5
"""In standard normal numbers, for derivatives."""
FILLING_DOUBT = 0.015
"""Model's own, of the charge drawn in; engineering judgement. [1]"""
TOO_MUCH = 0.5
"""Doubt of a logarithm from which on the model says nothing. NOx is so doubtful before a visit was learned from that it
is not worked out then. [1]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Number:
    """A number that the witness speaks of."""

    name: str
    of: Callable[[Outcome, Setting, Build], Array]
    model: float
    """The model's own doubt."""
    log: bool


def _filling(outcome: Outcome, setting: Setting, build: Build) -> Array:
    """Return the charge drawn in over that of the swept volume at the state of the manifold. [1]"""
    charge = outcome.charge
    fresh = (outcome.air_flow + outcome.fuel_flow) * charge.inflow.gas_constant
    fresh = fresh * (1.0 + np.asarray(setting.humidity) * 18.015 / 28.965)
    swept = float(Geometry(*(np.array(x) for x in (build.bore, build.stroke, build.rod, 10.0))).displacement)
    volume = swept * build.cylinders * np.asarray(setting.speed) / (4.0 * math.pi)
    found: Array = fresh * np.asarray(setting.charge_temperature) / (np.asarray(setting.manifold_pressure) * volume)
    return found


def _output(name: str) -> Number:
    about = OUTPUTS[name]
    return Number(name=name, of=lambda outcome, _setting, _build: about.of(outcome), model=about.model, log=about.log)


NUMBERS = (
    Number(name="filling", of=_filling, model=FILLING_DOUBT, log=False),
    *(_output(name) for name in ("efficiency", "exhaust_temperature", "nox_dry", "peak_pressure")),
)
"""Not power: it is the charge drawn in times the efficiency."""
FOLLOWED: dict[Knob, tuple[float, float, bool]] = {
    "speed": (0.05, 0.02, True), "manifold_pressure": (0.05, 0.03, True), "charge_temperature": (5.0, 4.0, False),
    "excess_air_ratio": (0.05, 0.03, False), "timing": (math.radians(1.0), math.radians(1.0), False),
}  # fmt: skip
"""Parts of the setting that are followed: width of the grid, step of the derivative, whether as logarithms."""
ROUGHLY: dict[Knob, tuple[float, bool]] = {"exhaust_pressure": (0.05, True), "humidity": (0.002, False)}
"""Parts that are not followed: width of the grid. Their doubt is part of the witness's."""
GAS_STEP = 0.01


@dataclass(frozen=True, slots=True, eq=False)
class Taught:
    """The engine as an earlier visit taught it: the same object is the same engine."""

    unknowns: Unknowns
    """Draws."""
    setting: Setting
    """Of that visit, draws that go with them."""


def taught_by(build: Build, visit: Visit, *, seed: int = 1, remember: Remember | None = None) -> Taught:
    """Return the engine as the readings of a visit teach it: the draws of `calibrate`, without what they come to."""
    posterior = Posterior(build, (visit,))
    drawn = posterior.drawn(seed, DRAWS, remember)
    unknowns, settings = posterior.split(drawn.z)
    return Taught(unknowns, settings[0])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spoken:
    """What the model makes of a setting; logarithms where `log` says so."""

    names: tuple[str, ...]
    log: tuple[bool, ...]
    knobs: tuple[Knob, ...]
    knob_log: tuple[bool, ...]
    at: Array
    """Of the knobs, shape (knobs,); logarithms where `knob_log` says so."""
    values: Array
    """There, shape (names,)."""
    by_knob: Array
    """Derivatives, shape (names, knobs)."""
    covariance: Array
    """Of what it may be off by, shape (names, names)."""
    learned: bool
    """It was fitted to an earlier visit."""


def spoken(build: Build, visit: Visit, before: Taught | None = None) -> Spoken | None:
    """Return what the model makes of the setting of a visit; None where it can make nothing of it.

    Parameters
    ----------
    build : Build
    visit : Visit
        Its setting, gas and doubts; none of its readings is looked at.
    before : Taught, optional
        The engine as an earlier visit taught it.
    """
    try:
        grid = _on_grid(visit.setting)
        gas = tuple(sorted((name, _rounded(share, GAS_STEP / 2)) for name, share in visit.fuel.items()))
        back = _rounded(visit.u.get("exhaust_pressure", 0.0) / float(np.asarray(visit.setting.exhaust_pressure)), 0.02)
        return _linear(build, grid, tuple(one for one in gas if one[1] > 0.0), back, before)
    except (AsFoundError, ValueError, ArithmeticError):
        return None


def _rounded(value: float, step: float) -> float:
    return round(value / step) * step


def _on_grid(setting: Setting) -> Setting:
    """Return the setting rounded, so that a neighbour's linearisation is taken where there is one."""
    at: dict[str, float] = {}
    for knob, (width, _, log) in FOLLOWED.items():
        value = float(np.asarray(getattr(setting, knob)))
        at[knob] = math.exp(_rounded(math.log(value), width)) if log else _rounded(value, width)
    for knob, (width, log) in ROUGHLY.items():
        value = float(np.asarray(getattr(setting, knob)))
        at[knob] = math.exp(_rounded(math.log(value), width)) if log else _rounded(value, width)
    return replace(setting, **at)


@lru_cache(maxsize=64)
def _linear(
    build: Build, setting: Setting, gas: tuple[tuple[str, float], ...], back: float, before: Taught | None
) -> Spoken | None:
    """Return values, derivatives and doubts about a setting, by one call of the model."""
    known_of = believed(near_one=build.near_one)
    shipped = {**known_of, "ratio_change": replace(known_of["ratio_change"], spread=build.ratio_doubt)}
    size = len(shipped)
    z0, known = _about(before, size, build)
    moves = STEP * np.eye(size)
    z = np.column_stack([z0, z0[:, None] + moves, z0[:, None] - moves])
    knobs = [(knob, step, log) for knob, (_, step, log) in FOLLOWED.items()]
    unfollowed: list[tuple[Knob, float, bool]] = [("exhaust_pressure", max(back, 0.01), True),
                                                  ("humidity", HUMIDITY_DOUBT, False)]  # fmt: skip
    cases = z.shape[1] + 2 * (len(knobs) + len(unfollowed))
    unknowns = np.repeat(z0[:, None], cases, axis=1)
    unknowns[:, : z.shape[1]] = z
    given = {name: np.full(cases, float(np.asarray(getattr(setting, name)))) for name, *_ in (*knobs, *unfollowed)}
    for at, (knob, step, log) in enumerate((*knobs, *unfollowed)):
        for sign, case in ((1.0, z.shape[1] + 2 * at), (-1.0, z.shape[1] + 2 * at + 1)):
            here = given[knob][case]
            given[knob][case] = here * math.exp(sign * step) if log else here + sign * step
    moved = replace(setting, **given)
    all_unknowns = Unknowns(**{name: one.value(unknowns[row]) for row, (name, one) in enumerate(shipped.items())})
    home = setting if before is None else _middle(before.setting)
    layers = NO_NITRIC_OXIDE if before is None else LAYERS
    outcome = run(build, moved, all_unknowns, dict(gas), reference=home, steps=ROUGH, layers=layers)
    numbers = tuple(one for one in NUMBERS if before is not None or one.name != "nox_dry")
    rows = []
    for one in numbers:
        value = one.of(outcome, moved, build)
        rows.append(np.log(np.maximum(value, 1e-30)) if one.log else value)
    found = np.stack(rows)
    if not np.isfinite(found).all():
        return None
    by_z = (found[:, 1 : size + 1] - found[:, size + 1 : 2 * size + 1]) / (2 * STEP)
    tail = found[:, 2 * size + 1 :]
    slopes = (tail[:, 0::2] - tail[:, 1::2]) / 2.0  # for one step of each
    by_knob = slopes[:, : len(knobs)] / np.array([step for _, step, _ in knobs])
    loose = slopes[:, len(knobs) :]
    covariance = by_z @ known @ by_z.T + loose @ loose.T + np.diag([one.model**2 for one in numbers])
    kept = [row for row, one in enumerate(numbers) if not (one.log and covariance[row, row] > TOO_MUCH**2)]
    return Spoken(
        names=tuple(numbers[row].name for row in kept), log=tuple(numbers[row].log for row in kept),
        knobs=tuple(knob for knob, *_ in knobs), knob_log=tuple(log for *_, log in knobs),
        at=np.array([_scaled(setting, knob, log) for knob, _, log in knobs]), values=found[kept, 0],
        by_knob=by_knob[kept], covariance=covariance[np.ix_(kept, kept)], learned=before is not None,
    )  # fmt: skip


def _scaled(setting: Setting, knob: Knob, log: bool) -> float:
    value = float(np.asarray(getattr(setting, knob)))
    return math.log(value) if log else value


def _middle(setting: Setting) -> Setting:
    """Return a setting at the middle of its draws."""
    names = (*FOLLOWED, *ROUGHLY, "residual_temperature")
    return replace(setting, **{name: float(np.median(np.asarray(getattr(setting, name)))) for name in names})


def _about(before: Taught | None, size: int, build: Build) -> tuple[Array, Array]:
    """Return the unknowns about which it is linearised, and their covariance, in standard normal numbers."""
    if before is None:
        return np.zeros(size), np.eye(size)
    draws = np.stack([
        np.array([prior.standard(float(one)) for one in np.asarray(getattr(before.unknowns, name))])
        for name, prior in believed(near_one=build.near_one).items()
    ])  # fmt: skip
    return draws.mean(axis=1), np.cov(draws) + SINCE**2 * np.eye(size)


__all__ = ["NUMBERS", "Spoken", "Taught", "spoken", "taught_by"]
