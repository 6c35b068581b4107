"""What a log says up to a day: kept once, the same again, and right about what was put into it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from asfound.errors import InputError, UnknownNameError
from asfound.history import engine_look, look_disk
from asfound.history.alarm_lists import add_list, alarms_of, withdraw_lists
from asfound.history.attention import attention
from asfound.history.channels import SECOND, Channels
from asfound.history.engine_look import current, kept_look, look_at
from asfound.history.findings import found_in
from asfound.history.look_events import clock_beside
from asfound.history.look_facts import Facts, LimitFact, VisitFact
from asfound.history.look_parts import EngineLook
from asfound.history.look_units import agreed
from asfound.history.look_words import day_of
from asfound.history.plain import from_plain, to_plain
from asfound.history.sensor_fault import Fault
from asfound.history.store import Store
from asfound.history.watched import in_log, watched

HOUR = 3600 * SECOND
DAY = 24 * HOUR
BEGIN = 1_924_992_000 * SECOND  # 2031-01-01 UTC
DAYS = 160
VISIT = 100
"""Day on which the drift is taken away."""


def made_log(days: int = DAYS) -> Channels:
    """An engine with load that wanders, jacket water that warms by 0.1 K a day until a visit, and a cold port."""
    random = np.random.default_rng(6)
    n = days * 48
    time = BEGIN + np.arange(n) * (HOUR // 2)
    day = np.arange(n) / 48.0
    load = 0.8 + 0.08 * np.sin(day / 5.0) + 0.005 * random.standard_normal(n)
    ambient = 285.0 + 8.0 * np.sin(2 * np.pi * day) + 3.0 * np.sin(day / 9.0)
    drifted = np.where(day < VISIT, 0.1 * day, 0.0)
    ports = {
        f"cylinder_exhaust_temperature@cylinder_{k}": 780.0 + 6.0 * k + 60.0 * (load - 0.8) + random.standard_normal(n)
        for k in range(1, 7)
    }
    ports["cylinder_exhaust_temperature@cylinder_4"] = ports["cylinder_exhaust_temperature@cylinder_4"] - 60.0 * (
        (day > 40) & (day < 90)
    )
    values = {
        "engine_power@engine": 1e6 * load,
        "engine_speed@engine": 94.2 + 0.02 * random.standard_normal(n),
        "ambient_temperature@site": ambient,
        "jacket_water_outlet_temperature@engine": 355.0 + 10.0 * (load - 0.8) + 0.05 * (ambient - 285.0) + drifted
        + 0.3 * random.standard_normal(n),
        "raw:running@engine": np.ones(n),
        **ports,
    }  # fmt: skip
    return Channels.of(time, values)


def facts(**more: object) -> Facts:
    at = BEGIN + VISIT * DAY
    return Facts(rated_power=1e6, visits=(VisitFact(name="X/2031-04-11", start=at - HOUR, end=at),), **more)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Store:
    made = Store(tmp_path_factory.mktemp("logs"))
    made.add("X", replace(made_log(), source="test"))
    return made


@pytest.fixture(scope="module")
def look(store: Store) -> EngineLook:
    return look_at(store, "X", None, facts())


def test_a_drift_ends_at_the_visit_that_took_its_cause_away(look: EngineLook) -> None:
    one = look.indicator("jacket_water_out")
    assert one is not None
    assert one.judged == "still"  # nothing drifts after the visit
    step = next(each for each in one.steps if each.visit)
    assert step.size.value == pytest.approx(-10.0, abs=0.6)
    effect = next(each for visit in look.visits for each in visit.effects if each.key == "jacket_water_out")
    assert effect.verdict == "worked"


def test_before_the_visit_the_date_of_the_limit_is_told(store: Store) -> None:
    limit = LimitFact(quantity="jacket_water_outlet_temperature", value=370.0, source="manual")
    seen = look_at(store, "X", "2031-04-05", Facts(rated_power=1e6, limits=(limit,)))
    one = seen.indicator("jacket_water_out")
    assert one is not None
    assert one.reach is not None
    true = BEGIN + 150 * DAY  # 355 K and 0.1 K a day
    assert one.judged == "near"
    assert one.reach.earliest - 3 * DAY <= true <= one.reach.latest + 3 * DAY
    assert one.reach.never < 0.01
    assert "HI-02" in {each.code for each in found_in(seen)}


def test_a_cold_port_of_weeks_is_a_step_and_not_an_outlier(look: EngineLook) -> None:
    one = look.indicator("exhaust_temperature@cylinder_4")
    assert one is not None
    assert [day_of(each.time) for each in one.steps] == [day_of(BEGIN + 40 * DAY), day_of(BEGIN + 90 * DAY)]
    assert [each.size.value for each in one.steps] == pytest.approx([-54.0, 54.0], abs=8.0)  # its bank's median moves
    others = [each for each in look.indicators if each.key.startswith("exhaust_temperature") and each is not one]
    assert all(each.judged == "still" and not each.steps for each in others)


def test_a_look_is_kept_and_the_same_again(store: Store, look: EngineLook, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(engine_look, "rows_of", None)  # nothing may be worked out
    assert look_at(store, "X", None, facts()) == look
    assert kept_look(store, "X") == look
    assert kept_look(store, "X", "2030-01-01") is None
    assert kept_look(store, "Y") is None
    assert current(store, look, facts())
    assert not current(store, look, Facts())


def test_a_look_is_deterministic(tmp_path: object, look: EngineLook) -> None:
    other = Store(str(tmp_path))
    log = made_log()
    half = len(log) // 2
    for part in (np.arange(half, len(log)), np.arange(half)):  # in another order
        other.add("X", replace(log.take(part), source="test"))
    again = look_at(other, "X", None, facts())
    assert to_plain(replace(again, digest="")) == to_plain(replace(look, digest=""))


def test_a_look_that_was_broken_off_goes_on(tmp_path: object, monkeypatch: pytest.MonkeyPatch) -> None:
    other = Store(str(tmp_path))
    other.add("X", replace(made_log(70), source="test"))
    done: list[str] = []

    def stop(part: str) -> None:
        done.append(part)
        if len(done) == 5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        look_at(other, "X", None, facts(), tell=stop)
    monkeypatch.setattr(engine_look, "check", None)  # the sensors are done
    assert look_at(other, "X", None, facts()).indicators


def test_new_rows_make_a_new_look_and_an_older_day_does_not_see_them(tmp_path: object) -> None:
    other = Store(str(tmp_path))
    other.add("X", replace(made_log(60), source="test"))
    first = look_at(other, "X", "2031-02-15", facts())
    later = made_log(62)
    other.add("X", replace(later.take(later.time >= BEGIN + 60 * DAY), source="more"))
    assert look_disk.of_state(other, "X", "2031-02-15", first.digest) is not None
    assert look_at(other, "X", None, facts()).end > first.end


def test_plain_and_back(look: EngineLook) -> None:
    assert from_plain(EngineLook, to_plain(look)) == look


def test_what_cannot_be_looked_at_says_so(store: Store) -> None:
    with pytest.raises(UnknownNameError):
        look_at(store, "nobody")
    with pytest.raises(InputError, match="before the log"):
        look_at(store, "X", "2029-01-01")
    with pytest.raises(InputError, match="is no day"):
        look_at(store, "X", "yesterday")


def test_too_little_is_unknown_and_no_error(tmp_path: object) -> None:
    other = Store(str(tmp_path))
    other.add("X", replace(made_log(5), source="test"))
    seen = look_at(other, "X")
    assert {one.judged for one in seen.indicators} == {"unknown"}


def test_attention_ranks_what_moves_first(store: Store, look: EngineLook) -> None:
    moving = look_at(store, "X", "2031-04-05", Facts(rated_power=1e6))
    assert attention(moving).score > attention(look).score


def test_the_table_of_what_is_watched_is_sound() -> None:
    assert len({one.key for one in watched()}) == len(watched())
    assert {one.wanted for one in watched()} <= {"lower", "higher", "still"}
    keys = [one.key for one in in_log(made_log(1).values)]
    assert keys[:2] == ["exhaust_temperature@cylinder_1", "exhaust_temperature@cylinder_2"]


@pytest.mark.parametrize("ahead", [0, 4320, -7200])
def test_a_clock_is_held_against_the_alarm_list(ahead: int) -> None:
    random = np.random.default_rng(3)
    time = BEGIN + np.arange(20_000) * 600 * SECOND
    running = np.ones(len(time), dtype=bool)
    stops = np.sort(random.choice(np.arange(200, 19_000, 150), size=12, replace=False))
    for at in stops:
        running[at : at + 20] = False
    trips = [int(time[at]) - int(random.integers(1, 600)) * SECOND for at in stops]
    seen = clock_beside(time + ahead * SECOND, running, trips)
    if ahead == 0:
        assert seen is None
    else:
        assert seen is not None
        assert seen.fast == pytest.approx(ahead, abs=120)


def test_alarm_lists_are_kept_once_and_go_with_their_source(tmp_path: object) -> None:
    other = Store(str(tmp_path))
    text = "time,source,tag,state,class\n2031-01-02T00:00:00Z,PLC,TSHH,ALM,shutdown\n"
    assert alarms_of(other, "X") is None
    add_list(other, "X", text, "list #1")
    add_list(other, "X", text, "list #1")
    found = alarms_of(other, "X")
    assert found is not None
    assert len(found) == 1
    assert other.engines() == ()  # an alarm list is no log
    assert withdraw_lists(other, "X", "list #1") == 1
    assert alarms_of(other, "X") is None


def test_most_channels_say_which_side_of_a_change_of_unit_is_wrong() -> None:
    def fault(channel: str, start: int, end: int, says: str) -> Fault:
        return Fault(kind="unit_change", channel=channel, start=start * DAY, end=end * DAY, says=says)

    wrong = [fault(f"a@cylinder_{k}", 100, 140, "C under F") for k in range(4)]
    turned = [fault("b@engine", 0, 100, "F under C"), fault("b@engine", 140, 400, "F under C")]
    found = [one for one in agreed([*wrong, *turned]) if one.channel == "b@engine"]
    assert [(one.start // DAY, one.end // DAY, one.says) for one in found] == [(100, 140, "C under F")]
