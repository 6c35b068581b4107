"""Amounts of information, of loss saved and of doubt cut, from a joint table of outcomes and hypotheses.

A joint table ``J[..., o, h]`` is proportional to P(outcome o, hypothesis h); leading axes are looks.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
LN2 = float(np.log(2.0))


def x_log_x(x: Floats) -> Floats:
    """Return x ln x, 0 at 0. [nats]"""
    result: Floats = x * np.log(x + 1e-300)
    return result


def entropy(p: ArrayLike) -> float:
    """Return the entropy of a distribution over all its cells. [bit]

    >>> entropy([0.5, 0.25, 0.25])
    1.5
    """
    p = np.asarray(p, dtype=float)
    total = p.sum()
    return float(np.log(total) - x_log_x(p).sum() / total) / LN2


def information(joint: Floats) -> Floats:
    """Return the mutual information of outcomes and hypotheses, for each look. [bit]

    Parameters
    ----------
    joint : array [..., O, H]
        Proportional to P(o, h).

    Notes
    -----
    I = H(sum_h p_h P(o|h)) - sum_h p_h H(P(o|h)), written as H(o) + H(h) - H(o, h) of the table made to add up to 1.
    """
    outcomes, hypotheses = joint.sum(axis=-1), joint.sum(axis=-2)
    total = outcomes.sum(axis=-1)
    nats = x_log_x(joint).sum(axis=(-2, -1)) - x_log_x(outcomes).sum(axis=-1) - x_log_x(hypotheses).sum(axis=-1)
    result: Floats = (nats / total + np.log(total)) * (1 / LN2)
    return np.asarray(np.maximum(result, 0.0))


def loss_saved(joint: Floats, loss: Floats) -> Floats:
    """Return how much expected loss an outcome saves when one acts on it (EVSI), for each look.

    min_a E[loss] now minus the expectation over outcomes of min_a E[loss | o]; never below 0, never above what
    certainty would save.

    Parameters
    ----------
    joint : array [..., O, H]
    loss : array [actions, H]
        In any unit; the answer has the same.
    """
    total = joint.sum(axis=(-2, -1))
    now = (joint.sum(axis=-2) @ loss.T).min(axis=-1)
    then = (joint @ loss.T).min(axis=-1).sum(axis=-1)
    return np.asarray(np.maximum((now - then) / total, 0.0))


def certainty_saves(p: ArrayLike, loss: ArrayLike) -> float:
    """Return how much expected loss would be saved by knowing the hypothesis (EVPI)."""
    p, loss = np.asarray(p, dtype=float), np.asarray(loss, dtype=float)
    return float((loss @ p).min() - p @ loss.min(axis=0))


def edges_cut(joint: Floats, decision: Sequence[int] | NDArray[np.intp]) -> Floats:
    """Return the expected weight of edges that a look cuts (EC2), for each look.

    Pairs of hypotheses with different decisions are edges of weight p_i p_j; after outcome o, p_i P(o|i) p_j P(o|j)
    of it remains (Golovin, Krause and Ray 2010; with noise the outcomes' noise is part of the hypothesis, which
    gives the same).

    Parameters
    ----------
    joint : array [..., O, H]
    decision : sequence of int [H]
        Which decision each hypothesis leads to.
    """
    onto = np.eye(int(np.max(decision)) + 1)[np.asarray(decision)]
    p = joint / joint.sum(axis=(-2, -1), keepdims=True)

    def between(weights: Floats) -> Floats:
        """Weight of all edges: half of (square of the sum minus squares of the decisions' sums)."""
        result: Floats = 0.5 * (weights.sum(axis=-1) ** 2 - ((weights @ onto) ** 2).sum(axis=-1))
        return result

    return np.asarray(np.maximum(between(p.sum(axis=-2)) - between(p).sum(axis=-1), 0.0))


def decibans(odds_factor: float) -> float:
    """Return the weight of evidence 10 log10(P(o|h) / P(o|not h)).

    >>> round(decibans(2), 3)
    3.01
    """
    return float(10.0 * np.log10(odds_factor))


def updated(prior: float, factor: float) -> float:
    """Return the posterior probability: prior odds times factor.

    >>> updated(0.2, 8 / 3)
    0.4
    """
    odds = prior / (1.0 - prior) * factor
    return odds / (1.0 + odds)
