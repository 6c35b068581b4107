"""Published problems hold to their printed digits, and the traps in public files are traps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from asfound.crosscheck.checks import checks
from asfound.crosscheck.checks_gross import efficiency
from asfound.crosscheck.checks_published import mixed_gases, pai_fisher, validated
from asfound.crosscheck.network import incidence
from asfound.crosscheck.reconcile import reconcile
from asfound.crosscheck.robust import TUNING
from asfound.sources.register import source

from .plants import ITEMS


def test_every_published_value_holds():
    found = list(checks())
    assert len({one.check.split()[0] for one in found}) >= 18
    assert [one.check for one in found if not one.holds] == []
    assert all(source(one.source) for one in found)


def test_the_constant_of_the_curved_problem_is_255_8():
    """The public file prints 255; with it the printed solution is not found."""
    balances, readings, start = pai_fisher(ITEMS["PF88"])
    other = replace(balances, formula=lambda x, u: balances.formula(x, u) + np.eye(6)[:, :1] * 0.8)
    printed = np.array(ITEMS["PF88"]["published"]["x"])
    assert np.abs(reconcile(balances, readings, start=start).x / printed - 1).max() < 3e-5
    assert np.abs(reconcile(other, readings, start=start).x / printed - 1).max() > 1e-3


def test_the_true_flows_of_the_steam_network_miss_two_nodes():
    left = incidence(ITEMS["B15"]["nodes"]) @ np.array(ITEMS["B15"]["true"])
    assert left[[6, 9]] == pytest.approx([0.10, -0.09])
    assert np.abs(np.delete(left, [6, 9])).max() < 1e-9


@pytest.mark.parametrize("start", [(1.0, 1.0, 1.0), (30.0, 0.1, 4.0), (12.0, 0.5, 2.0)])
def test_the_curved_problem_is_found_from_far(start):
    balances, readings, _ = pai_fisher(ITEMS["PF88"])
    found = reconcile(balances, readings, start=dict(zip(balances.unmeasured, start, strict=True)))
    assert found.converged
    assert found.x == pytest.approx(ITEMS["PF88"]["recomputed"]["x"], rel=1e-7)
    assert found.unmeasured == pytest.approx(ITEMS["PF88"]["recomputed"]["u"], rel=1e-7)


def test_another_start_leads_to_another_solution_with_a_chi_squared_that_says_so():
    balances, readings, _ = pai_fisher(ITEMS["PF88"])
    found = reconcile(balances, readings, start={"u1": 2.0, "u2": 3.0, "u3": 0.5})
    assert found.chi_squared > 100


@pytest.mark.parametrize("name", ["PF88", "BL1"])
def test_a_general_optimiser_finds_the_same(name):
    """SLSQP of SciPy, which knows nothing of readings."""
    start: dict[str, float] | None = None
    if name == "PF88":
        balances, readings, start = pai_fisher(ITEMS[name])
    else:
        balances, readings = mixed_gases(ITEMS[name])
    n = len(readings.names)
    begin = np.concatenate([readings.values, balances.starting(start)])
    theirs = minimize(
        lambda z: float((((z[:n] - readings.values) / readings.u) ** 2).sum()),
        begin,
        constraints={"type": "eq", "fun": lambda z: balances.residuals(z[:n], z[n:])},
        method="SLSQP",
        options={"ftol": 1e-14, "maxiter": 1000},
    )
    ours = reconcile(balances, readings, start=start)
    assert ours.x == pytest.approx(theirs.x[:n], rel=2e-5)
    assert ours.chi_squared == pytest.approx(theirs.fun, rel=1e-5)


def test_the_heat_circuit_accuses_a_pair_that_shares_its_error():
    found = validated(ITEMS["VDI1"])
    assert not found.control.passes
    assert set(found.suspects[:2]) == {"mFDKEL", "mFDKELL"}
    assert found.reconciled.classes.untouched == ("mD",)


def test_unmeasured_flows_of_the_heat_circuit_change_nothing_and_are_told():
    with_flows, without = validated(ITEMS["VDI1u"]), validated(ITEMS["VDI1"])
    assert with_flows.values == pytest.approx(without.values, rel=1e-12)
    value, half = with_flows.unmeasured["mHDAnz"]
    assert value == pytest.approx(18.5135917954, rel=1e-9)
    assert half == pytest.approx(without.half_widths[9], rel=1e-9)


@pytest.mark.parametrize("kind", sorted(TUNING))
def test_tunings_give_their_efficiency_on_clean_readings(kind):
    wanted = 0.98882 if kind == "contaminated" else 0.95
    assert efficiency(kind, TUNING[kind]) == pytest.approx(wanted, abs=1e-4)
