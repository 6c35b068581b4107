"""The model as a witness: it says what it would work out at a setting, and knows how little it knows."""

from __future__ import annotations

import math
from dataclasses import fields, replace

import numpy as np
import pytest

from asfound.whatif.calibrate import calibrate
from asfound.whatif.engine import Setting, Unknowns, run
from asfound.whatif.priors import priors
from asfound.whatif.seen import OUTPUTS, Reading, Visit
from asfound.whatif.witness import NUMBERS, _on_grid, spoken, taught_by

from .test_fitted_engine import BUILD, DOUBTS, GAS, SETTING, one_of


def visit(setting: Setting = SETTING) -> Visit:
    return Visit(setting=setting, u=dict(DOUBTS), readings=(), fuel=GAS)


def told(said, name: str, setting: Setting) -> float:
    """Return a number at a setting near by, along the linearisation; logarithms as they are."""
    row = said.names.index(name)
    moved = [
        (math.log(getattr(setting, knob)) if log else getattr(setting, knob)) - at
        for knob, log, at in zip(said.knobs, said.knob_log, said.at, strict=True)
    ]
    return float(said.values[row] + said.by_knob[row] @ np.array(moved))


@pytest.mark.parametrize(
    "moved",
    [{}, {"manifold_pressure": 3.0e5}, {"timing": -0.30}, {"excess_air_ratio": 1.72}, {"charge_temperature": 333.0}],
)  # fmt: skip
def test_it_says_what_the_model_would_work_out(moved):
    said = spoken(BUILD, visit())
    setting = SETTING.at(**moved)
    middle = Unknowns(**{name: prior.middle for name, prior in priors().items()})
    shown = run(BUILD, setting, middle, GAS, reference=_on_grid(SETTING))
    for name, most in (("efficiency", 0.01), ("exhaust_temperature", 8.0), ("peak_pressure", 0.025), ("filling", 0.01)):
        about = next(one for one in NUMBERS if one.name == name)
        true = float(about.of(shown, setting, BUILD)[0])
        assert told(said, name, setting) == pytest.approx(math.log(true) if about.log else true, abs=most)


def test_its_doubt_covers_engines_drawn_from_the_beliefs():
    said = spoken(BUILD, visit())
    away = []
    for seed in range(40):
        shown = run(BUILD, SETTING, one_of(seed), GAS)
        for row, name in enumerate(said.names):
            about = next(one for one in NUMBERS if one.name == name)
            true = float(about.of(shown, SETTING, BUILD)[0])
            u = math.sqrt(said.covariance[row, row])
            away.append(abs((math.log(true) if about.log else true) - told(said, name, SETTING)) / u)
    assert np.mean(np.array(away) < 2.0) > 0.9
    assert np.median(away) > 0.4  # and is not far too wide


def test_an_earlier_visit_sharpens_it_and_lets_it_speak_of_nox():
    shown = run(BUILD, SETTING, one_of(2), GAS)
    readings = tuple(
        Reading(output=name, value=float(OUTPUTS[name].of(shown)[0]), u=0.01 * float(OUTPUTS[name].of(shown)[0]))
        for name in ("power", "fuel_flow", "exhaust_temperature", "nox_dry")
    )
    taught = taught_by(BUILD, replace(visit(), readings=readings))
    usual, learned = spoken(BUILD, visit()), spoken(BUILD, visit(), taught)
    assert "nox_dry" not in usual.names
    assert "nox_dry" in learned.names
    assert learned.learned
    for name in ("efficiency", "exhaust_temperature"):
        before, after = (one.covariance[one.names.index(name), one.names.index(name)] for one in (usual, learned))
        assert after < 0.8 * before
    true = float(np.log(shown.efficiency[0]))
    u = math.sqrt(learned.covariance[learned.names.index("efficiency"), learned.names.index("efficiency")])
    assert abs(told(learned, "efficiency", SETTING) - true) < 2.0 * u


def test_what_a_visit_teaches_are_the_draws_of_the_fit_to_it():
    shown = run(BUILD, SETTING, one_of(2), GAS)
    readings = (Reading(output="power", value=float(shown.power[0]), u=0.01 * float(shown.power[0])),)
    there = replace(visit(), readings=readings)
    taught, whole = taught_by(BUILD, there), calibrate(BUILD, [there])
    for one in fields(taught.unknowns):
        np.testing.assert_array_equal(getattr(taught.unknowns, one.name), getattr(whole.unknowns, one.name))
    np.testing.assert_array_equal(taught.setting.manifold_pressure, whole.settings[0].manifold_pressure)


def test_a_neighbour_is_followed_and_not_worked_out_anew():
    """Both lie on one point of the grid: the same object, so what hangs on it is remembered."""
    near = SETTING.at(excess_air_ratio=1.669)
    assert spoken(BUILD, visit()) is spoken(BUILD, visit(near))


@pytest.mark.parametrize("odd", [{"excess_air_ratio": 0.3}, {"manifold_pressure": -1.0}, {"speed": 0.0}])
def test_a_setting_that_cannot_be_is_no_setting_to_speak_of(odd):
    assert spoken(BUILD, visit(SETTING.at(**odd))) is None


def test_a_gas_that_does_not_burn_is_nothing_to_speak_of():
    assert spoken(BUILD, replace(visit(), fuel={"nitrogen": 1.0})) is None
