"""A load that is held down: found where it is, told nowhere else, and what holds it."""

import numpy as np
import pytest
from benchmarks.history_loads import DAYS, KINDS, STEP, N, log
from scipy import stats

from asfound.history.demo import generate
from asfound.history.findings_load import find
from asfound.history.load_held import held, hours_of, spell_chance
from asfound.history.load_parts import LoadHeld, Margin
from asfound.history.load_words import held_says, why_held
from asfound.history.look_parts import EngineLook
from asfound.history.watched import POWER

DAY = 86_400.0
TIME = np.arange(N) * STEP


def a_load(seed, kind="demand"):
    random = np.random.default_rng(seed)
    return random, KINDS[kind](random)


def capped(load, level, begin, end):
    out = load.copy()
    inside = (DAY * begin <= TIME) & (DAY * end > TIME)
    out[inside] = np.minimum(out[inside], level)
    return out


@pytest.mark.parametrize("seed", [901, 902, 903])
@pytest.mark.parametrize("kind", ["demand", "weeks", "days", "full"])
def test_a_planted_ceiling_is_found_with_its_level_and_day(seed, kind):
    random, load = a_load(seed, kind)
    level = float(np.quantile(load[: N // 2], 0.8)) - 0.08
    (found,) = held(TIME, log(random, capped(load, level, 400, 560)))
    assert found.level == pytest.approx(level, abs=0.005)
    assert found.earliest - DAY <= 400 * DAY <= found.latest + DAY
    assert found.end == pytest.approx(560 * DAY, abs=10 * DAY)
    assert found.before > level + 0.04


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_told_where_nothing_holds_it(kind):
    random, _ = a_load([911, list(KINDS).index(kind)])
    assert not any(held(TIME, log(random, KINDS[kind](random))) for _ in range(3))


def test_one_that_still_holds_has_no_end_and_one_that_was_always_there_is_not_told():
    random, load = a_load(921)
    (found,) = held(TIME, log(random, capped(load, 0.76, 500, DAYS)))
    assert found.end == np.inf
    assert held(TIME, log(random, np.minimum(load, 0.76))) == ()


def test_a_shift_of_the_clock_and_more_rows_standing_change_nothing():
    random, load = a_load(931)
    shown = log(random, capped(load, 0.75, 450, 600))
    (plain,) = held(TIME, shown)
    (later,) = held(TIME + 1000 * DAY, shown)
    assert later.level == plain.level
    assert later.start == pytest.approx(plain.start + 1000 * DAY)
    stood = np.concatenate([TIME, TIME[-1] + STEP * np.arange(1, 500)])
    (longer,) = held(stood, np.concatenate([shown, np.full(499, np.nan)]))
    assert longer == plain


def test_nothing_to_see_is_nothing():
    assert held(np.zeros(0), np.zeros(0)) == ()
    assert held(TIME, np.full(N, np.nan)) == ()
    assert held(TIME[:2000], np.full(2000, 0.8)) == ()
    assert held(TIME, np.full(N, 0.8)) == ()
    at, hourly = hours_of(TIME[:12], np.arange(12.0))
    assert list(hourly) == [2.5, 8.5]
    assert list(at) == [1800.0, 5400.0]


@pytest.mark.parametrize("days", [1, 7, 40])
def test_the_chance_of_a_spell_is_the_moment_of_a_beta_law(days):
    # SciPy's beta distribution: the mean of x**days is the chance to stay below for so many days
    passed = np.array([1, 0, 0, 1, 1, 0, 1, 0, 0, 0, 1, 1], dtype=bool)
    stayed, left = 3, 3
    assert spell_chance(passed, days) == pytest.approx(stats.beta(stayed + 0.5, left + 0.5).moment(days), rel=1e-6)


@pytest.mark.parametrize("tag", ["A1", "A2", "N1", "D1"])
def test_of_the_demo_world_only_a1_is_held_down(tag):
    # Truth: the demo's own story; A1 is derated to 0.74 of its rating on 2032-08-17 (scenario of the demo world)
    made = generate(tag)
    power = next(name for name in POWER if name in made.channels.values)
    load = made.channels.values[power]
    running = made.channels.values["raw:running@engine"] > 0.5
    share = np.where(running & (load > 0.2 * made.spec.power), load / made.spec.power, np.nan)
    found = held(made.channels.time * 1e-6, share)
    assert len(found) == (tag == "A1")
    for one in found:
        began = next(row.start for row in made.truth if row.kind == "derate")
        assert one.level == pytest.approx(0.74, abs=0.005)
        assert one.earliest * 1e6 <= began <= one.latest * 1e6
        assert one.end == np.inf


def seen(**changed):
    plain = {
        "channel": "engine_power@engine", "time": 1_976_400_000_000_000, "earliest": 1_976_400_000_000_000,
        "latest": 1_976_500_000_000_000, "end": 0, "level": 1.0878e6, "spread": 3e3, "before": 1.24e6, "rated": 1.47e6,
        "at_level": 0.72, "at_level_before": 0.02, "passed": 0.84, "days": 294, "chance": 1e-8,
    }  # fmt: skip
    return LoadHeld(**{**plain, **changed})


@pytest.mark.parametrize(
    ("margins", "by"),
    [
        ((Margin(channel="throttle_position@engine", now=0.985, before=0.7, most=1.0),), "throttle"),
        ((Margin(channel="throttle_position@engine", now=0.62, before=0.7, most=0.7),), "setting"),
        ((Margin(channel="wastegate_position@engine", now=0.01, before=0.3, most=0.02),), "boost"),
        ((Margin(channel="manifold_temperature@engine", now=348.0, before=330.0, most=349.0),), "charge"),
        ((Margin(channel="ignition_retard@engine", now=0.06, before=0.0, most=0.08),), "knock"),
        ((), "unknown"),
    ],
)
def test_what_stands_at_its_end_is_named(margins, by):
    assert why_held(seen(margins=margins))[0] == by


def test_the_finding_stands_beside_the_rating_on_site_in_the_units_of_its_reader():
    look = EngineLook(
        engine="A1", day="2032-12-01", version=0, digest="", start=0, end=1_980_000_000_000_000, rows=1, step=600.0,
        loads=(seen(visit="A1/2032-08-17"),),
    )  # fmt: skip
    (plain,) = find(look, "si", 1.10e6)
    assert plain.code == "HI-44"
    assert "1,088 kW (74 % of its rating)" in plain.says
    assert "with the visit A1/2032-08-17" in plain.says
    assert plain.says.endswith("That is the rating on site worked out for this visit (1,100 kW).")
    (other,) = find(look, "us", 1.3e6)
    assert "1,459 hp" in other.says
    assert "16 % below the rating on site" in other.says
    assert held_says(seen(end=1_978_000_000_000_000)).startswith("From ")
