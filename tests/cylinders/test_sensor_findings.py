"""Findings of numbering and sensors: the stories N2 and A3 of the invented world, and what must stay silent."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import pytest

from asfound.cylinders import findings_cylinder, findings_numbering, findings_sensors, findings_spread
from asfound.cylinders.thermocouple_faults import shown
from asfound.quantities.findings import Case
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading, State
from asfound.quantities.worked import Worked

N2 = {
    "layout": {"form": "inline", "cylinders": 9},
    "numbering": {"first_at": "driving_end", "names": "1", "operator_counts_from": "free_end", "source": "drawing"},
}
A3 = {"layout": {"form": "vee", "cylinders": 10, "angle": 72}, "numbering": {"first_at": "free_end", "names": "L1"}}
N2_READ = (498, 505, 603, 501, 496, 507, 599, 493, 500)
LEFT = ("L1", "L2", "L3", "L4", "L5")
PATTERN = (586.0, 570.0, 607.0, 578.0, 585.0)
RIGHT = {f"R{n}": value for n, value in enumerate((588.0, 584.0, 592.0, 586.0, 588.0), start=1)}


def read(place: str, value: float, state: State = "as_found", name: str = "cylinder_exhaust_temperature") -> Reading:
    about = quantity(name)
    return Reading(
        quantity=name, place=place, state=state, time="2032-02-12T13:40+01:00", unit=about.si_unit,
        value=about.from_unit(value, "°C"), as_typed=f"{value:g} °C", standard_uncertainty=1.5,
    )  # fmt: skip


def case(*readings: Reading, engine: dict[str, Any], previous: Worked | None = None) -> Case:
    worked = work_out(readings, number=500)
    return Case(readings=readings, worked=worked, engine=engine, previous=previous, visit={"system": "si"})


def ports(values: dict[str, float], state: State = "as_found", **more: Any) -> list[Reading]:
    return [read(f"cylinder_{name}", value, state, **more) for name, value in values.items()]


def codes(found: Any) -> list[str]:
    return [one.code for one in found]


def n2() -> Case:
    return case(*ports({str(n): value for n, value in enumerate(N2_READ, start=1)}), engine=N2)


def test_n2_counts_from_the_other_end():
    (found,) = findings_numbering.find(n2())
    assert found.code == "CY-01"
    assert "the operator's 1 is the builder's 9; only 5 is the same in both" in found.says
    assert found.extra["9"] == "1"
    assert len(found.extra) == 9


def test_n2_two_thermocouples_of_another_alloy():
    (found,) = findings_sensors.find(n2())
    assert found.code == "CY-02"
    assert found.severity == "clash"
    assert "a type K thermocouple on a type N input" in found.says
    assert found.says.startswith("Cylinders 3 (the site's 7) and 7 (the site's 3) read as much too high")
    assert found.because == (
        "as_found/cylinder_3/cylinder_exhaust_temperature",
        "as_found/cylinder_7/cylinder_exhaust_temperature",
    )


def test_one_hot_cylinder_alone_may_be_hot():
    values = {str(n): 500.0 for n in range(1, 10)} | {"3": 597.0}
    (found,) = findings_sensors.find(case(*ports(values), engine=N2))
    assert (found.code, found.severity) == ("CY-02", "soon")
    assert "may as well be hot" in found.next_step


def test_two_hot_by_amounts_that_no_pair_explains():
    values = {str(n): 500.0 + n for n in range(1, 10)} | {"3": 545.0, "7": 690.0}
    assert list(findings_sensors.find(case(*ports(values), engine=N2))) == []


def test_equally_cold_by_the_amount_of_another_alloy_is_a_note():
    low = shown("N", "K", 500 + 273.15, 35 + 273.15) - 273.15
    values = {str(n): 500.0 + n % 3 for n in range(1, 10)} | {"3": low, "7": low + 2}
    (found,) = findings_sensors.find(case(*ports(values), engine=N2))
    assert (found.code, found.severity) == ("CY-09", "note")


def test_a_sound_engine_says_nothing():
    values = {str(n): 500.0 + 4 * (n % 3) for n in range(1, 10)}
    assert list(findings_sensors.find(case(*ports(values), engine=N2))) == []
    assert list(findings_numbering.find(case(engine=A3))) == []
    assert list(findings_numbering.find(case(engine={}))) == []


def by_hand(shown: tuple[float, ...], true: tuple[float, ...]) -> Case:
    """A left row as its entries show it, and each of its ports by a hand thermometer that reads 40 K less."""
    return case(
        *ports(dict(zip(LEFT, shown, strict=True)) | RIGHT),
        *ports(dict(zip(LEFT, (one - 40 for one in true), strict=True)), name="cylinder_second_temperature"),
        engine=A3,
    )


def test_a_strip_that_counts_backwards_is_found_by_a_hand_thermometer():
    true = (650.0, 530.0, 610.0, 600.0, 570.0)
    (found,) = (one for one in findings_sensors.find(by_hand(true[::-1], true)) if one.code in ("CY-03", "CY-04"))
    assert found.code == "CY-03"
    assert "count backwards: the entry of L5 shows L1" in found.says
    assert found.probability is not None
    assert found.probability > 0.95


def test_a3_one_cold_cylinder_does_not_tell_backwards_from_exchanged():
    true = (587.0, 500.0, 590.0, 582.0, 585.0)
    (found,) = (one for one in findings_sensors.find(by_hand(true[::-1], true)) if one.code in ("CY-03", "CY-04"))
    assert found.code == "CY-04"
    assert "count backwards" in found.says
    assert "L4 and L2 are exchanged" in found.says


def test_small_differences_by_hand_tell_nothing():
    assert "CY-03" not in codes(findings_sensors.find(by_hand(PATTERN[::-1], PATTERN)))


def test_entries_put_in_another_order_since_the_last_visit():
    before = work_out(tuple(ports(dict(zip(LEFT, PATTERN, strict=True)) | RIGHT)), number=500)
    now = case(*ports(dict(zip(LEFT, PATTERN[::-1], strict=True)) | RIGHT), engine=A3, previous=before)
    assert set(codes(findings_sensors.find(now))) <= {"CY-03", "CY-04"}
    same = case(*ports(dict(zip(LEFT, PATTERN, strict=True)) | RIGHT), engine=A3, previous=before)
    assert list(findings_sensors.find(same)) == []


def test_a3_not_moved_by_a_new_thermocouple():
    cold = dict(zip(LEFT, (587.0, 582.0, 590.0, 531.0, 585.0), strict=True)) | RIGHT
    seen = case(*ports(cold), *ports({"L4": 533.0, "L2": 582.5}, "as_left"), engine=A3)
    found = [one for one in findings_sensors.find(seen) if one.code == "CY-05"]
    assert len(found) == 1
    assert found[0].state == "as_left"
    assert "would show L2" in found[0].next_step
    moved = case(*ports(cold), *ports({"L4": 580.0}, "as_left"), engine=A3)
    assert "CY-05" not in codes(findings_sensors.find(moved))


def test_a_reading_at_a_cylinder_that_is_not_there():
    found = list(findings_numbering.find(case(*ports({"12": 500.0, "2": 500.0}), engine=A3)))
    assert codes(found) == ["CY-06"]
    assert "stand at 2, 12, which this engine has not: it has 10 cylinders in two rows" in found[0].says


@pytest.mark.parametrize(
    ("order", "says"),
    [
        ("1-5-3-6-2-2", "4 never fires"),
        ("-", "never fires"),
        ("1-5-3-6-2-4", ""),
    ],
)
def test_a_firing_order_of_the_plate(order, says):
    engine = {"layout": {"form": "inline", "cylinders": 6}, "numbering": {}, "plate": {"firing_order": order}}
    found = list(findings_numbering.find(case(engine=engine)))
    assert codes(found) == (["CY-07"] if says else [])
    assert not says or says in found[0].says


def test_an_uneven_v_engine_is_noted():
    engine = {"layout": {"form": "vee", "cylinders": 16, "angle": 60}, "numbering": {"names": "L1"}}
    (found,) = findings_numbering.find(case(engine=engine))
    assert found.code == "CY-08"
    assert "intervals of 30 and 60 degrees in turn (even at 45 or 135)" in found.says


def test_ports_that_an_alloy_explains_are_not_told_again_as_an_order_of_the_entries():
    """N2: two ports read as a type K wire on a type N input would; a hand thermometer at each port finds them sound."""
    by_hand = {str(n): value - 38 - (96 if n in (3, 7) else 0) for n, value in enumerate(N2_READ, start=1)}
    second = ports(by_hand, name="cylinder_second_temperature")
    found = list(findings_sensors.find(case(*n2().readings, *second, engine=N2)))
    assert codes(found) == ["CY-02"]


def test_where_the_entries_count_backwards_the_cylinder_behind_an_odd_entry_is_named():
    """A3: the display's L4 is L2; a hand thermometer finds L2 cold, and the setting of the strip was seen not set."""
    display = {"L1": 582.0, "L2": 577.0, "L3": 584.0, "L4": 394.0, "L5": 580.0}
    hand = {"L1": 561.0, "L2": 377.0, "L3": 563.0, "L4": 556.0, "L5": 560.0}
    readings = (*ports(display | RIGHT), *ports(hand, name="cylinder_second_temperature"))
    not_set = SimpleNamespace(code="FT-08", places=("temperature_inputs",), severity="visit")
    told = replace(case(*readings, engine=A3), identification=SimpleNamespace(contradictions=(not_set,)))
    assert [one.code for one in findings_sensors.find(told)] == ["CY-03"]
    assert "the entries count backwards: the entry of L5 shows L1" in next(findings_sensors.find(told)).says
    (cold,) = (one for one in findings_spread.find(told) if one.code == "CY-10")
    assert cold.says.startswith("Cylinder L4 (its entry shows cylinder L2) reads cold")
    (verdict,) = (one for one in findings_cylinder.find(told) if one.extra and one.extra.get("place") == "cylinder_L4")
    assert verdict.says.startswith("Cylinder L4 (its entry shows cylinder L2):")
    unseen = case(*readings, engine=A3)  # nobody looked at the strip: the exchange of two entries may be as well
    assert [one.code for one in findings_sensors.find(unseen)] == ["CY-04"]
    assert not any("its entry shows" in one.says for one in findings_spread.find(unseen))


def test_a_port_that_stood_apart_at_the_last_visit_and_stands_with_the_others_now_is_sound():
    then = case(*ports({"L1": 586.0, "L2": 570.0, "L3": 607.0, "L4": 520.0, "L5": 585.0} | RIGHT), engine=A3)
    level = {"L1": 588.0, "L2": 583.0, "L3": 590.0, "L4": 586.0, "L5": 587.0}
    now = case(*ports(level | RIGHT), engine=A3, previous=then.worked)
    assert not [one.code for one in findings_spread.find(now) if "L4" in one.says]
    assert not [one for one in findings_cylinder.find(now) if one.extra and one.extra.get("place") == "cylinder_L4"]
