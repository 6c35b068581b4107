"""What a log says of ports and sensors reaches the rooms below as plain data, and turns their belief the right way."""

from __future__ import annotations

import json
import math
from dataclasses import replace

from asfound.cylinders.inference_knowledge import knowledge
from asfound.cylinders.judge_case import verdicts
from asfound.cylinders.witnesses import statements_of
from asfound.history.look_doubts import channels_in_doubt
from asfound.history.look_parts import EngineLook, Indicator, Interval, Moment, SensorFault, StepSeen
from asfound.history.look_ports import ports_in_log
from asfound.quantities.findings import Case
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading

DAY = 86_400_000_000
BEGIN = 22_280 * DAY  # 2031-01-01
HOT = {"L1": 590.0, "L2": 586.0, "L3": 589.0, "L4": 535.0, "L5": 587.0,
       "R1": 588.0, "R2": 591.0, "R3": 585.0, "R4": 587.0, "R5": 588.0}  # fmt: skip


def step(day: float, size: float, *, wide: float = 1.0, **more: str) -> StepSeen:
    at = BEGIN + round(day * DAY)
    half = round(wide * DAY / 2)
    return StepSeen(
        time=at, earliest=at - half, latest=at + half, size=Interval(size, 0.95 * size, 1.05 * size), **more
    )  # type: ignore[arg-type]


def port(name: str, *steps: StepSeen, **changes: object) -> Indicator:
    one = Indicator(
        key=f"exhaust_temperature@cylinder_{name}", title=f"Exhaust temperature of cylinder {name} against its bank",
        channel=f"cylinder_exhaust_temperature@cylinder_{name}", quantity="cylinder_exhaust_temperature",
        place=f"cylinder_{name}", group="exhaust", wanted="still", share=False, matters=15.0, sees="", kind="step",
        scale="difference", judged="still", steps=steps,
    )  # fmt: skip
    return replace(one, **changes)  # type: ignore[arg-type]


def bank(key: str, quantity: str, matters: float, *steps: StepSeen) -> Indicator:
    return Indicator(
        key=key, title=key, channel=f"{quantity}@engine", quantity=quantity, place="engine", group="mixture",
        wanted="still", share=False, matters=matters, sees="", kind="step", judged="still", steps=steps,
    )  # fmt: skip


def look(*indicators: Indicator, faults: tuple[SensorFault, ...] = ()) -> EngineLook:
    return EngineLook(
        engine="A3", day="2032-07-08", version=1, digest="", start=BEGIN, end=BEGIN + 555 * DAY, rows=9, step=600.0,
        indicators=indicators, faults=faults,
    )  # fmt: skip


def witnesses(found: tuple[dict[str, object], ...], place: str) -> dict[str, tuple[str, ...]]:
    return {str(one["witness"]): one["states"] for one in found if one["place"] == place}  # type: ignore[misc]


def case_with(said: tuple[dict[str, object], ...], hot: dict[str, float]) -> Case:
    readings = tuple(
        Reading(
            quantity="cylinder_exhaust_temperature", place=f"cylinder_{name}", state="as_found",
            time="2032-07-08T09:00:00+00:00", value=value + 273.15, unit="K", as_typed=f"{value} °C",
            standard_uncertainty=2.0,
        )
        for name, value in hot.items()
    )  # fmt: skip
    return Case(
        readings=readings, worked=work_out(readings, number=200),
        engine={"layout": {"form": "vee", "cylinders": 10, "angle": 72}, "catalyst": True},
        visit={"ports_in_log": said},
    )  # fmt: skip


QUIET = (bank("oxygen", "oxygen_sensor_reading", 0.0015), bank("catalyst_rise", "catalyst_outlet_temperature", 3.0))


def test_a_port_that_stepped_alone_speaks_for_its_sensor() -> None:
    found = ports_in_log(look(port("L4", step(425.0, -53.0)), *QUIET), "2032-03-15")
    said = witnesses(found, "cylinder_L4")
    assert said["oxygen"] == ("unmoved",)
    assert said["catalyst_rise"] == ("unmoved",)
    assert "at_once" in said["how_it_came"]
    belief = verdicts(case_with(found, HOT))["cylinder_L4"].sides
    alone = verdicts(case_with((), HOT))["cylinder_L4"].sides
    assert belief["sensor"] > alone["sensor"] + 0.1
    assert belief["cylinder"] < 0.5 * alone["cylinder"]


def test_a_port_that_took_oxygen_and_catalyst_with_it_speaks_for_its_cylinder() -> None:
    oxygen = bank("oxygen", "oxygen_sensor_reading", 0.0015, step(425.5, 0.012))
    rise = bank("catalyst_rise", "catalyst_outlet_temperature", 3.0, step(424.8, 40.0))
    found = ports_in_log(look(port("L4", step(425.0, -133.0)), oxygen, rise), "2032-03-15")
    assert witnesses(found, "cylinder_L4")["catalyst_rise"] == ("up",)
    belief = verdicts(case_with(found, {**HOT, "L4": 455.0}))["cylinder_L4"].sides
    assert belief["cylinder"] > 0.9


def test_what_came_back_before_the_day_says_nothing_and_what_came_after_it_neither() -> None:
    gone = look(port("L4", step(100.0, -53.0), step(200.0, 52.0)), port("L2", step(500.0, -60.0)), *QUIET)
    assert ports_in_log(gone, "2032-03-15") == ()
    assert {str(one["place"]) for one in ports_in_log(gone, "2032-07-08")} == {"cylinder_L2"}


def test_a_slow_drift_came_over_months() -> None:
    began = Moment(time=BEGIN + 300 * DAY, earliest=BEGIN + 290 * DAY, latest=BEGIN + 310 * DAY)
    slow = port("R1", kind="drift", moved=Interval(-40.0, -42.0, -38.0), began=began)
    assert witnesses(ports_in_log(look(slow), "2032-07-08"), "cylinder_R1") == {"how_it_came": ("months",)}


def test_work_on_the_day_is_told_as_a_way_that_it_came() -> None:
    found = ports_in_log(look(port("L4", step(425.0, 89.0, why="work order N-429 of 1 March 2032"))), "2032-07-08")
    assert "with_work" in witnesses(found, "cylinder_L4")["how_it_came"]
    assert "work order N-429" in str(found[0]["says"])


def stuck(start: int, end: int, *, open_: bool) -> SensorFault:
    return SensorFault(
        kind="stuck", channel="cylinder_exhaust_temperature@cylinder_L4", start=start, end=end, size=800.0,
        says="the same number 400 times", open=open_,
    )  # fmt: skip


def test_a_port_that_stands_still_is_frozen_only_while_it_does() -> None:
    now = look(faults=(stuck(BEGIN + 550 * DAY, BEGIN + 555 * DAY, open_=True),))
    found = ports_in_log(now, "2032-07-08")
    assert witnesses(found, "cylinder_L4") == {"steadiness": ("frozen",)}
    frozen = {one.witness: one.states for one in statements_of(case_with(found, HOT))["cylinder_L4"]}
    assert frozen["steadiness"] == ("frozen",)
    assert verdicts(case_with(found, HOT))["cylinder_L4"].ranked[0][0] in ("sensor_frozen", "sensor_low")
    past = look(faults=(stuck(BEGIN + 300 * DAY, BEGIN + 305 * DAY, open_=False),))
    assert ports_in_log(past, "2032-07-08") == ()


def test_every_word_of_a_statement_is_one_that_the_cylinders_know() -> None:
    known = knowledge().witnesses
    looks = look(port("L4", step(425.0, -53.0, wide=9.0)), port("L2", step(425.0, 20.0, wide=60.0)), *QUIET)
    for one in ports_in_log(looks, "2032-07-08"):
        assert set(one["states"]) <= set(known[one["witness"]].states)


def test_what_a_person_saw_goes_before_the_log() -> None:
    found = ports_in_log(look(port("L4", step(425.0, -53.0)), *QUIET), "2032-03-15")
    case = case_with(found, HOT)
    seen = [{"cylinder": "L4", "witness": "oxygen", "state": "up", "how": "seen"}]
    told = replace(case, visit={**case.visit, "cylinder_looks": seen})
    states = [one.states for one in statements_of(told)["cylinder_L4"] if one.witness == "oxygen"]
    assert states == [("up",)]


# ---------------------------------------------------------------------- sensors in doubt


def twins(*, open_: bool = True) -> SensorFault:
    return SensorFault(
        kind="twins_apart", channel="oxygen_sensor_reading@after_catalyst", start=BEGIN + 400 * DAY,
        end=BEGIN + 555 * DAY, size=0.004, says="moves away", open=open_, twin="oxygen_sensor_reading@before_catalyst",
        last=0.003, u=0.0002,
    )  # fmt: skip


def test_of_twins_both_are_doubted_each_by_its_own_sign() -> None:
    after, before = channels_in_doubt(look(faults=(twins(),)), "2032-07-08")
    assert (after["place"], after["size"]) == ("after_catalyst", 0.003)
    assert (before["place"], before["size"]) == ("before_catalyst", -0.003)
    assert "since 5 February 2032" in after["says"]
    assert "+0.300 %" in after["says"] or "+0.30 %" in after["says"]
    json.dumps([after, before])  # plain data


def test_doubt_holds_while_the_fault_does() -> None:
    ended = replace(twins(open_=False), end=BEGIN + 450 * DAY)
    assert channels_in_doubt(look(faults=(ended,)), "2032-07-08") == ()
    assert channels_in_doubt(look(faults=(ended,)), "2032-03-15") != ()
    assert channels_in_doubt(look(faults=(twins(),)), "2031-03-15") == ()  # before it began
    later = channels_in_doubt(look(faults=(twins(),)), "2032-12-24")
    assert later == ()  # the log ended half a year before


def test_what_says_nothing_against_a_reading_raises_no_doubt() -> None:
    spike = replace(twins(), kind="spike", last=math.nan)
    coarse = replace(twins(), kind="coarse")
    assert channels_in_doubt(look(faults=(spike, coarse)), "2032-07-08") == ()
