"""A flat list learnt from confirmed cases: every case is a hypothesis, and its class is what it leads to.

A new case resembles one of the old ones of its class: P(state | case) = (1 - e) [it is the old case's state] + e
P(state | class), with the class's states shrunk to the overall frequency. With e = 1 this is naive Bayes, with e
near 0 the nearest old case. Each class also has one hypothesis for a case unlike any seen (its states by P(state |
class)), so that a class without cases stays possible. A temperature on a class's log likelihood, not on its prior,
mends what the characters' independence claims too much.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from asfound.errors import InputError
from asfound.evidence.calibrate import fit_temperature, log_loss, tempered
from asfound.evidence.flat import Flat

Floats = NDArray[np.float64]
Integers = NDArray[np.intp]
ERRORS = (1.0, 0.3, 0.1, 0.05)
"""Errors that are tried."""
UNLIKE = 0.1
"""For how many cases of its class the hypothesis of a case unlike any seen counts."""
LEAST = 1e-300


@dataclass(frozen=True, slots=True)
class Learnt:
    """A list learnt from cases, with the error and the temperatures that suited held-back cases best.

    Characters repeat each other, the more the more of them are seen: ``temperature`` is for when all are seen,
    ``early`` for when few are.
    """

    flat: Flat
    error: float
    temperature: float
    classes: int
    early: float = 1.0

    @property
    def group(self) -> Integers:
        """Class of each hypothesis [H]."""
        assert self.flat.group is not None
        return self.flat.group

    @property
    def prior(self) -> Floats:
        """Prior of each class [classes]."""
        onto = np.equal.outer(np.arange(self.classes), self.group)
        result: Floats = np.asarray(onto @ self.flat.prior, dtype=float)
        return result

    def classify(self, observed: Mapping[int, int], *, early: bool = False) -> Floats:
        """Return P(class | observations) [classes]; ``early``: few characters will be seen."""
        log = self.log_classes(self.flat.log_likelihood(observed)[None])
        share: Floats = tempered(np.log(self.prior) + (self.early if early else self.temperature) * log, 1.0)[0]
        return share

    def log_classes(self, log_likelihood: Floats) -> Floats:
        """Return log P(observations | class) [N, classes] from the hypotheses' log likelihoods [N, H]."""
        most = log_likelihood.max(axis=1, keepdims=True)
        weight = np.exp(log_likelihood - most) * self.flat.prior
        out = np.stack([weight[:, self.group == c].sum(axis=1) for c in range(self.classes)], axis=1)
        return np.asarray(np.log(np.maximum(out / self.prior, LEAST)) + most)

    def hypotheses(self, observed: Mapping[int, int], *, early: bool = False) -> Floats:
        """Return P(hypothesis | observations) with the classes tempered, what ranking starts from [H]."""
        log = self.flat.log_likelihood(observed) + self.flat.log_prior
        weight = np.exp(log - log.max())
        whole = np.bincount(self.group, weights=weight, minlength=self.classes)
        share = self.classify(observed, early=early)
        result: Floats = weight * (share / np.maximum(whole, LEAST))[self.group]
        return np.asarray(result / result.sum())


def from_cases(
    states: ArrayLike, truth: ArrayLike, sizes: Sequence[int], *, classes: int, error: float, pseudo: float = 0.1
) -> Flat:
    """Return the flat list of these cases.

    Parameters
    ----------
    states : array of int [N, K]
        State of each character of each case, -1 where it was not recorded.
    truth : array of int [N]
        Class of each case.
    sizes : sequence of int [K]
        How many states each character has.
    classes : int
    error : float
        e above. [0 to 1]
    pseudo : float
        Pseudo-count per state by which a class's states are shrunk to the overall frequency, and per class in its
        prior.
    """
    X, y = np.asarray(states, dtype=np.intp), np.asarray(truth, dtype=np.intp)
    if not 0 <= error <= 1:
        raise InputError("error", f"{error}", "is no probability", allowed="0 to 1")
    if X.shape != (len(y), len(sizes)):
        raise InputError("states", f"{X.shape}", "is no shape", allowed=f"{(len(y), len(sizes))}")
    group = np.concatenate([y, np.arange(classes)])
    codes, tables = [], []
    for k, size in enumerate(sizes):
        known = X[:, k] >= 0
        counts = np.zeros((classes, size))
        np.add.at(counts, (y[known], X[known, k]), 1)
        overall = (counts.sum(axis=0) + pseudo) / (counts.sum() + pseudo * size)
        theta = (counts + pseudo * size * overall) / (counts.sum(axis=1, keepdims=True) + pseudo * size)
        mixed = (1 - error) * np.concatenate([np.eye(size), np.zeros((1, size))])[None] + error * theta[:, None]
        mixed[:, size] = theta  # not recorded
        column = np.concatenate([np.where(known, X[:, k], size), np.full(classes, size)])
        used, code = np.unique(group * (size + 1) + column, return_inverse=True)
        if len(used) > 256:
            raise InputError(f"sizes/{k}", f"{len(used)} kinds of state by class", "are too many", allowed="up to 256")
        codes.append(code)
        tables.append(mixed.reshape(-1, size)[used])
    number = np.bincount(y, minlength=classes)
    of_class = (number + pseudo) / (number + pseudo).sum()
    each = of_class / (number + UNLIKE)
    prior = np.concatenate([each[y], UNLIKE * each])
    return Flat(prior, np.array(codes), tables, group=group)


def learn(
    states: ArrayLike,
    truth: ArrayLike,
    sizes: Sequence[int],
    *,
    classes: int,
    errors: Sequence[float] = ERRORS,
    folds: int = 5,
    few: int = 2,
    seed: int = 0,
    most: int = 2000,
) -> Learnt:
    """Return the list with the error and the temperatures that give held-back cases the least log loss.

    Parameters
    ----------
    states, truth, sizes, classes
        As for `from_cases`.
    errors : sequence of float
        Errors that are tried; the one is taken with which all characters together do best.
    folds : int
        In how many parts, even over the classes, the cases are held back.
    few : int
        The early temperature is fitted on so many characters, those that tell most by themselves; it stays 1 unless it
        pays by more than its standard error.
    most : int
        So many cases, drawn, are used to choose.
    """
    X, y = np.asarray(states, dtype=np.intp), np.asarray(truth, dtype=np.intp)
    part = stratified(y, folds, seed)
    tried = np.sort(np.random.default_rng(seed).permutation(len(y))[:most])
    best: tuple[float, float, float, float] | None = None
    for error in errors:
        all_seen, few_seen, priors = held_back(X, y, sizes, classes, error, part, tried, few)
        temperature = fit_temperature(all_seen, y[tried], log_prior=priors, high=1.0)
        loss = log_loss(tempered(priors + temperature * all_seen, 1.0), y[tried], least=LEAST)
        if best is None or loss < best[0] - 1e-12:
            best = (loss, error, temperature, if_it_pays(few_seen, y[tried], priors))
    assert best is not None
    _, error, temperature, early = best
    return Learnt(from_cases(X, y, sizes, classes=classes, error=error), error, temperature, classes, early)


def if_it_pays(log: Floats, truth: Integers, priors: Floats) -> float:
    """Return the best temperature where it lowers the log loss by more than its standard error, else 1."""
    temperature = fit_temperature(log, truth, log_prior=priors, high=1.0)
    place = np.arange(len(truth))
    plain, warm = (tempered(priors + t * log, 1.0)[place, truth] for t in (1.0, temperature))
    gain = np.log(np.maximum(warm, LEAST)) - np.log(np.maximum(plain, LEAST))
    return temperature if gain.mean() > gain.std() / np.sqrt(len(gain)) else 1.0


def held_back(
    X: Integers,
    y: Integers,
    sizes: Sequence[int],
    classes: int,
    error: float,
    part: Integers,
    tried: Integers,
    few: int,
) -> tuple[Floats, Floats, Floats]:
    """Return log likelihoods of the tried cases by all looks and by few, and log priors, each from the other parts."""
    all_seen, few_seen, priors = (np.zeros((len(y), classes)) for _ in range(3))
    for fold in range(int(part.max()) + 1):
        held = tried[part[tried] == fold]
        if not len(held):
            continue
        inside = part != fold
        flat = from_cases(X[inside], y[inside], sizes, classes=classes, error=error)
        learnt = Learnt(flat, error, 1.0, classes)
        all_seen[held] = learnt.log_classes(log_likelihoods(flat, X[held]))
        priors[held] = np.log(learnt.prior)
        seen = X[held].copy()
        seen[:, [k for k, _, _ in flat.rank(flat.prior)[few:]]] = -1
        few_seen[held] = learnt.log_classes(log_likelihoods(flat, seen))
    return all_seen[tried], few_seen[tried], priors[tried]


def log_likelihoods(flat: Flat, states: Integers) -> Floats:
    """Return log P(case | hypothesis) of many cases [N, H]; states below 0 were not recorded."""
    out = np.zeros((len(states), len(flat.prior)))
    for k in range(states.shape[1]):
        known = states[:, k] >= 0
        if known.any():
            out[known] += flat.log_tables[k].T[states[known, k]][:, flat.codes[k]]
    return out


def stratified(truth: Integers, folds: int, seed: int = 0) -> Integers:
    """Return the fold of each case, even over the classes; the cases of each class are shuffled in turn by one
    generator.
    """
    random = np.random.default_rng(seed)
    out = np.zeros(len(truth), dtype=np.intp)
    for c in range(int(truth.max()) + 1):
        mine = random.permutation(np.flatnonzero(truth == c))
        out[mine] = np.arange(len(mine)) % folds
    return out
