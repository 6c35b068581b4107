"""What a look says: in the units of its reader, with dates as they are said, and one meaning in both systems."""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.history.findings import found_in
from asfound.history.look_events import events_of
from asfound.history.look_facts import StopFact
from asfound.history.look_parts import (
    EffectSeen,
    EngineLook,
    Indicator,
    Interval,
    Moment,
    Reach,
    StepSeen,
    VisitSeen,
)
from asfound.history.look_words import amount, between, day_said, effect_says, level, move, says_of, span_said, unit_of
from asfound.history.watched import Made, watched

DAY = 86_400_000_000
BEGIN = 22_280 * DAY
ISO = re.compile(r"(?<![\w/])\d{4}-\d\d-\d\d")
SI_ONLY = re.compile(r"\d (K|°C|kPa|bar|Pa|m3|m³)\b")


def of(made: Made, **changes: object) -> Indicator:
    row = made.watched
    value = 0.05 if row.share else 400.0
    one = Indicator(
        key=made.key, title=made.title, channel=made.channel, quantity=row.quantity, place="engine", group=row.group,
        wanted=row.wanted, share=row.share, matters=row.matters, sees=row.sees, scale=made.scale, over=made.over,
        kind="both", now=Interval(value, 0.99 * value, 1.01 * value),
        moved=Interval(3 * row.matters, 2.5 * row.matters, 3.5 * row.matters), moved_from=BEGIN,
        began=Moment(time=BEGIN + 40 * DAY, earliest=BEGIN + 30 * DAY, latest=BEGIN + 55 * DAY),
        steps=(StepSeen(time=BEGIN + 90 * DAY, earliest=BEGIN + 88 * DAY, latest=BEGIN + 91 * DAY,
                        size=Interval(5 * row.matters, 4 * row.matters, 6 * row.matters)),),
        limit=1.2 * value, limit_from="engineering judgement", judged="near",
        reach=Reach(time=BEGIN + 500 * DAY, earliest=BEGIN + 480 * DAY, latest=BEGIN + 530 * DAY, never=0.02,
                    reached=0.0, hours=900.0, low=700.0, high=1200.0, far=False, says="In about 900 run hours."),
    )  # fmt: skip
    return replace(one, **changes)  # type: ignore[arg-type]


def every() -> list[Indicator]:
    found = []
    for row in watched():
        others = ("engine_power@engine",) if row.make == "per" else ()
        found.append(of(Made(watched=row, channel=f"{row.quantity}@engine", others=others)))
    return found


EVERY = every()


@pytest.mark.parametrize("one", EVERY, ids=lambda one: one.key)
def test_a_reader_of_us_units_reads_no_si_unit_and_nobody_a_date_of_a_file(one: Indicator) -> None:
    here, there = says_of(one, "us"), says_of(one, "si")
    assert not SI_ONLY.search(here), here
    assert not ISO.search(here + there)
    assert day_said(BEGIN + 40 * DAY) in here
    assert "30 days" not in here


@pytest.mark.parametrize("one", EVERY, ids=lambda one: one.key)
@given(value=st.floats(0.2, 50.0))
def test_a_move_is_the_same_in_both_systems(one: Indicator, value: float) -> None:
    size = Interval(value * one.matters, 0.9 * value * one.matters, 1.1 * value * one.matters)
    numbers = []
    for system in ("si", "us"):
        text = move(one, size, system)[0]
        number = float(text.split()[0].replace(",", "").replace("+", ""))
        scale = 1.0 if one.share else unit_of(one, system, difference=True)[1]
        numbers.append((number * scale, scale))
    (si, _), (us, scale) = numbers
    assert us == pytest.approx(si, rel=0.12, abs=0.6 * scale if one.share else 0.02 * one.matters)


def test_values_that_a_handbook_can_check() -> None:
    by = {one.key: one for one in EVERY}
    assert level(by["jacket_water_out"], 366.15, "us") == "199 °F"  # 93 °C is 199.4 °F; 9/5 and 32, SI brochure
    assert amount(by["jacket_water_out"], 10.0, "us") == "+18.0 °F"
    assert level(by["catalyst_rise"], 60.0, "us").endswith("+108.0 °F")
    assert amount(by["oil_pressure"], 0.05, "si") == "+5.1 %"  # exp(0.05) - 1
    assert amount(by["crankcase_pressure"], 249.089, "us").startswith("+1.00 inH")  # 249.089 Pa, NIST SP 811 B.8
    assert level(by["fuel_per_power"], 1e-6 / 3.6, "si").startswith("1.000 m³(n)/h per kW")  # 1 m³ in an hour by 1 kW


def test_a_temperature_against_its_bank_has_no_zero_of_a_scale() -> None:
    one = next(one for one in EVERY if one.key == "exhaust_temperature")
    assert one.scale == "difference"
    assert level(one, -54.0, "si") == "−54 K"
    assert level(one, -54.0, "us") == "−97 °F"


def test_an_interval_has_no_figures_that_nobody_can_use() -> None:
    one = next(one for one in EVERY if one.key == "jacket_water_out")
    assert between(one, Interval(10.0851, 10.0843, 10.0859)) == "+10.09 K (+10.08 to +10.09)"
    assert between(one, Interval(math.nan, math.nan, math.nan)) == "not known"


def test_spans_say_once_what_they_share() -> None:
    assert span_said(BEGIN, BEGIN + 3 * DAY) == "1 to 4 January 2031"
    assert span_said(BEGIN, 0) == "1 January 2031 to never"
    assert span_said(0, 0) == "never"


def test_what_a_visit_did_is_said_in_the_units_of_the_reader() -> None:
    one = next(one for one in EVERY if one.key == "exhaust_temperature")
    effect = EffectSeen(
        key=one.key, title=one.title, channel=one.channel, difference=Interval(50.0, 45.0, 55.0), share=False,
        probability=0.99, verdict="worked", says="x",
    )  # fmt: skip
    assert "+90.0 °F" in effect_says(effect, one, "us")
    look = EngineLook(
        engine="X", day="2032-01-01", version=1, digest="", start=BEGIN, end=BEGIN + 400 * DAY, rows=9, step=600.0,
        indicators=(one,), visits=(VisitSeen(name="X/2031-06-01", start=BEGIN, end=BEGIN, effects=(effect,)),),
    )  # fmt: skip
    found = {one.code: one for one in found_in(look, "us")}
    assert "+90.0 °F" in found["HI-05"].says
    assert not SI_ONLY.search(" ".join(one.says + one.next_step for one in found_in(look, "us")))
    assert not ISO.search(" ".join(one.says + one.next_step + one.compared_with for one in found_in(look, "us")))


def test_a_step_on_the_day_of_a_work_order_names_it() -> None:
    one = next(one for one in EVERY if one.key == "oil_pressure")
    step = replace(one.steps[0], why="work order 2031-77 of 1 April 2031: oil filter")
    look = EngineLook(
        engine="X", day="2031-12-31", version=1, digest="", start=BEGIN, end=BEGIN + 300 * DAY, rows=9, step=600.0,
        indicators=(replace(one, steps=(step,), judged="moves", kind="step"),),
    )  # fmt: skip
    said = next(each for each in found_in(look) if "stepped by" in each.says)
    assert "work order 2031-77" in said.says
    assert "Ask whether that work moved it" in said.next_step
    assert "work order 2031-77" in says_of(look.indicators[0])


def test_stops_told_twice_do_not_break_the_hours() -> None:
    import numpy as np

    from asfound.history.channels import Channels
    from asfound.history.look_rows import Rows

    time = BEGIN + np.arange(0, 10 * 144) * 600_000_000
    running = ((time - BEGIN) // DAY) % 5 != 2
    slow = Channels(time=time, values={})
    rows = Rows.__new__(Rows)
    for name, value in {"slow": slow, "running": running}.items():
        object.__setattr__(rows, name, value)
    stops = (
        StopFact(start=BEGIN + 2 * DAY, end=BEGIN + 3 * DAY, state="maintenance", says="work order 1"),
        StopFact(start=BEGIN + 2 * DAY, end=BEGIN + 4 * DAY, state="planned", says="the visit X"),
    )
    seen = events_of(rows, None, stops, BEGIN + 10 * DAY)
    told = {one.state: one.why for one in seen.states if one.state != "service"}
    assert told["planned"] == "work order 1" or "maintenance" in told
    assert "standing" in told  # the second stop, of which nobody says why
