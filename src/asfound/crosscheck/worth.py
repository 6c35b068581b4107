"""What another measurement would be worth: for a wanted value, and for telling who lies."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from asfound.crosscheck.elimination import take_out
from asfound.crosscheck.explanations import Screen
from asfound.crosscheck.identify import Identification
from asfound.crosscheck.marks import matrix
from asfound.crosscheck.reconcile import Reconciled
from asfound.crosscheck.steps import Release
from asfound.errors import InputError
from asfound.quantities.typing import Array

NODES = 15
"""Points at which each explanation's prediction is looked at (Gauss and Hermite)."""
MASS = 0.995
"""Explanations are kept, the most probable first, until they hold this much. [1]"""
MOST = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Worth:
    """What measuring something once more, with another instrument, is expected to bring."""

    name: str
    u: float
    """Standard uncertainty of the new measurement."""
    before: float
    after: float

    @property
    def gain(self) -> float:
        """After less before for a probability, share of the uncertainty that goes for a wanted value. [1]"""
        if self.before == np.inf:
            return 1.0 if np.isfinite(self.after) else 0.0
        return 1.0 - self.after / self.before if self.before else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WorthForSuspects(Worth):
    """``before`` and ``after``: probability of naming the true explanation, now and as expected after it."""

    bits: float
    """Expected information about which explanation is true. [bit]"""

    @property
    def gain(self) -> float:
        """How much more probable it will be to name the true explanation. [1]"""
        return self.after - self.before


def worth_for_quantity(found: Reconciled, wanted: str, candidates: Mapping[str, float]) -> tuple[Worth, ...]:
    """Return what each candidate would leave of the uncertainty of a wanted value, the best first.

    Parameters
    ----------
    found : Reconciled
        Linearised where it is; exact for linear balances.
    wanted : str
        A reading or an unmeasured value; infinite before where it does not follow from the readings.
    candidates : mapping of str to float
        Readings and unmeasured values that could be measured by another instrument, with the standard uncertainty that
        this would have.
    """
    adjusted = _Adjusted(found)
    before = adjusted.uncertainty(wanted)
    made = [
        Worth(name=name, u=u, before=before, after=adjusted.uncertainty_with(wanted, name, _positive(name, u)))
        for name, u in candidates.items()
    ]
    return tuple(sorted(made, key=lambda one: one.after))


class _Adjusted:
    """True values after reconciliation, as combinations of the readings' errors, so that covariances are products.

    Sizes of released errors are unmeasured values too.
    """

    def __init__(self, found: Reconciled) -> None:
        self.found = found
        self.effects = matrix(found.released, found.readings)
        self.by_x = found.linear.by_x
        by_u = np.column_stack([found.linear.by_u, -self.by_x @ self.effects])
        covariance = found.readings.covariance
        scale = np.sqrt(np.diag(covariance))
        self.scale = np.where(scale > 0, scale, 1.0)
        self.correlation = covariance / self.scale[:, None] / self.scale
        self.checking = take_out(self.by_x, by_u, self.scale, self.correlation)

    def row(self, name: str) -> Array | None:
        """Return what one standard uncertainty of each reading does to a value; None where it does not follow. (n,)"""
        of_x, of_u = _true_value(self.found, name, self.effects)
        if bool(np.any(of_u[~self.checking.observable])):
            return None
        return (of_x - of_u @ (self.checking.unmeasured_by_residual @ self.by_x)) * self.scale

    def covariance(self, one: Array, other: Array) -> float:
        """Return the covariance of two values after reconciliation: what the checks know falls away."""
        both = self.correlation @ np.column_stack([one, other])
        pulled = self.checking.marks @ both
        return float(one @ both[:, 1] - pulled[:, 0] @ pulled[:, 1])

    def uncertainty(self, wanted: str) -> float:
        """Return u of a value; infinite where it does not follow from the readings."""
        row = self.row(wanted)
        return float("inf") if row is None else float(np.sqrt(max(self.covariance(row, row), 0.0)))

    def uncertainty_with(self, wanted: str, again: str, u: float) -> float:
        """Return u of a wanted value when another is measured once more with u.

        A new measurement takes cov(wanted, again)^2 / (var(again) + u^2) off the variance; where one of the two does
        not follow yet, the balances are taken up anew with the new measurement among them.
        """
        row, other = self.row(wanted), self.row(again)
        if row is None or other is None:
            return _uncertainty(self.found, wanted, again, u)
        left = self.covariance(row, row) - self.covariance(row, other) ** 2 / (self.covariance(other, other) + u**2)
        return float(np.sqrt(max(left, 0.0)))


def _positive(name: str, u: float) -> float:
    if not u > 0:
        raise InputError(name, f"{u:g}", "is no standard uncertainty", allowed="above 0")
    return u


def _uncertainty(found: Reconciled, wanted: str, again: str, u: float) -> float:
    """Return u of a wanted value when another is measured once more; infinite where it does not follow.

    The new measurement is a reading with a balance of its own.
    """
    readings, n = found.readings, len(found.readings.names)
    effects = matrix(found.released, readings)
    by_x, by_u = found.linear.by_x, np.column_stack([found.linear.by_u, -found.linear.by_x @ effects])
    covariance = readings.covariance
    of_x, of_u = _true_value(found, again, effects)
    by_x = np.block([[by_x, np.zeros((len(by_x), 1))], [-of_x, np.ones(1)]])
    by_u = np.vstack([by_u, -of_u])
    covariance = np.pad(covariance, (0, 1))
    covariance[-1, -1] = u**2
    scale = np.sqrt(np.diag(covariance))
    scale = np.where(scale > 0, scale, 1.0)
    correlation = covariance / scale[:, None] / scale
    checking = take_out(by_x, by_u, scale, correlation)
    of_x, of_u = _true_value(found, wanted, effects)
    if bool(np.any(of_u[~checking.observable])):
        return float(np.inf)
    row = np.concatenate([of_x, np.zeros(len(scale) - n)]) - of_u @ (checking.unmeasured_by_residual @ by_x)
    row = row * scale
    pulled = checking.marks @ (correlation @ row)
    return float(np.sqrt(max(float(row @ correlation @ row) - float(pulled @ pulled), 0.0)))


def _true_value(found: Reconciled, name: str, effects: Array) -> tuple[Array, Array]:
    """Return a true value as a combination of readings without noise (n,), unmeasured values and error sizes (p + k,).

    A reading without noise is the true value and the errors released in it.
    """
    names, hidden = found.readings.names, found.balances.unmeasured
    of_x, of_u = np.zeros(len(names)), np.zeros(len(hidden) + effects.shape[1])
    if name in hidden:
        of_u[hidden.index(name)] = 1.0
        return of_x, of_u
    if name not in names:
        raise InputError("value", name, "stands in no balance", allowed=", ".join([*names, *hidden]))
    at = names.index(name)
    of_x[at] = 1.0
    of_u[len(hidden) :] = -effects[at]
    return of_x, of_u


@dataclass(frozen=True, slots=True, eq=False)
class _Hypotheses:
    """Explanations, member by member, with what each says of every value."""

    probability: Array
    """Shape (h,)."""
    mean: Array
    """Shape (h, n + p)."""
    variance: Array
    """Of the error of the mean; infinite where the value does not follow, shape (h, n + p)."""


def worth_for_suspects(who: Identification, candidates: Mapping[str, float]) -> tuple[WorthForSuspects, ...]:
    """Return what each candidate would do to the probability of naming the true explanation, the best first.

    Every explanation predicts the true value of every quantity; a measurement by another instrument, which has none of
    the errors in question, is worth most where the predictions of the probable explanations are far apart. Explanations
    have as many errors as the verdict, or fewer. Sizes are the least-squares ones; linear around the point where the
    balances were linearised last.

    Parameters
    ----------
    candidates : mapping of str to float
        Readings and unmeasured values that could be measured, with the standard uncertainty that this would have.
    """
    found = who.best
    errors = {"nobody": 1, "one": 1}.get(who.verdict, 2)
    hypotheses = _hypotheses(who.screen, found, errors)
    names = (*found.readings.names, *found.balances.unmeasured)
    made = []
    for name, u in candidates.items():
        if name not in names:
            raise InputError("candidate", name, "stands in no balance", allowed=", ".join(names))
        at = names.index(name)
        spread = np.sqrt(hypotheses.variance[:, at] + _positive(name, u) ** 2)
        after, bits = _expected(hypotheses.probability, hypotheses.mean[:, at], spread)
        before = float(hypotheses.probability.max())
        made.append(WorthForSuspects(name=name, u=u, before=before, after=after, bits=bits))
    return tuple(sorted(made, key=lambda one: (-one.after, -one.bits)))


def _hypotheses(screen: Screen, found: Reconciled, errors: int) -> _Hypotheses:
    """Return the probable explanations with their predictions."""
    readings, parity = found.readings, found.parity
    pull = readings.correlation @ parity.marks.T
    to_u = found.by_x
    probability, mean, variance = [], [], []
    for names, share in screen.ranked(errors, MASS, MOST):
        directions = matrix(screen.named(names), readings) / readings.scale[:, None]
        release = Release.of(parity.marks @ directions, directions)
        size = release.solve @ parity.vector
        left = parity.vector - release.marks @ size
        x = readings.values - readings.scale * (directions @ size + pull @ left)
        covariance = readings.correlation - pull @ pull.T
        if names:
            opened = directions - pull @ release.marks
            covariance = covariance + opened @ (release.solve @ release.solve.T) @ opened.T
        covariance = covariance * readings.scale[:, None] * readings.scale
        u = found.point.u + to_u @ (x - found.x)
        var_u = np.einsum("ij,jk,ik->i", to_u, covariance, to_u)
        var_u = np.where(found.checking.observable, var_u, np.inf)
        probability.append(share)
        mean.append(np.concatenate([x, u]))
        variance.append(np.concatenate([np.clip(np.diag(covariance), 0.0, None), var_u]))
    total = np.array(probability)
    return _Hypotheses(total / total.sum(), np.array(mean), np.array(variance))


def _expected(probability: Array, mean: Array, spread: Array) -> tuple[float, float]:
    """Return the expected largest posterior probability and the expected information of a measurement.

    The result is distributed as the mixture of normals (h,); integrated over each of them.
    """
    if not np.isfinite(spread).all():
        return float(probability.max()), 0.0
    nodes, weights = np.polynomial.hermite_e.hermegauss(NODES)
    weights = weights / weights.sum()
    z = mean[:, None] + spread[:, None] * nodes  # (h, nodes): results, if that explanation is true
    off = (z[..., None] - mean) / spread
    joint = probability * np.exp(-0.5 * off**2) / spread
    posterior = joint / joint.sum(axis=-1, keepdims=True)
    mass = probability[:, None] * weights
    after = float((mass * posterior.max(axis=-1)).sum())
    own = np.take_along_axis(posterior, np.arange(len(mean))[:, None, None], axis=-1)[..., 0]
    bits = float((mass * np.log2(np.maximum(own, 1e-300) / probability[:, None])).sum())
    return max(after, float(probability.max())), max(bits, 0.0)
