"""An engine whose truth is known: what the fit makes of its readings, and whether answers about changes hold it."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from asfound.errors import InputError
from asfound.whatif.ask import ask, ask_each, charger_of, worth_reading
from asfound.whatif.calibrate import Calibrated, calibrate
from asfound.whatif.engine import Build, Outcome, Setting, Unknowns, run
from asfound.whatif.optimum import chance_kept, optimum
from asfound.whatif.priors import priors
from asfound.whatif.seen import OUTPUTS, Reading, Visit
from asfound.whatif.uses import Limits, few, map_of, sensitivities, ways_to

BUILD = Build(cylinders=9, bore=0.233, stroke=0.283, rod=0.566, compression_ratio=11.2)
GAS = {
    "methane": 0.912,
    "ethane": 0.046,
    "propane": 0.0155,
    "n-butane": 0.0053,
    "nitrogen": 0.0105,
    "carbon dioxide": 0.009,
}
SETTING = Setting(
    speed=900 * np.pi / 30, manifold_pressure=2.75e5, charge_temperature=328.0, excess_air_ratio=1.674,
    timing=np.radians(-20.0), exhaust_pressure=2.2e5, humidity=0.012,
)  # fmt: skip
DOUBTS = {
    "manifold_pressure": 2e3, "charge_temperature": 2.0, "excess_air_ratio": 0.02, "timing": np.radians(0.5),
    "exhaust_pressure": 1e4,
}  # fmt: skip
READ = {"power": 0.015, "fuel_flow": 0.015, "exhaust_temperature": 6.0, "nox_dry": 0.03}


def one_of(seed: int) -> Unknowns:
    """Return an engine drawn from the priors."""
    chance = np.random.default_rng(seed)
    return Unknowns(**{name: float(prior.value(chance.standard_normal())) for name, prior in priors().items()})


def read_off(shown: Outcome, name: str, u: float) -> Reading:
    """Return a reading without error; its doubt is a share where the number is compared as a logarithm."""
    value = float(OUTPUTS[name].of(shown)[0])
    return Reading(output=name, value=value, u=u * value if OUTPUTS[name].log else u)


@cache
def fitted(seed: int) -> tuple[Unknowns, Outcome, Calibrated]:
    truth = one_of(seed)
    shown = run(BUILD, SETTING, truth, GAS)
    chance = np.random.default_rng(seed + 1000)
    readings = []
    for name, u in READ.items():
        value = float(OUTPUTS[name].of(shown)[0])
        u = u * value if OUTPUTS[name].log else u
        readings.append(Reading(output=name, value=value + u * chance.standard_normal(), u=u))
    visit = Visit(setting=SETTING, u=dict(DOUBTS), readings=tuple(readings), fuel=GAS)
    return truth, shown, calibrate(BUILD, [visit])


@pytest.mark.parametrize("seed", range(6))
def test_answers_about_changes_hold_the_truth(seed):
    """Each interval is one of 95 in 100; of 6 engines and 15 answers each, few may miss, and then by little."""
    truth, shown, engine = fitted(seed)
    missed = []
    for changes in ({"timing": np.radians(-2.0)}, {"excess_air_ratio": 0.05}, {"charge_temperature": 10.0}):
        then = run(
            BUILD, SETTING.at(**{k: getattr(SETTING, k) + v for k, v in changes.items()}), truth, GAS, reference=SETTING
        )
        answer = ask(engine, changes)
        for name in ("power", "efficiency", "exhaust_temperature", "nox_dry", "peak_pressure"):
            low, _, high = answer.number(name).share
            true = float(OUTPUTS[name].of(then)[0] / OUTPUTS[name].of(shown)[0])
            if not low <= true <= high:
                missed.append((name, changes, low, true, high))
    assert len(missed) <= 3, missed
    assert not any(abs(true - min(max(true, low), high)) > 0.5 * (high - low) for _, _, low, true, high in missed)


def test_what_was_read_is_met_and_something_is_learned():
    _, _, engine = fitted(1)
    assert all(abs(one.away) < 2.0 for one in engine.fits)
    narrowed = {one.prior.name: one.narrowed for one in engine.learned}
    assert narrowed["duration"] > 0.25
    assert engine.effective > 30
    assert engine.says == ()


def test_a_reading_that_cannot_be_is_said_not_to_fit():
    _, shown, _ = fitted(1)
    readings = tuple(
        Reading(
            output=name, value=float(OUTPUTS[name].of(shown)[0]) * factor, u=0.01 * float(OUTPUTS[name].of(shown)[0])
        )
        for name, factor in (("power", 1.0), ("fuel_flow", 0.6), ("efficiency", 1.0))
    )
    odd = calibrate(BUILD, [Visit(setting=SETTING, u=dict(DOUBTS), readings=readings, fuel=GAS)])
    assert odd.says
    assert "Fuel flow" in " ".join(odd.says) or "Efficiency" in " ".join(odd.says)


def test_two_visits_tell_more_than_one():
    """Of three engines together: what 200 draws say of one engine's spread is good to a few per cent only."""
    alone = together = 0.0
    for seed in (1, 2, 3):
        truth, shown, one = fitted(seed)
        later = SETTING.at(excess_air_ratio=1.75, timing=np.radians(-18.0))
        there = run(BUILD, later, truth, GAS, reference=SETTING)
        visits = [
            Visit(
                setting=setting, u=dict(DOUBTS), fuel=GAS, name=name,
                readings=tuple(read_off(seen, n, u) for n, u in READ.items()),
            )
            for name, setting, seen in (("now", SETTING, shown), ("last", later, there))
        ]  # fmt: skip
        both = calibrate(BUILD, visits)
        alone += sum(x.narrowed for x in one.learned)
        together += sum(x.narrowed for x in both.learned)
        assert {fit.visit for fit in both.fits} == {"now", "last"}
    assert together > alone


def test_nothing_changed_is_no_difference():
    _, _, engine = fitted(1)
    answer = ask(engine, {})
    for one in answer.numbers:
        assert one.change == pytest.approx((0.0, 0.0, 0.0), abs=1e-9 * max(1.0, abs(one.now[1])))


def test_the_same_seed_gives_the_same_digits():
    _, _, engine = fitted(3)
    again = calibrate(BUILD, engine.visits)
    assert np.array_equal(again.outcome.power, engine.outcome.power)


def test_which_way_a_lean_engine_goes():
    """Trends of lean-burn engines (common practice): leaner and later take NOx, hotter air brings NOx and knock."""
    _, _, engine = fitted(4)
    table = sensitivities(engine)
    assert table["excess_air_ratio"].number("nox_dry").share[2] < 1.0
    assert table["timing"].number("nox_dry").share[0] > 1.0  # one degree earlier
    assert table["timing"].number("peak_pressure").share[0] > 1.0
    assert table["timing"].number("exhaust_temperature").share[2] < 1.0
    assert table["charge_temperature"].number("nox_dry").share[0] > 1.0
    assert table["charge_temperature"].number("knock").share[0] > 1.0
    assert table["humidity"].number("nox_dry").share[2] < 1.0


def test_a_share_of_the_power_is_reached():
    _, _, engine = fitted(1)
    charger, odd = charger_of(engine, 0.86e5, 300.0)
    assert odd == "" or "turbocharger" in odd
    answer = ask(engine, {}, power_share=0.8, charger=charger)
    assert np.median(answer.outcome.power / engine.outcome.power) == pytest.approx(0.8, abs=0.01)
    assert np.all(np.asarray(answer.setting.manifold_pressure) < np.asarray(engine.settings[0].manifold_pressure))


@pytest.mark.parametrize("changes", [{"timing": 0.13}, {"excess_air_ratio": -0.2}, {"charge_temperature": 30.0}])
@pytest.mark.parametrize("share", [0.8, 1.0])
def test_a_power_that_is_held_is_held_in_every_draw(changes, share):
    _, _, engine = fitted(2)
    charger, _ = charger_of(engine, 1.0e5, 298.0)
    for one in (None, charger):
        answer = ask(engine, changes, power_share=share, charger=one)
        np.testing.assert_allclose(answer.outcome.power / engine.outcome.power, share, rtol=0.01)
        low, _, high = answer.number("power").share
        assert high - low < 0.02


def test_more_load_asks_the_turbocharger_for_more_back_pressure():
    _, _, engine = fitted(1)
    charger, _ = charger_of(engine, 0.86e5, 300.0)
    low, high = (ask(engine, {}, power_share=share, charger=charger) for share in (0.7, 1.0))
    assert np.median(np.asarray(high.setting.exhaust_pressure)) > np.median(np.asarray(low.setting.exhaust_pressure))


def test_the_map_keeps_the_power_and_its_best_point_keeps_the_limits():
    _, _, engine = fitted(1)
    nox = float(np.median(engine.outcome.nox_dry))
    found = map_of(engine)
    leaner = np.median(found.nox_dry, axis=2)
    assert np.all(np.diff(leaner, axis=1) < 0)
    limits = Limits(nox_dry=1.3 * nox, knock=1.5)
    best = optimum(found, limits)
    assert best is not None
    assert np.all(best.numbers["nox_dry"] <= 1.3 * nox * 1.001)
    assert optimum(found, Limits(nox_dry=1e-9)) is None
    assert chance_kept(found, limits).shape == leaner.shape
    assert chance_kept(found, limits)[0, -1] >= chance_kept(found, limits)[0, 0]  # leaner keeps it more surely


@pytest.mark.parametrize("name", ["nox_dry", "exhaust_temperature", "peak_pressure", "knock"])
def test_each_limit_of_an_optimum_is_kept_and_a_tighter_one_costs_efficiency(name):
    _, _, engine = fitted(2)
    found = map_of(engine)
    values = getattr(found, name)
    now = float(np.quantile(values[values.shape[0] // 2, values.shape[1] // 2], 0.95))
    gains = []
    for share in (1.06, 1.02, 1.0):
        best = optimum(found, Limits(**{"nox_dry": 1.5 * float(np.median(engine.outcome.nox_dry)), name: share * now}))
        assert best is not None
        assert np.mean(best.numbers[name] <= share * now * 1.001) >= 0.95
        gains.append(best.gain[1])
    assert gains == sorted(gains, reverse=True)


def test_the_optimum_between_the_settings_is_what_the_model_has_there():
    _, _, engine = fitted(1)
    found = map_of(engine, draws=12)
    best = optimum(found, Limits(nox_dry=1.2 * float(np.median(engine.outcome.nox_dry))))
    first = engine.settings[0]
    answer = ask(
        few(engine, 12),
        {
            "timing": best.timing - float(np.median(np.asarray(first.timing))),
            "excess_air_ratio": best.excess_air_ratio - float(np.median(np.asarray(first.excess_air_ratio))),
        },
        power_share=1.0,
    )  # fmt: skip
    for name, most in (("efficiency", 0.003), ("nox_dry", 0.04), ("exhaust_temperature", 0.005)):
        model = np.median(getattr(answer.outcome, name))
        assert np.median(best.numbers[name]) == pytest.approx(model, rel=most)


def test_a_wanted_change_is_traced_back_to_settings():
    _, _, engine = fitted(1)
    for way in ways_to(engine, "nox_dry", 0.8, knobs=("timing", "excess_air_ratio", "manifold_pressure")):
        if way.reached:
            assert way.answer.number("nox_dry").share[1] == pytest.approx(0.8, abs=0.03)
            assert way.by < 0 if way.knob == "manifold_pressure" else way.by > 0  # less load; later, leaner


def test_a_change_is_traced_back_with_the_power_held():
    _, _, engine = fitted(3)
    ways = ways_to(engine, "nox_dry", 0.7, ("timing", "excess_air_ratio"), power_share=1.0)
    for one in ways:
        assert one.reached
        assert one.answer.number("nox_dry").share[1] == pytest.approx(0.7, rel=0.05)
        assert one.answer.number("power").share[1] == pytest.approx(1.0, abs=0.005)


def test_a_limit_at_reference_oxygen_is_judged_at_the_outcomes_own_oxygen():
    _, _, engine = fitted(1)
    found = map_of(engine, Limits(reference_oxygen=0.05, oxygen_in_air=0.21), draws=4)
    ratio = found.nox_at_reference / found.nox_dry
    assert (ratio[:, -1] > ratio[:, 0]).all()  # leaner means more oxygen, and a larger factor
    assert (ratio > 1.0).all()


def test_what_would_narrow_the_answer_most_is_ranked():
    _, _, engine = fitted(1)
    answer = ask(engine, {"excess_air_ratio": 0.05})
    ranked = worth_reading(
        engine, answer, "nox_dry", {"peak_pressure": 0.02, "half_burned": np.radians(1.0), "air_flow": 0.02}
    )
    gains = [gain for _, gain in ranked]
    assert gains == sorted(gains, reverse=True)
    assert all(0.0 <= gain <= 1.0 for gain in gains)


@pytest.mark.parametrize(
    ("changes", "more", "says"),
    [
        ({"timing": np.radians(-12.0)}, {}, "beyond what the model may be asked"),
        ({"excess_air_ratio": 0.6}, {}, "beyond what the model may be asked"),
        ({"excess_air_ratio": float("nan")}, {}, "beyond what the model may be asked"),
        ({"colour": 1.0}, {}, "not a setting"),
        ({}, {"power_share": 2.0}, "beyond what the model may be asked"),
    ],
)
def test_it_refuses_to_go_beyond_its_bounds(changes, more, says):
    _, _, engine = fitted(1)
    with pytest.raises(InputError, match=says):
        ask(engine, changes, **more)


def test_without_a_reading_nothing_is_fitted():
    with pytest.raises(InputError, match="cannot be fitted"):
        calibrate(BUILD, [Visit(setting=SETTING, u={}, readings=(), fuel=GAS)])


def test_questions_asked_together_are_answered_as_each_by_itself():
    """Held power and free, by a turbocharger that follows: what one search needs moves no digit of another."""
    _, _, engine = fitted(2)
    charger, _ = charger_of(engine, 1.0e5, 298.15)
    questions = [
        ({"timing": np.radians(-1.0)}, 1.0),
        ({"excess_air_ratio": 0.05}, 1.0),
        ({}, 1.05),
        ({"humidity": 0.005}, None),
    ]
    for by in (charger, None):
        together = ask_each(engine, questions, charger=by)
        for (changes, share), found in zip(questions, together, strict=True):
            alone = ask(engine, changes, power_share=share, charger=by)
            for one, other in zip(found.numbers, alone.numbers, strict=True):
                assert one.change == pytest.approx(other.change, rel=1e-7, abs=1e-9 * max(1.0, abs(other.now[1])))
            assert found.says == alone.says
            assert found.setting.manifold_pressure == pytest.approx(alone.setting.manifold_pressure, rel=1e-10)


def test_a_little_more_power_stands_behind_the_sensitivities():
    _, _, engine = fitted(2)
    table = sensitivities(engine, power_share=1.0, more=1.05)
    assert list(table) == [*sensitivities(engine, power_share=1.0), "power"]
    assert table["power"].number("power").share[1] == pytest.approx(1.05, abs=0.01)
