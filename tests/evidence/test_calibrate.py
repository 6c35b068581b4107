"""Scores against a general library, temperature, and rates fitted from confirmed cases."""

from __future__ import annotations

import numpy as np
import pytest

from asfound.evidence import OTHER, Character, Kind, Lineage, Model, Observation, Slot, posterior
from asfound.evidence.calibrate import (
    Case,
    brier,
    brier_binary,
    calibration_error,
    fit_rates,
    fit_temperature,
    log_loss,
    tempered,
)


def some(n: int = 300, classes: int = 4, seed: int = 0):
    random = np.random.default_rng(seed)
    log = np.log(random.dirichlet(np.ones(classes), n))
    truth = np.array([random.choice(classes, p=np.exp(row)) for row in log])
    return log, truth


def test_scores_agree_with_a_general_library():
    """scikit-learn: log_loss, brier_score_loss of two classes."""
    metrics = pytest.importorskip("sklearn.metrics")
    log, truth = some()
    assert log_loss(np.exp(log), truth) == pytest.approx(
        metrics.log_loss(truth, np.exp(log), labels=range(4)), abs=1e-12
    )
    p, y = np.exp(log[:, 0]), (truth == 0).astype(int)
    assert brier_binary(p, y) == pytest.approx(metrics.brier_score_loss(y, p), abs=1e-12)
    assert brier(np.stack([1 - p, p], axis=1), y) == pytest.approx(2 * brier_binary(p, y))


def test_calibration_error_by_hand():
    """Two bins of fifteen are met: .5 (right half the time) and .9 (right always)."""
    p = np.array([[0.5, 0.5]] * 4 + [[0.9, 0.1]] * 4)
    truth = np.array([0, 0, 1, 1] + [0] * 4)
    assert calibration_error(p, truth) == pytest.approx(0.5 * 0.0 + 0.5 * 0.1)


def test_temperature_is_found_where_it_was_put():
    log, truth = some(4000)
    assert fit_temperature(log / 0.5, truth) == pytest.approx(0.5, rel=0.1)
    assert tempered(log, 1.0) == pytest.approx(np.exp(log))
    assert log_loss(tempered(log / 0.5, 0.5), truth) < log_loss(tempered(log / 0.5, 1.0), truth)


def confirmed(
    model: Model, number: int, *, mu: float, w: float, error: float, unknown: float, seed: int = 3
) -> list[Case]:
    """Draw cases from a model with other rates."""
    random = np.random.default_rng(seed)
    true = model.with_rates(mu=mu, w=w, unknown=unknown, kinds=[Kind("seen", error)])
    c = true.compiled
    cases = []
    for _ in range(number):
        g = random.choice(c.G, p=c.prior)
        variants, seen = {}, []
        for s, slot in enumerate(true.slots):
            v = random.choice(c.V, p=c.given[s, g])
            variants[slot.name] = true.variant_names(slot.name)[v]
            k = next(i for i, one in enumerate(true.characters) if one.slot == slot.name)
            p = c.table(k, error)[:, v]
            state = random.choice(len(p), p=p / p.sum())
            seen.append(Observation(true.characters[k].name, (true.characters[k].states[state],), "seen"))
        cases.append(Case(true.lineage_names[g], variants, tuple(seen)))
    return cases


def catalogue() -> Model:
    return Model(
        [Lineage(f"g{g}", 0.5, {f"s{i}": f"v{g}" for i in range(5)}) for g in range(2)],
        [Slot(f"s{i}", ["v0", "v1", "v2"]) for i in range(5)],
        [Character(f"k{i}", f"s{i}", ("a", "b", "c"), {"v0": "a", "v1": "b", "v2": "c"}) for i in range(5)],
        [Kind("seen", 0.05)],
    )


def test_rates_are_found_where_they_were_put():
    rates = fit_rates(catalogue(), confirmed(catalogue(), 1500, mu=0.2, w=0.06, error=0.3, unknown=0.05))
    assert rates.mu == pytest.approx(0.2, abs=0.02)
    assert rates.w == pytest.approx(0.06, abs=0.012)
    assert rates.unknown == pytest.approx(0.05, abs=0.02)
    assert rates.kinds[0].error == pytest.approx(0.3, abs=0.03)
    assert rates.cases == 1500
    assert rates.statements == {"seen": 7500}


def test_few_cases_move_rates_little_and_none_leaves_them():
    model = catalogue()
    assert fit_rates(model, []).mu == model.mu
    assert fit_rates(model, []).kinds == tuple(model.kinds.values())
    one = fit_rates(model, [Case("g0", {"s0": "v1", "s1": OTHER})])
    assert model.mu < one.mu < 0.2
    assert model.w < one.w < 0.15


def test_fitted_rates_give_a_better_log_loss():
    """Refitted from one half, scored on the other: the right lineage becomes more probable."""
    model = catalogue()
    cases = confirmed(model, 800, mu=0.25, w=0.02, error=0.35, unknown=0.0, seed=9)
    rates = fit_rates(model, cases[:400])
    better = model.with_rates(mu=rates.mu, w=rates.w, unknown=rates.unknown, kinds=rates.kinds)

    def loss(m: Model) -> float:
        return -np.mean([np.log(posterior(m, case.observations).lineages[case.lineage]) for case in cases[400:]])

    assert loss(better) < loss(model)
