"""Crank speed: orders, inertia torque, and an engine of known faults as the oracle."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.cylinders.crank_contribution import Contributions, contributions
from asfound.cylinders.crank_shape import combustion_shape
from asfound.cylinders.crank_speed import (
    CYCLE,
    Crank,
    Motion,
    crank_inertia,
    fill_missing,
    inertia_torque,
    order_content,
    phases,
    piston_speed_function,
    speed_from_teeth,
    tooth_errors,
    torque_orders,
)
from asfound.cylinders.judge_case import verdicts
from asfound.cylinders.sensor_or_cylinder import judge
from asfound.cylinders.witnesses import statements_of
from asfound.errors import InputError
from asfound.quantities.findings import Case
from asfound.quantities.sheet import work_out

from .crank_engine import FINE, Engine, teeth, turn

# Invented engines of the demo world: nine in line (1-3-5-7-9-8-6-4-2, invented for this test), V10 firing evenly.
ORDER = (1, 3, 5, 7, 9, 8, 6, 4, 2)
NINE = tuple(ORDER.index(i + 1) * CYCLE / 9 for i in range(9))
TEN = tuple(i * CYCLE / 10 for i in range(10))


def crank_of(engine: Engine, *, names: tuple[str, ...] = ()) -> Crank:
    motion = Motion(
        radius=engine.stroke / 2, rod_ratio=engine.rod_ratio, bore=engine.bore, reciprocating_mass=engine.mass
    )
    named = names or tuple(str(i + 1) for i in range(len(engine.firing)))
    return Crank(motion=motion, firing_angles=engine.firing, names=named, inertia=engine.inertia)


def judged(
    engine: Engine,
    heat: list[float],
    *,
    cycles: int = 120,
    count: int = 60,
    whole: bool = False,
    torsional_frequency: float | None = 250.0,
    **turned: float,
) -> Contributions:
    pitch, noise = turned.pop("pitch", 0.0), turned.pop("noise", 0.0)
    angles, times, mean = turn(engine, cycles, heat, **turned)
    speed = speed_from_teeth(teeth(angles, times, count, pitch=pitch, noise=noise), count)
    return contributions(crank_of(engine), speed, mean, torsional_frequency=torsional_frequency, whole_orders=whole)


LOOKS = [{"cylinder": "5", "witness": "ignition_demand", "state": "none"}]

# --- the oracle


@pytest.mark.parametrize("bad", [0, 3, 8])
def test_a_misfire_is_found_in_a_nine(bad: int) -> None:
    heat = [1.0] * 9
    heat[bad] = 0.0
    found = judged(Engine(firing=NINE), heat, pitch=2e-4, noise=2e-6)
    assert found.suspect == str(bad + 1)
    assert found.weak[found.suspect] > 0.95
    assert found.weak_by[found.suspect][0] == pytest.approx(-9 / 8, abs=0.35), "against the mean of all"
    assert int(np.argmin(found.deviation)) == bad


@pytest.mark.parametrize("bad", [1, 6])
def test_a_weak_cylinder_is_found_and_sized(bad: int) -> None:
    heat = [1.0] * 9
    heat[bad] = 0.7
    found = judged(Engine(firing=NINE), heat, cycles=300, pitch=2e-4, noise=2e-6)
    assert found.suspect == str(bad + 1)
    assert found.weak_by[found.suspect][0] == pytest.approx(-0.30, abs=0.12)


def test_a_sound_engine_has_no_suspect() -> None:
    found = judged(Engine(firing=NINE), [1.0] * 9, pitch=2e-4, noise=2e-6, load_pulse=0.3)
    assert found.suspect == "none"
    assert np.abs(found.deviation).max() < 0.1


def test_wheel_and_load_pulse_do_not_matter_to_half_orders() -> None:
    heat = [1.0, 0.8, *[1.0] * 7]
    clean = judged(Engine(firing=NINE), heat)
    rough = judged(Engine(firing=NINE), heat, pitch=1e-3, load_pulse=0.5)
    assert rough.deviation == pytest.approx(clean.deviation, abs=0.03)


def test_companions_of_a_v10_are_told_apart_by_loss_only() -> None:
    heat = [1.0] * 10
    heat[2] = 0.3
    engine = Engine(firing=TEN, bore=0.186, stroke=0.214, mass=16.0, inertia=120.0)
    found = judged(engine, heat, noise=2e-6)
    assert found.suspect == "3"
    assert any("Companion" in one for one in found.cannot_tell)
    pair = next(one for one in found.pairs if "3" in one[:2])
    assert abs(pair[2]) == pytest.approx(0.7 / 0.93, abs=0.2)
    assert pair[3] < found.u[2], "the difference is known better than each"
    strong = [1.0] * 10
    strong[7] = 1.3
    other = judged(engine, strong, noise=2e-6)
    assert other.suspect in ("3", "none"), "what it cannot know without whole orders, and says"
    whole = judged(engine, strong, noise=2e-6, whole=True)
    assert int(np.argmax(whole.deviation)) == 7


def test_errors_of_the_wheel_learned_at_coasting_let_whole_orders_be_used() -> None:
    engine, count = Engine(firing=TEN, bore=0.186, stroke=0.214, mass=16.0, inertia=120.0), 60
    strong = [1.0] * 10
    strong[7] = 1.3
    angles, times, mean = turn(engine, 150, strong)
    steady = np.arange(40 * FINE + 1) * CYCLE / FINE
    coasting = steady / (20.0 - steady / steady[-1])  # slow, and slowing down; gas off and no piston felt
    pitch = 2e-3
    errors = tooth_errors(teeth(steady, coasting, count, pitch=pitch), count)
    found = {}
    for name, learned in (("rough", None), ("learned", errors)):
        speed = speed_from_teeth(teeth(angles, times, count, pitch=pitch), count, learned)
        found[name] = contributions(
            crank_of(engine), speed, mean, torsional_frequency=250.0, whole_orders=True
        ).deviation
    truth = np.array([0.3 if i == 7 else 0.0 for i in range(10)]) - 0.03
    assert np.abs(found["learned"] - truth).max() < 0.12
    assert np.abs(found["learned"] - truth).max() < np.abs(found["rough"] - truth).max() / 2


def test_two_weak_cylinders_are_seen_in_the_deviations() -> None:
    heat = [1.0] * 9
    heat[1], heat[5] = 0.4, 0.5
    found = judged(Engine(firing=NINE), heat, cycles=300)
    assert set(np.argsort(found.deviation)[:2].tolist()) == {1, 5}


def test_the_result_is_a_witness() -> None:
    heat = [1.0] * 9
    heat[4] = 0.0
    found = judged(Engine(firing=NINE), heat)
    readings = found.readings("as_found", "2032-03-15T09:05-06:00")
    assert [one.place for one in readings] == [f"cylinder_{i + 1}" for i in range(9)]
    case = Case(readings=readings, worked=work_out(readings, number=100), visit={"cylinder_looks": LOOKS})
    said = {one.witness: one for one in statements_of(case)["cylinder_5"]}
    assert said["crank_speed"].value == pytest.approx(found.deviation[4])
    assert 0.6 < judge([said["crank_speed"]]).sides["cylinder"] < 0.7501, "one witness is held at the bound"
    assert verdicts(case)["cylinder_5"].misfire > 0.8


def test_a_crank_that_twists_a_little_misleads_little() -> None:
    """Each order amplified as by one torsional mode, 1 / (1 - (f / f0)^2): below 0.4 of it the answer holds."""
    engine, count, natural = Engine(firing=NINE), 60, 60.0
    heat = [1.0, 1.0, 0.0, *[1.0] * 6]
    angles, times, mean = turn(engine, 100, heat)
    speed = speed_from_teeth(teeth(angles, times, count), count)
    lines = np.fft.rfft(speed, axis=-1)
    frequency = np.arange(lines.shape[1]) / 2 * engine.speed / (2 * math.pi)
    twisted = np.fft.irfft(lines / (1 - np.minimum(frequency / natural, 0.9) ** 2), n=speed.shape[1], axis=-1)
    found = contributions(crank_of(engine), twisted, mean, torsional_frequency=natural)
    assert max(found.orders) <= 0.4 * natural / 15.0
    assert found.suspect == "3"
    assert found.weak_by["3"][0] == pytest.approx(-9 / 8, abs=0.3)
    assert any("torsional frequency" in one for one in judged(engine, heat, torsional_frequency=None).cannot_tell)


def test_what_is_not_known_of_the_inertia_scales_all() -> None:
    engine = Engine(firing=NINE)
    angles, times, mean = turn(engine, 60, [0.5, *[1.0] * 8])
    speed = speed_from_teeth(teeth(angles, times, 60), 60)
    sure, unsure = (
        contributions(replace(crank_of(engine), inertia_doubt=doubt), speed, mean, torsional_frequency=250.0)
        for doubt in (0.0, 0.3)
    )
    assert unsure.deviation == pytest.approx(sure.deviation)
    assert unsure.u[0] ** 2 - sure.u[0] ** 2 == pytest.approx((0.3 * sure.deviation[0]) ** 2)


def test_too_few_teeth_are_said() -> None:
    found = judged(Engine(firing=NINE), [1.0] * 9, count=9)
    assert any("too few" in one for one in found.cannot_tell)


def test_more_cycles_less_doubt() -> None:
    few, many = (judged(Engine(firing=NINE), [1.0] * 9, cycles=n, scatter=0.1) for n in (30, 600))
    assert many.content_u.mean() < few.content_u.mean() / 2


# --- parts


def test_inertia_torque_series_against_exact_motion() -> None:
    """The exact torque is -m omega^2 s ds/d theta; its series: Den Hartog, Mechanical Vibrations (from memory)."""
    theta = np.linspace(0, 2 * math.pi, 2001)
    for ratio in (0.2, 0.25, 0.3):
        motion = Motion(radius=0.14, rod_ratio=ratio, bore=0.23, reciprocating_mass=40.0)
        s = motion.radius * piston_speed_function(theta, ratio)
        exact = -motion.reciprocating_mass * 94.0**2 * s * np.gradient(s, theta)
        series = inertia_torque(theta, motion, 94.0)
        assert np.abs(exact - series)[5:-5].max() < 0.025 * np.abs(exact).max()


def test_mean_inertia_of_reciprocating_mass() -> None:
    """Mass times r^2 (1/2 + lambda^2 / 8), as public programs print it; exact motion within lambda^4."""
    crank = crank_of(Engine(firing=(0.0,)))
    theta = np.linspace(0, CYCLE, 4096, endpoint=False)
    moved = crank_inertia(crank, theta).mean() - crank.inertia
    size = crank.motion.reciprocating_mass * crank.motion.radius**2
    assert moved / size == pytest.approx(0.5 + crank.motion.rod_ratio**2 / 8, abs=crank.motion.rod_ratio**4)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 239), st.integers(1, 50), st.floats(0.1, 3.0))
def test_another_start_shifts_phases_only(shift: int, k: int, size: float) -> None:
    n = 240
    theta = CYCLE * np.arange(n) / n
    values = 90 + size * np.cos(k * theta / 2 + 0.4)
    one, two = order_content(values), order_content(np.roll(values, -shift))
    assert np.abs(two) == pytest.approx(np.abs(one), abs=1e-9)
    back = order_content(np.roll(values, -shift), first_angle=theta[shift])
    assert back == pytest.approx(one, abs=1e-9)
    assert one[k] == pytest.approx(size * np.exp(0.4j), abs=1e-9)


@settings(max_examples=20, deadline=None)
@given(st.sampled_from([NINE, TEN]), st.floats(0.2, 0.4), st.integers(0, 8))
def test_equal_cylinders_make_no_half_orders(firing: tuple[float, ...], ratio: float, start: int) -> None:
    engine = Engine(firing=firing, rod_ratio=ratio)
    angles, times, _ = turn(engine, 6, [1.0] * len(firing), scatter=0.0)
    speed = speed_from_teeth(teeth(angles, times, 90), 90)[3:]
    found = torque_orders(crank_of(engine), np.roll(speed, start, axis=-1))
    half = [k for k in range(1, 13, 2) if k % len(firing)]  # 9 / 2 is the firing order of a nine
    assert np.abs(found[:, half]).max() < 2e-3 * np.abs(found[:, len(firing)]).max()


@settings(max_examples=20, deadline=None)
@given(st.permutations(list(range(9))))
def test_renamed_cylinders_rename_the_answer(mixed: list[int]) -> None:
    heat = [1.0, 1.0, 0.6, *[1.0] * 6]
    engine = Engine(firing=NINE)
    angles, times, mean = turn(engine, 30, heat)
    speed = speed_from_teeth(teeth(angles, times, 60), 60)
    one = contributions(crank_of(engine), speed, mean)
    turned = Engine(firing=tuple(NINE[i] for i in mixed))
    two = contributions(crank_of(turned, names=tuple(str(i + 1) for i in mixed)), speed, mean)
    assert two.deviation == pytest.approx(one.deviation[mixed], abs=1e-9)
    for name, p in one.weak.items():
        assert two.weak[name] == pytest.approx(p, abs=1e-9)


def test_no_inertia_torque_is_left_in_the_gas_torque() -> None:
    """A crank that turns without gas: its speed swings by the piston masses alone, and no torque remains."""
    crank = crank_of(Engine(firing=NINE[:1]))
    n = 720
    theta = CYCLE * (np.arange(n) + 0.5) / n
    energy = 0.5 * crank.inertia * 94.0**2
    speed = np.sqrt(2 * energy / crank_inertia(crank, theta))
    left = torque_orders(crank, speed, first_angle=theta[0], averaged=False)
    size = np.abs(inertia_torque(theta, crank.motion, 94.0)).max()
    assert np.abs(left).max() < 1e-6 * size


def test_phases_of_companions_are_opposite() -> None:
    crank = crank_of(Engine(firing=TEN))
    assert crank.companions == tuple((i, i + 5) for i in range(5))
    found = phases(crank, [1, 3, 5])
    assert found[:, :5] == pytest.approx(-found[:, 5:])


def test_teeth_that_are_missing_are_filled() -> None:
    speed, count = 94.0, 60
    all_ = np.arange(count * 8 + 1) * 2 * math.pi / count / speed
    there = all_[np.arange(all_.size) % count < count - 2]
    filled = fill_missing(there, count, 2)
    assert filled == pytest.approx(all_[: filled.size])
    assert speed_from_teeth(filled, count) == pytest.approx(speed)


def test_tooth_errors_are_learned() -> None:
    random = np.random.default_rng(3)
    count, speed = 60, 30.0
    wrong = 1e-3 * random.standard_normal(count)
    pitch = 2 * math.pi / count * (1 + np.resize(wrong - wrong.mean(), count * 40))
    times = np.concatenate([[0.0], np.cumsum(pitch / (speed - np.linspace(0, 5, pitch.size)))])
    assert tooth_errors(times, count) == pytest.approx(wrong - wrong.mean(), abs=2e-5)


def test_averaging_over_a_tooth_is_given_back() -> None:
    n, k = 120, 12
    edges = CYCLE * np.arange(n + 1) / n
    mean = (np.sin(k * edges[1:] / 2) - np.sin(k * edges[:-1] / 2)) / (k / 2) / (CYCLE / n)
    found = order_content(mean, first_angle=edges[0] + CYCLE / n / 2, averaged=True)
    assert found[k] == pytest.approx(1.0, abs=1e-12)


def test_shape_is_that_of_a_push_after_dead_centre() -> None:
    crank = crank_of(Engine(firing=NINE))
    shape = combustion_shape(crank, 20)
    assert shape[0] == pytest.approx(1.0)
    assert 1.5 < abs(shape[1]) < 2.0, "a short push has nearly twice its mean in the lowest orders"
    assert np.abs(shape[10]) < np.abs(shape[1])


def test_what_cannot_be_is_refused() -> None:
    engine = Engine(firing=NINE)
    with pytest.raises(InputError):
        contributions(crank_of(engine), np.full((5, 120), 94.0), 1e4)
    with pytest.raises(InputError):
        contributions(crank_of(engine), np.full((50, 120), 94.0), 0.0)
    with pytest.raises(InputError):
        Motion(radius=0.1, rod_ratio=1.5, bore=0.2, reciprocating_mass=1.0)
    with pytest.raises(InputError):
        speed_from_teeth(np.arange(10.0), 60)
