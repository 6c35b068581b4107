"""The fit works out many cases in one call: each must come out as it would by itself."""

from __future__ import annotations

import numpy as np
import pytest

from asfound.whatif.cases import gases_beside
from asfound.whatif.engine import ROUGH, run
from asfound.whatif.posterior import SHORTENED, STEP, Posterior
from asfound.whatif.seen import OUTPUTS, Reading, Visit

from .test_fitted_engine import BUILD, DOUBTS, GAS, SETTING, one_of

READ = ("power", "exhaust_temperature", "nox_dry")
OTHER_GAS = {"methane": 0.80, "ethane": 0.06, "nitrogen": 0.14}


def visit_at(setting, gas, name, outputs=READ):
    shown = run(BUILD, setting, one_of(1), gas, reference=SETTING)
    readings = tuple(
        Reading(output=one, value=float(OUTPUTS[one].of(shown)[0]), u=0.01 * float(OUTPUTS[one].of(shown)[0]))
        for one in outputs
    )
    return Visit(setting=setting, u=dict(DOUBTS), readings=readings, fuel=gas, name=name)


def test_visits_beside_one_another_come_out_as_each_by_itself():
    """Two settings on two gases in one call, and the two calls of the model that they stand for."""
    visits = (
        visit_at(SETTING, GAS, "now"),
        visit_at(SETTING.at(excess_air_ratio=1.75, timing=np.radians(-18.0)), OTHER_GAS, "last"),
    )
    posterior = Posterior(BUILD, visits)
    z = np.random.default_rng(4).standard_normal((posterior.size, 5))
    together = posterior.outcomes(z, ROUGH, nitric_oxide=True)
    unknowns, settings = posterior.split(z)
    for one, setting, visit in zip(together, settings, visits, strict=True):
        alone = run(BUILD, setting, unknowns, visit.fuel, reference=settings[0], steps=ROUGH)
        for name in ("power", "nox_dry", "exhaust_temperature", "knock", "oxygen_dry"):
            assert getattr(one, name) == pytest.approx(getattr(alone, name), rel=1e-9)
        assert one.cycle.trace.pressure == pytest.approx(alone.cycle.trace.pressure, rel=1e-9)


def test_derivatives_come_with_the_points_that_are_tried():
    posterior = Posterior(BUILD, (visit_at(SETTING, GAS, "now"),))
    z = 0.3 * np.random.default_rng(5).standard_normal(posterior.size)
    ways = z[:, None] + 0.1 * np.array(SHORTENED)
    there, ahead = posterior.linear(ways)

    def miss(point):
        return posterior.misses(posterior.outcomes(point[:, None], ROUGH, nitric_oxide=True))[:, 0]

    for column in range(len(SHORTENED)):
        assert there[:, column] == pytest.approx(miss(ways[:, column]), abs=1e-8)
    up, down = ways[:, 0].copy(), ways[:, 0].copy()
    up[2] += STEP
    down[2] -= STEP
    assert ahead[:, 2] == pytest.approx((miss(up) - miss(down)) / (2 * STEP), abs=1e-7)


def test_without_a_reading_of_nitric_oxide_none_is_worked_out_on_the_way():
    """What it costs half the time for has no say in the fit."""
    posterior = Posterior(BUILD, (visit_at(SETTING, GAS, "now", ("power", "exhaust_temperature")),))
    z = np.random.default_rng(6).standard_normal((posterior.size, 3))
    with_it, without = (posterior.outcomes(z, ROUGH, nitric_oxide=one)[0] for one in (True, False))
    assert not posterior.nitric_oxide
    assert not without.nox_dry.any()
    for name in ("power", "exhaust_temperature", "peak_pressure", "efficiency"):
        np.testing.assert_array_equal(getattr(with_it, name), getattr(without, name))


def test_the_most_probable_lies_where_no_step_gains():
    posterior = Posterior(BUILD, (visit_at(SETTING, GAS, "now"),))
    z, covariance = posterior.most_probable()
    miss, by_z = posterior.linear(z[:, None])
    slope = by_z.T @ miss[:, 0] + z
    assert float(slope @ covariance @ slope) < 0.05  # what a further step of Newton's would gain, twice
    assert np.all(np.linalg.eigvalsh(covariance) > 0.0)


def test_gases_of_other_parts_are_put_beside_one_another():
    joined = gases_beside([GAS, OTHER_GAS], 2)
    assert set(joined) == {*GAS, *OTHER_GAS}
    assert list(np.asarray(joined["methane"])) == [GAS["methane"]] * 2 + [OTHER_GAS["methane"]] * 2
    assert gases_beside([GAS, dict(GAS)], 2) == GAS
