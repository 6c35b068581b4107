"""What a log says against a sensor: the wrong one is named alone more often, and no more is accused without a fault."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from asfound.crosscheck.cross_check import cross_check
from asfound.crosscheck.doubt_from_logs import PRIOR, LogDoubt, doubts_from_logs
from asfound.crosscheck.of_case import cross_check_of
from asfound.crosscheck.outcome import CrossCheck
from asfound.crosscheck.told import sentence

from .a2 import reading, visit
from .engine_visits import CASES, consistent

DRAWS = 40
FAULTY = "oxygen_sensor_reading"


def doubt(name: str, kind: str = "stuck", size: float = math.nan, u: float = math.nan) -> LogDoubt:
    return LogDoubt(
        name=name, key=name, kind=kind, prior=PRIOR[kind], size=size, u=u, says="has shown one number since 11 May 2032"
    )


def judged(name: str, seed: int, wrong: str, by: float, doubts: tuple[LogDoubt, ...]) -> CrossCheck:
    """One consistent visit with the noise of its instruments, one reading wrong by so many of its u."""
    case = CASES[name]
    random = np.random.default_rng((seed, 11))
    values = np.array(consistent(name)) + case.u * random.standard_normal(len(case.names))
    if wrong:
        values[case.names.index(wrong)] += by * case.u[case.names.index(wrong)]
    found = cross_check(case.plant, case.names, values, np.diag(case.u**2), known=case.known, doubts=doubts)
    assert found is not None
    return found


@cache
def rates(name: str, wrong: str, by: float, doubted: str) -> tuple[int, int, int]:
    """How often the wrong one is named alone, is first among several, and another one is named first."""
    doubts = (doubt(doubted),) if doubted else ()
    alone = first = other = 0
    for seed in range(DRAWS):
        found = judged(name, seed, wrong, by, doubts)
        if not found.contradiction:
            continue
        right = found.named[0].name == wrong
        alone += right and found.told_apart
        first += right
        other += not right
    return alone, first, other


@pytest.mark.parametrize(("name", "wrong", "by"), [("s1", "manifold_pressure", 18.0), ("s2", "fuel_flow", 8.0)])
def test_the_reading_whose_sensor_failed_in_the_log_is_named_alone_more_often(name: str, wrong: str, by: float) -> None:
    if wrong not in CASES[name].names:
        wrong = next(one for one in CASES[name].names if one.startswith("fuel_flow"))
    plain, told = rates(name, wrong, by, ""), rates(name, wrong, by, wrong)
    assert told[1] > plain[1]
    assert told[0] >= plain[0]
    assert told[2] < plain[2]


def test_without_a_fault_there_are_as_many_false_alarms_as_without_a_log() -> None:
    for name in ("s1", "s4"):
        for seed in range(DRAWS // 2):
            plain = judged(name, seed, "", 0.0, ())
            told = judged(name, seed, "", 0.0, tuple(doubt(one) for one in CASES[name].names[:3]))
            assert told.contradiction == plain.contradiction
            assert told.chi_squared == pytest.approx(plain.chi_squared)


def test_a_log_that_speaks_against_a_sound_reading_does_not_hide_a_plain_lie() -> None:
    case = CASES["s4"]
    told = judged("s4", 3, "turbine_outlet_temperature", 25.0, (doubt(case.names[0]),))
    assert told.named[0].name == "turbine_outlet_temperature"


def test_an_error_as_large_as_the_log_says_weighs_more() -> None:
    fits = doubt("x", "twins_apart", 0.005, 0.0005)
    assert fits.fits(0.0054, 0.0004)
    assert not fits.fits(-0.005, 0.0004)
    assert not doubt("x").fits(0.005, 0.0004)


# ---------------------------------------------------------------------- from a visit


SAID = {"quantity": "manifold_pressure", "place": "engine", "kind": "stuck", "size": None, "u": None, "twin": "",
        "since": "2032-05-11", "says": "showed the same number since 11 May 2032"}  # fmt: skip


def test_a_visit_brings_what_its_log_says_and_where_it_comes_from() -> None:
    case = visit({"engine/manifold_pressure": "18 psig"})
    told = replace(case, visit={**case.visit, "channels_in_doubt": (SAID,)})
    plain, found = cross_check_of(case), cross_check_of(told)
    assert plain is not None
    assert found is not None
    assert [one.name for one in found.doubts] == ["manifold_pressure"]
    assert found.named[0].name == "manifold_pressure"
    assert "its log: it showed the same number since 11 May 2032" in sentence(found, "us")

    def share(of: CrossCheck) -> float:
        return of.identification.probability["manifold_pressure"]

    assert share(found) >= share(plain)


def test_what_the_crew_read_with_its_own_instrument_is_no_channel_of_the_log() -> None:
    mine = reading("stack/exhaust_oxygen_dry", "8.9 %", "as_found")
    panel = reading("engine/manifold_pressure", "29.8 psig", "as_found")
    there = {(one.quantity, one.place): one for one in (mine, panel)}
    keys = {"exhaust_oxygen_dry": (mine.key,), "manifold_pressure": (panel.key,), "mean": (mine.key, panel.key)}
    said = [SAID, {**SAID, "quantity": "exhaust_oxygen_dry", "place": "stack"}]
    assert [one.name for one in doubts_from_logs(said, there, keys)] == ["manifold_pressure"]


def test_of_two_things_that_a_log_says_the_graver_counts() -> None:
    panel = reading("engine/manifold_pressure", "29.8 psig", "as_found")
    there = {(panel.quantity, panel.place): panel}
    said = [{**SAID, "kind": "unit_change"}, SAID, {**SAID, "kind": "coarse"}]
    (one,) = doubts_from_logs(said, there, {"manifold_pressure": (panel.key,)})
    assert (one.kind, one.prior) == ("stuck", PRIOR["stuck"])
