"""Times as logs write them, against the standard library's own reading; and clocks that change twice a year."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.history.sniff_time import date_order
from asfound.history.split_lines import fields_of_texts
from asfound.history.times_in import NO_TIME, times
from asfound.history.zones import ToUTC, changes_between

MOMENT = st.datetimes(datetime(1981, 1, 1), datetime(2099, 12, 31))


def microseconds(moment: datetime) -> int:
    return (moment.replace(tzinfo=UTC) - datetime(1970, 1, 1, tzinfo=UTC)) // timedelta(microseconds=1)


@pytest.mark.parametrize(
    ("form", "order"),
    [
        ("%Y-%m-%d %H:%M:%S.%f", "ymd"), ("%Y-%m-%dT%H:%M:%S", "ymd"), ("%Y%m%d %H%M%S", "ymd"),
        ("%Y%m%d%H%M%S", "ymd"),
        ("%d.%m.%Y %H:%M:%S", "dmy"), ("%d/%m/%y %H:%M", "dmy"), ("%m/%d/%Y %I:%M:%S %p", "mdy"),
        ("%m-%d-%y %I:%M %p", "mdy"), ("%d-%b-%Y %H:%M:%S", "dmy"), ("%d %B %Y %H:%M:%S", "dmy"), ("%Y/%m/%d", "ymd"),
    ],
)  # fmt: skip
@given(moment=MOMENT)
def test_as_the_standard_library_writes_them(form, order, moment):
    if "%y" in form:
        moment = moment.replace(year=2000 + moment.year % 69)
    text = moment.strftime(form)
    clock = times(*fields_of_texts([text]), order)
    assert clock.why is None, (text, clock.why)
    assert int(clock.wall[0]) == microseconds(datetime.strptime(text, form))


@pytest.mark.parametrize("text", ["31.02.2024 06:00:00", "29.02.2023", "01.13.2024", "01.01.2024 25:00", "00.01.2024",
                                  "01.01.2024 10:60"])  # fmt: skip
def test_what_no_calendar_has_is_refused(text):
    clock = times(*fields_of_texts([text]), "dmy")
    assert clock.wall[0] == NO_TIME
    assert clock.why[0] == "impossible date"


def test_other_forms_of_time():
    assert int(times(*fields_of_texts(["1730000000"]), "epoch_s").wall[0]) == 1730000000_000000
    assert int(times(*fields_of_texts(["1730000000250"]), "epoch_ms").wall[0]) == 1730000000_250000
    assert int(times(*fields_of_texts(["45592.5"]), "sheet_days").wall[0]) == microseconds(datetime(2024, 10, 27, 12))
    clock = times(
        *fields_of_texts(["2024-10-27T00:00:00+02:00", "2024-10-27T00:00:00Z", "2024-10-27 00:00-0530"]), "ymd"
    )
    assert clock.offset.tolist() == [120, 0, -330]
    assert times(*fields_of_texts(["27.10.2024 24:00:00"]), "dmy").wall[0] == microseconds(datetime(2024, 10, 28))


def order_of(texts):
    return date_order([fields_of_texts(texts)]).order


def test_the_order_of_a_date_is_decided_from_the_whole_file_or_asked():
    assert order_of(["03.04.2024 10:00"] * 50 + ["13.04.2024 10:00"]) == "dmy"
    assert order_of(["03/04/2024 10:00"] * 50 + ["04/13/2024 10:00"]) == "mdy"
    assert (
        order_of(["03/04/2024 23:59", "03/05/2024 00:00", "03/06/2024 00:01"]) == ""
    )  # steps of a day in both readings
    assert order_of(["03/04/2024 23:59", "03/05/2024 00:00"]) == "mdy"  # the day after, or a month and a minute after
    assert order_of(["04.03.2024 23:59", "05.03.2024 00:00"]) == "dmy"
    assert order_of(["03/04/2024 10:00", "03/04/2024 10:01"]) == ""
    assert order_of(["2024-04-03 10:00"]) == "ymd"


@pytest.mark.parametrize("zone", ["Europe/Berlin", "America/Chicago", "Australia/Lord_Howe", "Asia/Kathmandu"])
@pytest.mark.parametrize("step", [60, 600, 3600])
def test_a_log_through_a_year_of_local_time_comes_back_as_it_was(zone, step):
    """Writes UTC as local time and reads it again: the repeated hour by the order of the rows."""
    start = microseconds(datetime(2024, 1, 1))
    spans = [(change.at - 6 * 3600_000000, change.at + 6 * 3600_000000) for change in
             changes_between(zone, start, start + 366 * 86400_000000)] or [(start, start + 86400_000000)]  # fmt: skip
    utc = np.concatenate([np.arange(low, high, step * 1_000_000) for low, high in spans])
    zoneinfo = ZoneInfo(zone)
    wall = np.array([microseconds(datetime.fromtimestamp(at / 1e6, zoneinfo).replace(tzinfo=None)) for at in utc])
    back, missing = ToUTC(zone, step)(wall)
    assert not missing.any()
    np.testing.assert_array_equal(back, utc)
    again = ToUTC(zone, step)
    pieces = [again(part)[0] for part in np.array_split(wall, 7)]  # in blocks, as a reader gives them
    np.testing.assert_array_equal(np.concatenate(pieces), utc)


def test_the_missing_hour_is_said():
    wall = np.array([microseconds(datetime(2024, 3, 31, 1, 59)), microseconds(datetime(2024, 3, 31, 2, 30)),
                     microseconds(datetime(2024, 3, 31, 3, 0))])  # fmt: skip
    utc, missing = ToUTC("Europe/Berlin")(wall)
    assert missing.tolist() == [False, True, False]
    assert utc[2] - utc[0] == 60_000000


def test_a_zone_that_is_none():
    with pytest.raises(InputError, match="is no time zone"):
        ToUTC("Europe/Nowhere")
