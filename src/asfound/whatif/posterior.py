"""What is believed of unknowns and settings once the readings have spoken: the most probable, and draws of the rest.

Gauss and Newton to the most probable numbers, a normal distribution about them, draws of a wider one weighed by how
well each agrees with readings and priors. All visits stand beside one another in one call of the model, and the point
that a step leads to is worked out with its derivatives at once: a call costs nearly the same for few cases and many.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from asfound.quantities.typing import Array
from asfound.whatif.cases import beside, gases_beside, taken
from asfound.whatif.engine import NO_NITRIC_OXIDE, QUICK, ROUGH, Build, Outcome, Setting, Unknowns, run
from asfound.whatif.layers import LAYERS
from asfound.whatif.priors import Prior, believed
from asfound.whatif.seen import OUTPUTS, Visit

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


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """Draws of the posterior."""

    z: Array
    """Shape (size, draws)."""
    effective: float
    """Draws that carried the weight."""
    outcomes: tuple[Outcome, ...] | None = None
    """At each visit's setting, by the steps of draws; without nitric oxide where none was read. None: not at hand."""


Remember = Callable[[str, Callable[[], Drawn]], Drawn]
"""Asked for the draws of what a text tells in full: gives them as it has them, or has them made."""


class Posterior:
    """Unknowns and doubts of the settings as one vector of standard normal numbers."""

    def __init__(self, build: Build, visits: tuple[Visit, ...]) -> None:
        self.build, self.visits = build, visits
        shipped = believed(near_one=build.near_one)
        ratio = replace(shipped["ratio_change"], spread=build.ratio_doubt)
        self.known: Mapping[str, Prior] = {**shipped, "ratio_change": ratio}
        self.knobs = [(at, knob) for at, visit in enumerate(visits) for knob, u in visit.u.items() if u > 0.0]
        self.size = len(self.known) + len(self.knobs)
        self.wanted = np.array(
            [float(OUTPUTS[r.output].compared(np.array(r.value))) for v in visits for r in v.readings]
        )
        self.doubt = np.array([r.doubt for v in visits for r in v.readings])
        self.nitric_oxide = any(r.output == "nox_dry" for v in visits for r in v.readings)

    def split(self, z: Array) -> tuple[Unknowns, tuple[Setting, ...]]:
        """Return unknowns and settings for numbers of shape (size, cases)."""
        unknowns = Unknowns(**{name: prior.value(z[at]) for at, (name, prior) in enumerate(self.known.items())})
        changes: list[dict[str, Array]] = [{} for _ in self.visits]
        for row, (at, knob) in enumerate(self.knobs, start=len(self.known)):
            visit = self.visits[at]
            changes[at][knob] = getattr(visit.setting, knob) + visit.u[knob] * z[row]
        settings = tuple(replace(v.setting, **one) for v, one in zip(self.visits, changes, strict=True))
        return unknowns, settings

    def outcomes(self, z: Array, steps: tuple[int, int, int], *, nitric_oxide: bool) -> tuple[Outcome, ...]:
        """Return what the engine does at the setting of each visit, for numbers of shape (size, cases)."""
        cases, count = z.shape[1], len(self.visits)
        unknowns, settings = self.split(z)
        found = run(
            self.build, beside(settings, cases), beside([unknowns] * count, cases),
            gases_beside([one.fuel for one in self.visits], cases), reference=beside([settings[0]] * count, cases),
            steps=steps, layers=LAYERS if nitric_oxide else NO_NITRIC_OXIDE,
        )  # fmt: skip
        if count == 1:
            return (found,)
        return tuple(taken(found, slice(at * cases, (at + 1) * cases), count * cases) for at in range(count))

    def misses(self, outcomes: tuple[Outcome, ...]) -> Array:
        """Return reading less model over their doubt, shape (readings, cases)."""
        rows = [
            OUTPUTS[one.output].compared(OUTPUTS[one.output].of(found))
            for visit, found in zip(self.visits, outcomes, strict=True)
            for one in visit.readings
        ]
        away = (self.wanted[:, None] - np.stack(rows)) / self.doubt[:, None]
        found_away: Array = np.nan_to_num(away, nan=1e3, posinf=1e3, neginf=-1e3)
        return found_away

    def cost(self, z: Array, misses: Array) -> Array:
        """Return minus the logarithm of the posterior, to a constant. Shape (cases,)"""
        total: Array = 0.5 * (np.sum(z**2, axis=0) + np.sum(misses**2, axis=0))
        return total

    def linear(self, ways: Array) -> tuple[Array, Array]:
        """Return misses at points (size, cases), and how they change at the first of them (readings, size)."""
        moves, count = STEP * np.eye(self.size), ways.shape[1]
        tried = np.column_stack([ways, ways[:, :1] + moves, ways[:, :1] - moves])
        found = self.misses(self.outcomes(tried, ROUGH, nitric_oxide=self.nitric_oxide))
        up, down = found[:, count : count + self.size], found[:, count + self.size :]
        return found[:, :count], (up - down) / (2 * STEP)

    def most_probable(self) -> tuple[Array, Array]:
        """Return the most probable numbers and their covariance by the normal distribution about them.

        By rough steps: draws of it are weighed by finer ones afterwards.
        """
        z = np.zeros(self.size)
        miss, by_z = self.linear(z[:, None])
        for _ in range(TURNS):
            precision = by_z.T @ by_z + np.eye(self.size)
            step = np.linalg.solve(precision, -(by_z.T @ miss[:, 0]) - z)
            ways = z[:, None] + step[:, None] * np.array(SHORTENED)
            there, ahead = self.linear(ways)
            costs = self.cost(ways, there)
            best = int(np.argmin(costs))
            if costs[best] > float(self.cost(z[:, None], miss)[0]) - SETTLED:
                break
            z = ways[:, best]
            miss, by_z = (there[:, :1], ahead) if best == 0 else self.linear(z[:, None])
        covariance: Array = np.asarray(np.linalg.inv(by_z.T @ by_z + np.eye(self.size)), dtype=np.float64)
        return z, covariance

    def drawn(self, seed: int, draws: int, remember: Remember | None = None) -> Drawn:
        """Return draws of the posterior: made, or as somebody remembers them."""

        def make() -> Drawn:
            return self.draw(self.most_probable(), np.random.default_rng(seed), draws)

        if remember is None:
            return make()
        known = remember(repr((self.build, self.visits, seed, draws)), make)
        return known if known.z.shape == (self.size, draws) else make()

    def draw(self, found: tuple[Array, Array], chance: np.random.Generator, draws: int) -> Drawn:
        """Return draws of the posterior."""
        middle, covariance = found
        best: tuple[float, Array, Array, tuple[Outcome, ...]] | None = None
        tried = TRIED + TRIED // 2 * (len(self.visits) - 1)
        for turn in range(3):
            root = np.linalg.cholesky(covariance * WIDER**2 + 1e-9 * np.eye(self.size))
            t = chance.standard_normal((self.size, tried))
            z = middle[:, None] + root @ t
            outcomes = self.outcomes(z, QUICK, nitric_oxide=self.nitric_oxide)
            log_weight = -self.cost(z, self.misses(outcomes)) + 0.5 * np.sum(t**2, axis=0)
            weight = np.exp(log_weight - log_weight.max())
            weight /= weight.sum()
            effective = float(1.0 / np.sum(weight**2))
            if best is None or effective > best[0]:
                best = effective, z, weight, outcomes
            if effective >= ENOUGH:
                break
            middle = z @ weight
            spread = (z - middle[:, None]) * np.sqrt(weight)
            share = 0.5 / (turn + 1)
            covariance = (1 - share) * (spread @ spread.T) * tried / (tried - 1) + share * covariance
        assert best is not None
        effective, z, weight, outcomes = best
        at = np.searchsorted(np.cumsum(weight), (np.arange(draws) + chance.random()) / draws)
        at = np.minimum(at, tried - 1)
        return Drawn(z[:, at], effective, tuple(taken(one, at, tried) for one in outcomes))
