"""Alarm lists, trips, floods, states, hours and indices: the constructed cases exactly, and laws."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.history.channels import SECOND
from asfound.history.checks_events import checks, state_table, trip_log
from asfound.history.events import AlarmLog, clock_offsets, log_of_lines
from asfound.history.events_alarms import chattering, fleeting, floods, rates, stale, standing, without_repeats
from asfound.history.events_hours import bounds, indices
from asfound.history.events_states import (
    StateTable,
    counter_changes,
    hours_by_counter,
    start_attempts,
    states_from_log,
)
from asfound.history.events_trips import trips
from asfound.history.events_words import tag_said

MINUTE = 60 * SECOND


def alarm(seconds: float, tag: str = "TSH-OIL", state: str = "ALM", kind: str = "alarm", source: str = "PLC1"):
    return (round(seconds * SECOND), source, tag, state, kind)


def test_the_constructed_cases_are_met_exactly():
    # shared reference of the project: event_cases/states_a_expected.json, event_cases/truth.json
    missed = [one.check for one in checks() if one.source == "history_event_cases" and not one.holds]
    assert missed == []


def test_the_trip_names_its_first_out_and_not_what_chattered_before():
    (trip,) = trips(trip_log())
    assert trip.first_out == ("VSHH-VIB",)
    assert trip.sure
    assert trip.consequences == ("PSLL-OIL", "SSL-SPEED", "PSL-GAS")
    assert trip.actions == ("FUEL-VALVE", "IGN", "GEN-BREAKER")
    assert trip.chattering == ("LSL-DAYTANK",)


def test_two_shutdowns_within_one_scan_are_candidates_alike():
    (trip,) = trips(trip_log(), scan=0.5)
    assert trip.first_out == ("VSHH-VIB", "PSLL-OIL")
    assert not trip.sure


def test_a_second_trip_needs_the_engine_to_have_run_since():
    first = [alarm(0, "A", kind="shutdown"), alarm(2000, "B", kind="shutdown")]
    ran = alarm(1500, "ENGINE", "RUNNING", "state")
    before = alarm(-10, "ENGINE", "RUNNING", "state")
    assert len(trips(AlarmLog.of([before, *first]))) == 1
    assert [one.first_out for one in trips(AlarmLog.of([before, *first, ran]))] == [("A",), ("B",)]


def test_a_clock_that_is_ahead_is_found_from_events_that_both_write_down():
    rows = []
    for at in (100.0, 5000.0, 90_000.0):
        rows += [alarm(at, "STOP", "STOPPING", "state"), alarm(at + 7.5, "BREAKER", "OPEN", "action", "PLC2")]
    rows.append(alarm(100.0 + 7.2, "UNDERVOLTAGE", "ALM", "shutdown", "PLC2"))
    rows.append(alarm(100.2, "VSHH-VIB", "ALM", "shutdown"))
    log = AlarmLog.of(rows)
    ahead = clock_offsets(log, "PLC1", {"PLC2": ("BREAKER", "STOP"), "PLC3": ("X", "STOP")})
    assert ahead == {"PLC2": pytest.approx(7.5)}
    assert trips(log)[0].first_out == ("VSHH-VIB",)
    assert trips(log.shifted(ahead))[0].first_out == ("UNDERVOLTAGE",)


def test_lines_of_an_alarm_list_are_refused_with_line_and_word():
    with pytest.raises(InputError, match="line 3"):
        log_of_lines(["time,source,tag,state,class", "2031-01-01T00:00:00,P,T,ALM,alarm", "soon,P,T,ALM,alarm"], "x")
    with pytest.raises(InputError, match="column"):
        log_of_lines(["time,source,tag,state"], "x")
    assert len(log_of_lines(["\ufefftime,source,tag,state,class".lstrip("\ufeff"), ""], "x")) == 0


def test_chattering_needs_its_rate_and_ends_when_quiet():
    rows = [row for k in range(6) for row in (alarm(40 * k), alarm(40 * k + 10, state="RTN"))]
    rows += [row for k in range(4) for row in (alarm(5000 + 400 * k), alarm(5000 + 400 * k + 10, state="RTN"))]
    (bout,) = chattering(AlarmLog.of(rows))
    assert (bout.raised, bout.transitions, bout.start, bout.end) == (6, 12, 0, 210 * SECOND)


def test_fleeting_and_stale_and_one_that_stands_to_the_end():
    log = AlarmLog.of(
        [
            alarm(0, "F"),
            alarm(3, "F", "RTN"),
            alarm(10, "S"),
            alarm(20, "S"),
            alarm(100_000, "S", "RTN"),
            alarm(100_001, "E"),
        ]
    )
    assert [one.tag for one in fleeting(log)] == ["F"]
    assert [one.tag for one in stale(log)] == ["S"]
    assert [(one.tag, one.gone) for one in standing(log)] == [("F", True), ("S", True), ("E", False)]


def test_a_flood_is_found_also_across_the_ten_minutes_of_a_clock():
    log = AlarmLog.of([alarm(540 + 10 * k, f"T{k}") for k in range(12)])
    (flood,) = floods(log)
    assert flood.alarms == 12
    assert flood.peak == 12
    assert flood.start == 540 * SECOND
    assert floods(AlarmLog.of([alarm(540 + 10 * k, f"T{k}") for k in range(10)])) == ()


def test_a_chattering_alarm_alone_is_no_flood_once_folded():
    log = AlarmLog.of([alarm(20 * k) for k in range(30)])
    assert len(floods(log)) == 1
    assert floods(without_repeats(log)) == ()


def test_rates_count_by_hand():
    log = AlarmLog.of([alarm(0, "A"), alarm(1, "A"), alarm(700, "B"), alarm(86_400, "A", "RTN")])
    found = rates(log)
    assert (found.alarms, found.per_day, found.most) == (3, 3.0, 2)
    assert found.most_frequent == (("A", 2), ("B", 1))


@given(st.lists(st.integers(0, 100_000), min_size=1, max_size=60))
def test_a_flood_never_has_fewer_alarms_than_begin_it_and_shifting_time_shifts_it(seconds):
    log = AlarmLog.of([alarm(at, f"T{k}") for k, at in enumerate(seconds)])
    later = AlarmLog.of([alarm(at + 12_345, f"T{k}") for k, at in enumerate(seconds)])
    found, moved = floods(log), floods(later)
    assert all(one.alarms > 10 and one.peak > 10 for one in found)
    assert [one.start + 12_345 * SECOND for one in found] == [one.start for one in moved]


def test_hours_add_up_and_indices_stay_shares():
    found = indices(state_table())
    assert found.service + found.reserve + found.forced + found.planned + found.maintenance == found.period
    assert found.availability_factor + found.unavailability_factor == pytest.approx(1)
    assert found.starting_reliability == pytest.approx(13 / 15)


def test_a_stop_without_reason_wants_one_or_gives_two_ends():
    table = StateTable.of_hours([(0, 90, "service"), (90, 100, "standing"), (100, 200, "service")])
    with pytest.raises(InputError, match="standing_as"):
        indices(table)
    low, high = bounds(table)
    assert low.forced_outages == 0
    assert low.availability_factor == 1.0
    assert high.forced_outages == 1
    assert high.forced_outage_rate == pytest.approx(10 / 200)


def test_rows_cut_at_a_month_are_joined_only_when_asked():
    table = StateTable.of_hours([(0, 10, "service"), (10, 20, "service"), (20, 30, "reserve")])
    assert indices(table).starts_successful == 1
    assert indices(table.joined()).starts_successful == 0
    assert indices(table.joined()).service == indices(table).service == 20


def test_a_state_table_refuses_overlap_and_unknown_words():
    with pytest.raises(InputError, match="row 2"):
        StateTable.of_hours([(0, 10, "service"), (9, 20, "reserve")])
    with pytest.raises(InputError, match="sleeping"):
        StateTable.of_hours([(0, 10, "sleeping")])


def test_states_of_a_log_with_a_trip_a_told_stop_and_a_hole():
    step = 10 * MINUTE
    time = np.arange(0, 1000) * step
    running = np.ones(1000)
    running[100:106] = 0  # a trip
    running[300:330] = 0  # told as planned
    running[500:503] = 0  # nobody knows
    running[700] = np.nan  # a cell that was refused
    rows = np.r_[0:600, 650:1000]
    log = AlarmLog.of([alarm(100 * 600 - 240, "PSLL-OIL", "ALM", "shutdown")])
    told = StateTable.of_hours([(48, 56, "planned")])
    table = states_from_log(time[rows], running[rows], trips=trips(log), told=told)
    assert table.state == (
        "service", "forced", "service", "planned", "service", "standing", "service", "unseen", "service",
    )  # fmt: skip
    assert table.hours("forced") == 1.0
    assert table.hours("planned") == 5.0
    assert table.hours("unseen") == 50 / 6
    found = indices(table, standing_as="reserve")
    assert found.starts_successful == 3, "after hours that nobody saw no start was seen"
    assert found.period + found.unseen == pytest.approx(999 / 6)


def test_attempts_are_told_from_starts_in_a_fine_log():
    time = np.arange(600) * SECOND
    speed = np.zeros(600)
    speed[50:65] = 120.0  # cranked, did not fire
    speed[100:112] = 150.0
    speed[112:500] = np.minimum(150 + 60 * np.arange(388), 900)
    found = start_attempts(time, speed, 900.0)
    assert [one.started for one in found] == [False, True]
    assert found[0].cranking == 15.0
    assert found[1].time == 100 * SECOND


def test_a_counter_that_is_exchanged_is_an_event_and_one_false_number_is_none():
    time = np.arange(200) * 6 * 3600 * SECOND
    counter = 40_000 * 3600.0 + np.arange(200) * 5 * 3600.0
    counter[120:] -= counter[120]
    counter[30] = 0.0
    (change,) = counter_changes(time, counter)
    assert change.time == time[120]
    assert change.after == 0.0
    whole = hours_by_counter(time, counter)
    assert whole[-1] == pytest.approx(198 * 5 * 3600.0)


@given(
    st.lists(st.tuples(st.sampled_from(["service", "reserve", "forced", "planned"]), st.integers(0, 500)), min_size=1)
)
def test_hours_of_any_table_add_up(rows):
    at, made = 0.0, []
    for state, long in rows:
        made.append((at, at + long / 4, state))
        at += long / 4
    found = indices(StateTable.of_hours(made))
    assert found.period == pytest.approx(at)
    assert found.starts_successful <= found.starts_attempted


@pytest.mark.parametrize(
    ("tag", "words"),
    [
        ("PSLL-OIL", "Oil pressure very low (PSLL-OIL)"),
        ("VSHH-VIB", "Vibration very high (VSHH-VIB)"),
        ("SSL-SPEED", "Speed low (SSL-SPEED)"),
        ("PDSH-AIRFILTER", "Airfilter pressure difference high (PDSH-AIRFILTER)"),
        ("TDL-EXHAUST", "Exhaust temperature difference low (TDL-EXHAUST)"),
        ("FUEL-VALVE", "FUEL-VALVE"),
        ("SE-SPEED-LOST", "SE-SPEED-LOST"),
        ("K17", "K17"),
        ("", ""),
        ("oil_pressure@engine", "Oil pressure (oil_pressure@engine)"),
    ],
)
def test_a_tag_is_said_in_words_with_the_tag_behind(tag, words):
    """Letters after ANSI/ISA-5.1-2009, table 4.1 (from memory); what is not written so stays as it is."""
    assert tag_said(tag) == words
