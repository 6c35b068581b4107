"""How good probabilities are, and how to mend them: scores, calibration, temperature, rates from confirmed cases."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from asfound.errors import InputError
from asfound.evidence.model import OTHER, Kind

if TYPE_CHECKING:
    from asfound.evidence.model import Model
    from asfound.evidence.observations import Observation

Floats = NDArray[np.float64]
BINS = 15


def brier(p: ArrayLike, truth: ArrayLike) -> float:
    """Return the mean over cases of sum_k (p_k - y_k)^2.

    Parameters
    ----------
    p : array [N, K]
        Probabilities of the classes.
    truth : array of int [N]
        The true class.
    """
    p, truth = np.asarray(p, dtype=float), np.asarray(truth)
    return float(np.mean((p**2).sum(axis=1) - 2 * p[np.arange(len(p)), truth] + 1))


def brier_binary(p: ArrayLike, truth: ArrayLike) -> float:
    """Return the mean of (p - y)^2, the binary form: half of ``brier`` with two classes.

    >>> round(brier_binary([0.1, 0.9, 0.8, 0.3], [0, 1, 1, 0]), 6)
    0.0375
    """
    return float(np.mean((np.asarray(p, dtype=float) - np.asarray(truth, dtype=float)) ** 2))


def log_loss(p: ArrayLike, truth: ArrayLike, *, least: float = 1e-15) -> float:
    """Return the mean of -ln p(true class); probabilities below ``least`` count as that. [nats]"""
    p, truth = np.asarray(p, dtype=float), np.asarray(truth)
    return float(-np.mean(np.log(np.maximum(p[np.arange(len(p)), truth], least))))


def calibration_error(p: ArrayLike, truth: ArrayLike, *, bins: int = BINS) -> float:
    """Return the expected calibration error of the top probability: sum_b n_b / N |confidence - accuracy|.

    Equal bins, the upper edge belongs to a bin (Guo et al. 2017).
    """
    p, truth = np.asarray(p, dtype=float), np.asarray(truth)
    top = p.max(axis=1)
    right = p.argmax(axis=1) == truth
    place = np.clip(np.ceil(top * bins).astype(int) - 1, 0, bins - 1)
    weight = np.bincount(place, minlength=bins)
    gap = np.bincount(place, weights=top, minlength=bins) - np.bincount(place, weights=right, minlength=bins)
    return float(np.abs(gap).sum() / weight.sum())


def tempered(log_p: ArrayLike, temperature: float) -> Floats:
    """Return probabilities with the log probabilities multiplied by a temperature (below 1 softens) [N, K]."""
    log = np.asarray(log_p, dtype=float) * temperature
    log = log - log.max(axis=-1, keepdims=True)
    weight = np.exp(log)
    result: Floats = weight / weight.sum(axis=-1, keepdims=True)
    return result


def fit_temperature(
    log_likelihood: ArrayLike, truth: ArrayLike, *, log_prior: ArrayLike = 0.0, low: float = 0.05, high: float = 3.0
) -> float:
    """Return the factor on the log likelihoods that gives the least log loss.

    Parameters
    ----------
    log_likelihood : array [N, K]
        Natural logarithms; the prior is not tempered.
    truth : array of int [N]
    log_prior : array [K]
    low, high : float
        Between which it is sought, by golden section on a logarithmic scale.
    """
    log, prior, truth = np.asarray(log_likelihood, dtype=float), np.asarray(log_prior, dtype=float), np.asarray(truth)

    def loss(x: float) -> float:
        return log_loss(tempered(prior + np.exp(x) * log, 1.0), truth, least=1e-300)

    a, b = np.log(low), np.log(high)
    ratio = (np.sqrt(5.0) - 1) / 2
    c, d = b - ratio * (b - a), a + ratio * (b - a)
    at_c, at_d = loss(c), loss(d)
    while b - a > 1e-4:
        if at_c <= at_d:
            b, d, at_d = d, c, at_c
            c = b - ratio * (b - a)
            at_c = loss(c)
        else:
            a, c, at_c = c, d, at_d
            d = a + ratio * (b - a)
            at_d = loss(d)
    return float(np.exp((a + b) / 2))


@dataclass(frozen=True, slots=True)
class Case:
    """A case whose truth was confirmed: its lineage, the variants of the slots that were confirmed, and what had
    been observed.
    """

    lineage: str
    variants: Mapping[str, str]
    observations: tuple[Observation, ...] = ()


@dataclass(frozen=True, slots=True)
class Rates:
    """Rates fitted from confirmed cases, with how many facts each rests on."""

    mu: float
    w: float
    unknown: float
    kinds: tuple[Kind, ...]
    slots: int
    cases: int
    statements: Mapping[str, int]


def fit_rates(model: Model, cases: Sequence[Case], *, pseudo: float = 10.0) -> Rates:
    """Return rates fitted from confirmed cases, drawn towards the model's present ones.

    Parameters
    ----------
    model : Model
    cases : sequence of Case
    pseudo : float
        How many cases (slots for mu and w, statements for a kind) the present values count for.

    Notes ----- mu and w are the shares of slots of catalogued lineages with a swapped variant and with one that is
    not in the catalogue; unknown is the share of cases whose lineage is ``other``; the error of a kind is the most
    probable one under P(o | v) = (1 - e) theta + e b for its statements about confirmed slots, with a beta prior,
    by expectation and maximisation. Statements of sources are left out: their right and wrong is not confirmed by
    the case.
    """
    if pseudo < 0:
        raise InputError("pseudo", f"{pseudo}", "is no count", allowed="0 and more")
    swapped = foreign = slots = unknown = 0
    for case in cases:
        unknown += case.lineage == OTHER
        lineage = next((one for one in model.lineages if one.name == case.lineage), None)
        for slot, variant in case.variants.items():
            native = None if lineage is None else lineage.native.get(slot)
            if native is None:
                continue
            names = {native} if isinstance(native, str) else {name for name, share in native.items() if share > 0}
            slots += 1
            foreign += variant == OTHER and OTHER not in names
            swapped += variant != OTHER and variant not in names
    total = slots + pseudo
    kinds, statements = [], {}
    for kind in model.kinds.values():
        told = statement_chances(model, cases, kind.name)
        statements[kind.name] = len(told)
        kinds.append(Kind(kind.name, fit_error(told, kind.error, pseudo), kind.wrong, kind.slip))
    return Rates(
        mu=(swapped + pseudo * model.mu) / total if total else model.mu,
        w=(foreign + pseudo * model.w) / total if total else model.w,
        unknown=(unknown + pseudo * model.unknown) / (len(cases) + pseudo) if cases or pseudo else model.unknown,
        kinds=tuple(kinds),
        slots=slots,
        cases=len(cases),
        statements=statements,
    )


def statement_chances(model: Model, cases: Sequence[Case], kind: str) -> list[tuple[float, float]]:
    """Return for each statement of a kind about a confirmed slot (theta.l, b.l): its chance if right, and if it
    says nothing.
    """
    c = model.compiled
    out = []
    for case in cases:
        for one in case.observations:
            if one.kind != kind or one.undecided or one.source is not None:
                continue
            k = model.character_index(one.character)
            slot = model.slots[c.slot_list[k]].name
            if slot in case.variants:
                v = model.variant_names(slot).index(case.variants[slot])
                likelihood = c.stated(k, one)
                out.append((float(c.theta[k][v] @ likelihood), float(c.background[k] @ likelihood)))
    return out


def fit_error(told: Sequence[tuple[float, float]], start: float, pseudo: float) -> float:
    """Return the most probable error of a kind; the start value where nothing was told."""
    if not told:
        return start
    right, nothing = np.array(told).T
    e = min(max(start, 1e-3), 0.999)
    for _ in range(500):
        mixed = (1 - e) * right + e * nothing
        share = np.where(mixed > 0, e * nothing / np.where(mixed > 0, mixed, 1.0), 0.0)
        after = (float(share.sum()) + pseudo * start) / (len(told) + pseudo)
        if abs(after - e) < 1e-12:
            break
        e = after
    return e
