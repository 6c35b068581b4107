"""Flat lists and lists learnt from cases: against the plain formula, in double precision."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.evidence import Character, Kind, Lineage, Look, Model, NothingFits, Observation, Slot, posterior, rank
from asfound.evidence.cases import from_cases, learn, log_likelihoods
from asfound.evidence.flat import Flat
from asfound.evidence.information import information


def some(seed: int, *, H: int = 40, K: int = 6, groups: int = 0) -> Flat:
    random = np.random.default_rng(seed)
    sizes = random.integers(1, 5, K)
    tables = [random.dirichlet(np.ones(random.integers(2, 5)), size) for size in sizes]
    codes = np.array([random.integers(0, size, H) for size in sizes])
    return Flat(random.dirichlet(np.ones(H)), codes, tables, group=random.integers(0, groups, H) if groups else None)


@given(st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_posterior_and_bits_by_the_plain_formula(seed):
    flat = some(seed)
    observed = {1: 0, 3: (0, 1)}
    p = flat.prior * flat.tables[1][flat.codes[1], 0] * flat.tables[3][flat.codes[3]][:, [0, 1]].sum(axis=1)
    p /= p.sum()
    assert flat.posterior(observed) == pytest.approx(p, abs=1e-14)
    for k, bits in enumerate(flat.bits(p)):
        joint = flat.tables[k][flat.codes[k]].T * p
        assert bits == pytest.approx(float(information(joint)), abs=2e-6)


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_bits_about_groups(seed):
    flat = some(seed, groups=3)
    p = flat.posterior({0: 1})
    for k, bits in enumerate(flat.bits(p)):
        joint = flat.tables[k][flat.codes[k]].T * p
        grouped = np.stack([joint[:, flat.group == g].sum(axis=1) for g in range(3)], axis=1)
        assert bits == pytest.approx(float(information(grouped)), abs=2e-6)


def test_a_flat_list_is_the_slot_model_with_one_slot():
    states = ("a", "b", "c")
    truth = {"v0": "a", "v1": "b", "v2": "b"}
    model = Model(
        [Lineage(v, p, {"s": v}) for v, p in zip(truth, (0.5, 0.3, 0.2), strict=True)],
        [Slot("s", list(truth))],
        [Character("k", "s", states, truth), Character("l", "s", states, {"v0": "a", "v1": "a", "v2": "c"})],
        [Kind("seen", 0.05)],
        mu=0.0,
        w=0.0,
        unknown=0.0,
    )
    tables = [model.compiled.table(k, 0.05)[:, :3].T for k in range(2)]
    flat = Flat([0.5, 0.3, 0.2], [[0, 1, 2], [0, 1, 2]], [t / t.sum(axis=1, keepdims=True) for t in tables])
    assert flat.posterior({0: 1}) == pytest.approx(
        list(posterior(model, [Observation("k", ("b",), "seen")]).lineages.values()), abs=1e-12
    )
    ranking = rank(model, [], (Look("l", ("l",), "seen", 1.0, undecided_chance=0.0),))
    assert flat.bits(flat.posterior({}))[1] == pytest.approx(ranking.looks[0].bits, abs=1e-5)


def test_rank_order_and_skip():
    flat = some(3)
    p = flat.posterior({})
    ranked = flat.rank(p, minutes=2.0, skip=[0])
    scores = np.round([score for _, _, score in ranked], 9).tolist()
    assert scores == sorted(scores, reverse=True)
    assert 0 not in [k for k, _, _ in ranked]
    assert all(score == pytest.approx(bits / 2) for _, bits, score in ranked)


def test_lists_that_cannot_be():
    with pytest.raises(InputError, match="no row"):
        Flat([1.0], [[1]], [np.ones((1, 2)) / 2])
    with pytest.raises(InputError, match="add up"):
        Flat([1.0], [[0]], [np.ones((1, 2))])
    with pytest.raises(InputError, match="priors"):
        Flat([0.5], [[0]], [np.ones((1, 2)) / 2])
    certain = Flat([1.0], [[0]], [np.array([[1.0, 0.0]])])
    with pytest.raises(NothingFits):
        certain.posterior({0: 1})


def test_learning_with_error_one_is_naive_bayes():
    random = np.random.default_rng(5)
    states, truth, sizes = random.integers(0, 3, (30, 4)), random.integers(0, 3, 30), [3, 3, 3, 3]
    truth[:3] = [0, 1, 2]
    flat = from_cases(states, truth, sizes, classes=3, error=1.0)
    p = flat.posterior({0: 1, 2: 0})
    ours = np.bincount(flat.group, weights=p)
    by_hand = np.array([(np.sum(truth == c) + 0.1) / 30.3 for c in range(3)])
    for k, seen in ((0, 1), (2, 0)):
        counts = np.array([[np.sum((truth == c) & (states[:, k] == s)) for s in range(3)] for c in range(3)])
        overall = (counts.sum(axis=0) + 0.1) / (counts.sum() + 0.3)
        theta = (counts + 0.3 * overall) / (counts.sum(axis=1, keepdims=True) + 0.3)
        by_hand = by_hand * theta[:, seen]
    assert ours == pytest.approx(by_hand / by_hand.sum(), abs=1e-12)


def test_learning_chooses_on_held_back_cases_and_missing_states_are_left_out():
    random = np.random.default_rng(1)
    truth = np.repeat([0, 1], 40)
    states = (truth[:, None] ^ (random.random((80, 6)) < 0.2)).astype(int)
    states[random.random(states.shape) < 0.1] = -1
    learnt = learn(states, truth, [2] * 6, classes=2)
    assert 0.05 <= learnt.temperature <= 3
    right = np.mean(
        [
            learnt.classify({k: int(s) for k, s in enumerate(row) if s >= 0}).argmax() == t
            for row, t in zip(states, truth, strict=True)
        ]
    )
    assert right >= 0.85
    logs = log_likelihoods(learnt.flat, states[:5])
    for n in range(5):
        assert logs[n] == pytest.approx(
            learnt.flat.log_likelihood({k: int(s) for k, s in enumerate(states[n]) if s >= 0})
        )
