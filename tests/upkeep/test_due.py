"""What is due: durations, hour meters, intervals. Published cases stand in the checks of the room."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.upkeep.checks_due import checks
from asfound.upkeep.due import REASONS, STATES, Condition, Interval, due, next_due
from asfound.upkeep.durations import Duration, same_day_each
from asfound.upkeep.meters import MeterExchange, MeterReading, hours_between, hours_per_day, true_hours
from asfound.upkeep.repeats import Rule

DAYS = st.dates(date(1990, 1, 1), date(2090, 12, 31))
HOURS = st.floats(0.0, 1e5)


@pytest.mark.parametrize("check", list(checks()), ids=lambda check: check.check)
def test_published(check):
    assert check.holds, check


def test_every_date_of_a_case_is_compared():
    assert sum(1 for check in checks() if "dates" in check.check) == 36


@pytest.mark.parametrize("text", ["", "P", "1Y", "P1", "PT", "P1DT", "P1.5Y", "1 year"])
def test_what_is_no_duration_is_refused(text):
    with pytest.raises(InputError):
        Duration.parse(text)


def test_a_year_on_29_february_comes_back_to_the_29th():
    year = Duration.parse("P1Y")
    start = date(2032, 2, 29)
    assert year.after(start) == date(2033, 2, 28)
    assert year.after(start, 4) == date(2036, 2, 29)


@given(DAYS, st.integers(1, 60))
def test_same_day_each_never_leaves_its_month(start, months):
    for at, day in enumerate(islice(same_day_each(start, months), 10)):
        assert (day.year * 12 + day.month) - (start.year * 12 + start.month) == at * months
        assert day.day <= start.day


@given(DAYS, st.integers(0, 400))
def test_days_go_there_and_back(start, days):
    assert Duration(days=-days).after(Duration(days=days).after(start)) == start


def test_a_rule_with_a_part_unknown_here_is_refused():
    with pytest.raises(InputError, match="BYSETPOS"):
        Rule.parse("FREQ=MONTHLY;BYDAY=MO;BYSETPOS=1")


def test_a_week_that_a_year_does_not_have_is_left_out():
    """Years of 53 weeks by ISO 8601: 2032 and 2037."""
    rule = Rule.parse("FREQ=YEARLY;BYWEEKNO=53;BYDAY=MO;COUNT=2")
    assert list(rule.dates(date(2031, 1, 1))) == [date(2032, 12, 27), date(2037, 12, 28)]
    with pytest.raises(InputError, match="weeks"):
        Rule.parse("FREQ=MONTHLY;BYWEEKNO=20")


def test_a_rule_ends_by_date_and_one_without_days_ends_at_all():
    start = date(2032, 1, 31)
    assert list(Rule.parse("FREQ=MONTHLY;UNTIL=20320531").dates(start)) == [
        date(2032, 1, 31), date(2032, 3, 31), date(2032, 5, 31),
    ]  # fmt: skip
    assert list(Rule.parse("FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30").dates(start)) == []


def test_an_interval_out_of_the_calendar_is_refused():
    for text in ("P9000Y", "P4000000D", "P9999999999D"):
        with pytest.raises(InputError, match="calendar"):
            Duration.parse(text).after(date(2032, 1, 1))


# --- meters


@given(HOURS, HOURS, HOURS, HOURS)
def test_an_exchange_takes_no_hours_and_gives_none(last, first_of_new, ran_before, ran_after):
    day = date(2032, 5, 30)
    exchange = MeterExchange(day, last + ran_before, first_of_new)
    before = MeterReading(day - timedelta(days=5000), last)
    after = MeterReading(day + timedelta(days=5000), first_of_new + ran_after)
    assert hours_between(before, after, [exchange]) == pytest.approx(ran_before + ran_after, abs=1e-6)


def test_on_the_day_of_the_exchange_the_record_says_which_meter_was_read():
    exchange = MeterExchange(date(2032, 5, 30), 41230.0)
    assert true_hours(MeterReading(date(2032, 5, 30), 0.0), [exchange]) == 41230.0
    assert true_hours(MeterReading(date(2032, 5, 30), 41230.0, old_meter=True), [exchange]) == 41230.0


@pytest.mark.parametrize("later", [40000.0, 40480.0 + 24 * 60])
def test_hours_that_fall_or_outrun_the_days_are_refused(later):
    with pytest.raises(InputError, match="running hours"):
        hours_between(MeterReading(date(2032, 4, 2), 40480.0), MeterReading(date(2032, 5, 1), later))


def test_hours_per_day_of_a_window():
    first, second = MeterReading(date(2032, 4, 1), 1000.0), MeterReading(date(2032, 5, 1), 1600.0)
    assert hours_per_day(first, second) == 20.0


# --- due


def seen(hours: float, **interval: object):
    start = date(2032, 1, 1)
    return due(
        Interval(hours=1000.0, warn_hours=100.0, grace_hours=50.0, **interval),  # type: ignore[arg-type]
        done=MeterReading(start, 0.0), now=MeterReading(start + timedelta(days=90), hours), hours_per_day=20.0,
    )  # fmt: skip


@given(HOURS, HOURS)
def test_more_hours_never_make_a_task_less_due(one, other):
    low, high = sorted((one, other))
    assert STATES.index(seen(low).state) <= STATES.index(seen(high).state)
    assert seen(low).day >= seen(high).day


@given(HOURS, st.integers(1, 3000))
def test_a_second_interval_never_makes_it_later(hours, days):
    alone, both = seen(hours), seen(hours, calendar=Duration(days=days))
    assert both.day <= alone.day
    assert STATES.index(both.state) >= STATES.index(alone.state)


def test_the_edges_of_grace():
    assert [seen(h).state for h in (899.0, 900.0, 999.9, 1000.0, 1050.0, 1050.1)] == [
        "ok", "soon", "soon", "due", "due", "overdue",
    ]  # fmt: skip


def test_an_engine_that_hardly_runs_has_no_date_by_hours():
    reading = MeterReading(date(2032, 1, 1), 0.0)
    for per_day in (0.0, 1e-9, 5e-324):
        assert due(Interval(hours=1000.0), done=reading, now=reading, hours_per_day=per_day).day is None


def test_a_permit_gives_no_grace_by_itself():
    with pytest.raises(InputError, match="permit"):
        Interval(calendar=Duration(months=12), grace_days=14, permit=True)


def test_a_tie_is_told_as_calendar_then_condition():
    start = date(2032, 1, 1)
    day = start + timedelta(days=50)
    condition = Condition(value=2.0, limit=3.0, day=day, falling=True)
    interval = Interval(hours=1000.0, calendar=Duration(days=50))
    done, now = MeterReading(start, 0.0), MeterReading(day, 1000.0)
    assert due(interval, done=done, now=now, hours_per_day=20.0, condition=condition).reason == REASONS[0]
    assert due(Interval(hours=1000.0), done=done, now=now, hours_per_day=20.0, condition=condition).reason == REASONS[1]


def test_a_condition_not_read_asks_for_nothing():
    assert not Condition(value=float("nan"), limit=6.0, day=date(2032, 1, 1)).reached


def test_work_after_todays_reading_is_refused():
    with pytest.raises(InputError, match="exchanged"):
        due(Interval(hours=10.0), done=MeterReading(date(2032, 1, 1), 50.0),
            now=MeterReading(date(2032, 2, 1), 20.0), hours_per_day=20.0)  # fmt: skip


@given(st.floats(0.0, 1e5), st.floats(1.0, 1e4), st.floats(0.0, 1e5))
def test_a_fixed_plan_stays_on_its_places_and_after_the_work(done, interval, planned):
    found = next_due(done, interval, planned=planned)
    assert found > done - 1e-6
    places = (found - planned) / interval
    assert places == pytest.approx(round(places), abs=1e-6)
    assert next_due(done, interval) == done + interval
