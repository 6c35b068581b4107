"""Pictures and words of a log: the axis, rows, gaps, walls, the fan, stretches of time, and the section on paper."""

from __future__ import annotations

import io
import math
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pypdf import PdfReader

from asfound.history.look_parts import ChannelThere, EngineLook, Indicator, Interval, Moment, Reach, StepSeen
from asfound.history.look_words import move
from asfound.quantities.days import MONTHS
from asfound.records.visit import VisitView
from asfound.report.axis import Wall
from asfound.report.content_fleet import made
from asfound.report.content_history import fan_of, level_of, narrowed
from asfound.report.content_history_paper import history
from asfound.report.content_history_tables import tables_of, worded
from asfound.report.history_frame import Event, history_events
from asfound.report.history_row import Columns, Fan, HistoryRow, history_row
from asfound.report.history_window import window_of
from asfound.report.ink import text_width
from asfound.report.time_axis import DAY, microseconds, moment, time_ticks

BEGIN = microseconds(datetime(2031, 1, 1, tzinfo=UTC))
YEAR = 365 * DAY
PLACE = timezone(timedelta(hours=-6))


def measure(text: str) -> float:
    return text_width(text, 14.5)


# ---------------------------------------------------------------------- the axis


@given(
    start=st.integers(0, 4_000_000_000),
    length=st.integers(60, 40 * 366 * 86_400),
    room=st.sampled_from((280.0, 610.0, 830.0)),
)
def test_dates_on_an_axis_never_touch_and_stand_where_they_say(start: int, length: int, room: float) -> None:
    a, b = start * 1_000_000, (start + length) * 1_000_000
    ticks = time_ticks(a, b, room=room, measure=measure, zone=PLACE)
    at = [(one.time - a) / (b - a) * room for one in ticks]
    assert all(a <= one.time <= b for one in ticks)
    assert all(y - x >= measure(one.text) for x, y, one in zip(at, at[1:], ticks, strict=False))


def test_ticks_are_at_the_clock_of_the_place() -> None:
    ticks = time_ticks(BEGIN, BEGIN + 10 * DAY, room=830, measure=measure, zone=PLACE)
    assert all(moment(one.time, PLACE).hour == 0 for one in ticks)


def test_a_year_shows_months_with_the_year_said_once() -> None:
    ticks = time_ticks(BEGIN - DAY, BEGIN + YEAR, room=830, measure=measure)
    assert ticks[0].text == "Jan. 2031"
    assert all(one.text.isalpha() or one.text.endswith((".", "2032")) for one in ticks[1:])
    assert len(MONTHS) == 12


# ---------------------------------------------------------------------- stretches of time


@given(share=st.floats(-0.9, 0.9), factor=st.floats(0.1, 2.5))
def test_moving_keeps_the_length_and_coming_closer_keeps_the_middle(share: float, factor: float) -> None:
    span = (BEGIN, BEGIN + 3 * YEAR)
    window = window_of({"from": str((BEGIN + YEAR) // 1_000_000), "to": str((BEGIN + 2 * YEAR) // 1_000_000)}, span)
    moved = window_of(dict(re.findall(r"(\w+)=(-?\d+)", window.moved(share))), span)
    closer = window_of(dict(re.findall(r"(\w+)=(-?\d+)", window.zoomed(factor))), span)
    assert moved.end - moved.start == pytest.approx(YEAR, abs=2_000_000)
    assert (closer.start + closer.end) / 2 == pytest.approx(BEGIN + 1.5 * YEAR, abs=2_000_000)


def test_a_typed_last_day_is_inside() -> None:
    window = window_of({"from": "2031-02-01", "to": "2031-02-01"}, (BEGIN, BEGIN + YEAR), PLACE)
    assert window.end - window.start == DAY
    assert window.first_day == window.last_day == "2031-02-01"


@given(text=st.text(max_size=30))
def test_any_text_for_a_date_is_taken_or_told(text: str) -> None:
    window = window_of({"from": text, "to": "2031-06-01"}, (BEGIN, BEGIN + YEAR))
    assert window.end > window.start


# ---------------------------------------------------------------------- rows


def columns(n: int = 100, gap: tuple[int, int] = (40, 50)) -> Columns:
    mean = 10 + np.sin(np.arange(n) / 9.0)
    mean[slice(*gap)] = np.nan
    broken = np.zeros(n, bool)
    broken[gap[1]] = True
    at = BEGIN + np.arange(n, dtype=np.int64) * DAY
    return Columns(time=at, step=DAY, low=mean - 0.2, high=mean + 0.3, mean=mean, broken=broken)


def drawn(row: HistoryRow, days: int = 120, **given: Any) -> str:
    return history_row(row, start=BEGIN, end=BEGIN + days * DAY, **given)


@pytest.mark.parametrize("width", [900, 680, 350])
@pytest.mark.parametrize("paper", [True, False])
def test_a_gap_is_dotted_ground_and_not_bridged(width: int, paper: bool) -> None:
    row = HistoryRow(title="T", columns=columns(), gaps=((BEGIN + 40 * DAY, BEGIN + 50 * DAY),))
    svg = drawn(row, width=width, paper=paper)
    line = re.search(r'class="tl-mean" d="([^"]*)"', svg)
    assert line
    assert line[1].count("M ") == 2
    assert 'class="tl-gap"' in svg


def test_an_upper_wall_hatches_above_and_a_lower_one_below() -> None:
    for side, value in (("upper", 12.0), ("lower", 8.0)):
        svg = drawn(HistoryRow(title="T", columns=columns(), walls=(Wall(value, "limit", side),)))  # type: ignore[arg-type]
        wall = re.search(r'wallline" x1="[\d.]+" y1="([\d.]+)"', svg)
        fill = re.search(r'wallfill" x="[\d.]+" y="([\d.]+)" width="[\d.]+" height="([\d.]+)"', svg)
        assert wall
        assert fill
        top, high, line = float(fill[1]), float(fill[2]), float(wall[1])
        assert (
            (top + high == pytest.approx(line, abs=0.2)) if side == "upper" else (top == pytest.approx(line, abs=0.2))
        )


def test_a_wall_far_away_is_named_not_drawn() -> None:
    svg = drawn(HistoryRow(title="T", columns=columns(), walls=(Wall(90.0, "limit 90", "upper"),)))
    assert "wallline" not in svg
    assert "limit 90, above this picture" in svg


def test_the_bar_on_the_wall_holds_the_crossing() -> None:
    fan = Fan(
        start=BEGIN + 100 * DAY,
        value=10,
        low=9.8,
        high=10.2,
        limit=12,
        above=True,
        at=BEGIN + 110 * DAY,
        earliest=BEGIN + 106 * DAY,
        latest=BEGIN + 116 * DAY,
    )
    svg = drawn(HistoryRow(title="T", columns=columns(), walls=(Wall(12.0, "limit", "upper"),), fan=fan))
    bar = re.search(r'bar-f" x="([\d.]+)" y="[\d.]+" width="([\d.]+)"', svg)
    plot = re.search(r'<svg x="([\d.]+)" y="[\d.]+" width="([\d.]+)"', svg)
    assert bar
    assert plot
    share = (float(bar[1]) - float(plot[1])) / float(plot[2])
    assert share == pytest.approx(106 / 120, abs=0.002)
    assert float(bar[2]) / float(plot[2]) == pytest.approx(10 / 120, abs=0.002)


def test_folding_for_a_phone_loses_no_value() -> None:
    row = HistoryRow(title="T", columns=columns(101, (41, 43)))
    folded = narrowed(row, 350).columns
    assert folded is not None
    assert row.columns is not None
    assert np.nanmax(folded.high) == np.nanmax(row.columns.high)
    assert np.nanmin(folded.low) == np.nanmin(row.columns.low)
    assert folded.broken.any()


def test_a_row_without_any_value_is_drawn() -> None:
    empty = Columns(
        time=np.array([], np.int64),
        step=0,
        low=np.array([]),
        high=np.array([]),
        mean=np.array([]),
        broken=np.array([], bool),
    )
    assert "axisline" in drawn(HistoryRow(title="T", columns=empty))


def test_events_have_their_marks() -> None:
    events = [
        Event(kind="visit", time=BEGIN + DAY, text="2 January"),
        Event(kind="trip", time=BEGIN + 5 * DAY, text="PSLL"),
        Event(kind="flood", time=BEGIN + 6 * DAY, end=BEGIN + 7 * DAY),
    ]
    svg = history_events(events, start=BEGIN, end=BEGIN + 20 * DAY, label="L")
    assert [kind in svg for kind in ('class="ring"', "tl-disc", "s-stop", "bar-o")] == [True] * 4
    outside = history_events(events, start=BEGIN + 10 * DAY, end=BEGIN + 20 * DAY, label="L")
    assert 'class="ring"' not in outside


# ---------------------------------------------------------------------- what a look says


def indicator(**changes: Any) -> Indicator:
    end = BEGIN + YEAR
    given = Indicator(
        key="water",
        title="Jacket water out",
        channel="jacket_water_outlet_temperature@engine",
        quantity="jacket_water_outlet_temperature",
        place="engine",
        group="cooling",
        wanted="still",
        share=False,
        matters=1.0,
        sees="radiator",
        kind="drift",
        odds={"drift": 0.93},
        now=Interval(366.0, 365.5, 366.5),
        slope=Interval(1.0, 0.8, 1.2),
        moved=Interval(6.0, 5.5, 6.5),
        moved_from=BEGIN,
        began=Moment(time=BEGIN + 100 * DAY, earliest=BEGIN + 90 * DAY, latest=BEGIN + 112 * DAY),
        limit=371.15,
        limit_from="alarm, 98 °C",
        judged="near",
        says="Jacket water out: rises since 2031-04-11; -1 of 3.",
        reach=Reach(
            time=end + 60 * DAY,
            earliest=end + 40 * DAY,
            latest=0,
            never=0.1,
            reached=0.0,
            hours=1400.0,
            low=900.0,
            high=math.inf,
            far=False,
            says="In about 1,400 run hours.",
        ),
        daily_time=tuple(BEGIN + i * DAY for i in range(365)),
        daily=tuple(360.0 + 6.0 * max(i - 100, 0) / 265 for i in range(365)),
        number=365,
    )
    return replace(given, **changes)


def look(*indicators: Indicator, **changes: Any) -> EngineLook:
    there = ChannelThere(
        channel="jacket_water_outlet_temperature@engine",
        quantity="jacket_water_outlet_temperature",
        place="engine",
        n=9,
        share=1.0,
        first=BEGIN,
        last=BEGIN + YEAR,
        low=280.0,
        high=370.0,
        mean=360.0,
    )
    return EngineLook(
        engine="X",
        day="2031-12-31",
        version=1,
        digest="",
        start=BEGIN,
        end=BEGIN + YEAR,
        rows=9,
        step=600.0,
        channels=(there,),
        indicators=indicators or (indicator(),),
        **changes,
    )


def test_the_level_turns_where_the_drift_began_and_ends_at_now() -> None:
    corners = level_of(indicator(), BEGIN + YEAR)
    assert [at for at, *_ in corners] == [BEGIN, BEGIN + 100 * DAY, BEGIN + YEAR]
    assert [value for _, value, *_ in corners] == pytest.approx([360.0, 360.0, 366.0])


def test_the_level_goes_the_way_that_the_drift_went() -> None:
    way = tuple((BEGIN + day * DAY, 360.0 + 6.0 * (day / 365) ** 2) for day in (0, 100, 200, 300, 365))
    corners = level_of(indicator(path=way), BEGIN + YEAR)
    assert [(at, value) for at, value, *_ in corners] == list(way)
    assert all(high - low == pytest.approx(1.0) for _, _, low, high in corners)


def test_a_share_is_a_ratio() -> None:
    one = indicator(
        share=True, matters=0.05, now=Interval(110.0, 109.0, 111.0), moved=Interval(math.log(1.1), 0.09, 0.1)
    )
    assert level_of(one, BEGIN + YEAR)[0][1] == pytest.approx(100.0)
    assert move(one, Interval(math.log(1.1), math.log(1.05), math.log(1.15)))[0] == "+10.0 %"


def test_a_difference_of_temperature_has_no_offset() -> None:
    assert move(indicator(), Interval(5.0, 4.0, 6.0), "us") == ("+9.0 °F", "+7.2 to +10.8")
    assert move(indicator(), Interval(5.0, 4.0, 6.0), "si") == ("+5.0 K", "+4.0 to +6.0")


def test_no_forecast_where_nothing_is_reached() -> None:
    assert fan_of(indicator(reach=None), BEGIN + YEAR) is None
    found = fan_of(indicator(), BEGIN + YEAR)
    assert found is not None
    assert found.latest is None  # it may never get there


def test_words_write_dates_out() -> None:
    assert worded("rises since 2031-04-11, -1.5 of A2/2032-07-08") == "rises since 11 April 2031, −1.5 of A2/2032-07-08"


def test_changes_say_since_when_and_how_sure() -> None:
    (row,) = tables_of(look(), "si", UTC).changes
    assert (row.kind, row.when, row.interval) == ("Drift", "from 11 April 2031", "1 to 23 April 2031")
    assert row.sure == "93 in 100"
    step = StepSeen(
        time=BEGIN + DAY, earliest=BEGIN, latest=BEGIN + 2 * DAY, size=Interval(-3.0, -3.5, -2.5), visit="X/2031-01-02"
    )
    told = tables_of(look(indicator(judged="still", steps=(step,))), "si", UTC).changes
    assert told[0].kind == "Step"
    assert "With the visit X/2031-01-02" in told[0].says


def test_nothing_moving_is_said() -> None:
    assert "Nothing moves" in tables_of(look(indicator(judged="still")), "si", UTC).headline[0]


def test_what_stepped_leads_over_that_nothing_moves_now() -> None:
    def step(size: float) -> StepSeen:
        return StepSeen(
            time=BEGIN + DAY, earliest=BEGIN + DAY, latest=BEGIN + DAY, size=Interval(size, size - 0.1, size + 0.1),
            visit="X/2031-01-02", why="oxygen sensor changed",
        )  # fmt: skip

    small = indicator(key="oil", title="Oil", judged="still", kind="step", steps=(step(-3.0),))
    large = indicator(key="jacket", judged="still", kind="step", steps=(step(-30.0), step(2.0)))
    first, second = tables_of(look(small, large, indicator(key="still", judged="still")), "si", UTC).headline
    assert first.startswith("Jacket water out stepped by −30.00 K (−30.10 to −29.90) on 2 January 2031")
    assert first.endswith("with the visit X/2031-01-02 (oxygen sensor changed).")
    assert second.startswith("Nothing moves now: 3 watched readings")
    assert second.endswith("Stepped too: Oil.")


def test_a_card_shows_the_reading_that_wants_a_look() -> None:
    still = indicator(key="oil", title="Oil", judged="still")
    card = made(look(still, indicator()), "f")
    assert card.title == "Jacket water out"
    assert card.says.startswith("At its limit on")
    assert card.usual is not None
    assert card.usual[1] < 361.0  # its own usual is from before it moved
    assert len(card.time) <= 200
    assert made(look(still), "f").says == "Usual"


def test_a_card_of_a_step_says_the_step_in_the_units_of_its_reader() -> None:
    step = StepSeen(time=BEGIN + 300 * DAY, earliest=0, latest=0, size=Interval(-10.0, -10.5, -9.5))
    card = made(look(indicator(judged="moves", kind="step", reach=None, steps=(step,), moved=Interval())), "f")
    assert card.says == "Stepped by −10.0 K on 28 October 2031"
    assert card.says_us == "Stepped by −18.0 °F on 28 October 2031"


# ---------------------------------------------------------------------- on paper


def with_look(view: VisitView, found: EngineLook | None) -> VisitView:
    case = replace(view.case, engine={**view.case.engine, "history": found})
    return replace(view, case=case)


def test_the_report_has_the_section_only_where_a_log_is(views: dict[str, VisitView]) -> None:
    a2 = views["open"]
    from asfound.report.typeset import visit_report

    assert history(with_look(a2, None), "si") is None
    shown = history(with_look(a2, look()), "us")
    assert shown is not None
    assert shown["pictures"][0]["alt"]
    pdf = visit_report(with_look(a2, look()), proof=False)
    text = " ".join(" ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages).split())
    assert "History" in text
    assert "What changed, and when" in text
    assert "From 10 April 2031" in text  # at the clock of the site, six hours behind


def test_a_zone_by_offset_name_or_none() -> None:
    from asfound.report.history_logs import zone_of

    for said, hours in (("-06:00", -6), ("Europe/Berlin", 1), ("nowhere", 0), ("", 0)):
        engine: Any = SimpleNamespace(site=SimpleNamespace(content={"zone": said}))
        when = datetime.combine(date(2032, 1, 1), datetime.min.time(), zone_of(engine))
        assert when.utcoffset() == timedelta(hours=hours)
