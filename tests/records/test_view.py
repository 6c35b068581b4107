"""What a visit's entries add up to."""

from __future__ import annotations

import pytest

from asfound.quantities.sheet import work_out
from asfound.quantities.words import Method
from asfound.quantities.worksheets import Take, Worksheet
from asfound.records.seal import seal
from asfound.records.view_parts import STEPS
from asfound.records.visit import case_of, decision_key, view

TIME = "2032-07-08T15:00:00Z"
PSI = 6894.757293168  # Pa; NIST SP 811 Appendix B.8, lbf/in2


@pytest.fixture
def visit(records, begin):
    return begin(records)[1]


@pytest.fixture
def take(records, visit, reading):
    def taken(quantity, value, as_typed, *, corrects=None, **more):
        return records.append("reading", reading(quantity, value, as_typed, **more), visit=visit, corrects=corrects)

    return taken


def test_a_gauge_reading_follows_the_barometer_even_when_it_is_put_right_later(records, visit, take):
    """Manifold 30 psig, barometer 14.7 psia put right to 12.3: absolute 44.7 becomes 42.3; the reading stays."""
    site = {"place": "site"}
    take("manifold_pressure", 30 * PSI, "30 psig", gauge=True)
    assert "barometer" in view(records, visit).next_thing.says
    wrong = take("barometric_pressure", 14.7 * PSI, "14.7 psia", **site)
    take("ambient_temperature", 300.0, "27 °C", **site)
    kept = view(records, visit).readings["as_found/engine/manifold_pressure"]
    assert kept.gauge
    assert kept.value == 30 * PSI
    assert _absolute(view(records, visit)) == pytest.approx(44.7 * PSI, rel=1e-9)
    take("barometric_pressure", 12.3 * PSI, "12.3 psia", corrects=wrong.id, **site)
    assert _absolute(view(records, visit)) == pytest.approx(42.3 * PSI, rel=1e-9)
    assert view(records, visit).readings["as_found/engine/manifold_pressure"].entry == kept.entry


def _absolute(seen):
    """Return the manifold pressure as a worksheet is given it."""
    as_given = Worksheet(
        name="as_given", title="", room="tests", takes=(Take(quantity="manifold_pressure"),), gives=("fuel_pressure",),
        method=Method("as given", "own_calculation"), formula=lambda pressure: pressure,
    )  # fmt: skip
    worked = work_out(seen.worked.readings, worksheets={"as_given": as_given})
    return worked.result("as_found/engine/fuel_pressure").value


def test_the_latest_taken_holds_whatever_the_order_of_typing(records, visit, take):
    take("oil_pressure", 4.0e5, "4.0 bar", time="2032-07-08T16:00:00Z")
    take("oil_pressure", 3.0e5, "3.0 bar", time="2032-07-08T15:00:00+00:00")
    seen = view(records, visit)
    assert seen.readings["as_found/engine/oil_pressure"].as_typed == "4.0 bar"
    assert len(seen.readings["as_found/engine/oil_pressure"].earlier) == 1
    assert len(seen.readings_all) == 2


def test_two_corrections_are_shown_and_the_visit_goes_on(records, visit, take):
    first = take("oil_pressure", 4.0e5, "4.0 bar")
    take("oil_pressure", 4.1e5, "4.1 bar", corrects=first.id)
    take("oil_pressure", 4.2e5, "4.2 bar", corrects=first.id)
    seen = view(records, visit)
    assert len(seen.conflicts) == 1
    assert seen.readings["as_found/engine/oil_pressure"].clash
    assert "Settle" in seen.next_thing.says


def test_doubt_comes_from_the_reading_else_its_instrument_else_its_class(records, visit, take):
    gauge = records.append(
        "instrument", {"name": "G", "serial": "1", "specs": {"oil_pressure": {"absolute": 3000.0, "coverage": "k1"}}}
    )
    take("oil_pressure", 4e5, "4 bar", instrument=gauge.id)
    take("oil_temperature", 350.0, "77 °C", standard_uncertainty=2.0)
    take("exhaust_oxygen_dry", 0.089, "8.9 %", place="stack")
    seen = view(records, visit).readings
    assert seen["as_found/engine/oil_pressure"].reading.standard_uncertainty == 3000.0
    assert seen["as_found/engine/oil_pressure"].reading.shared_with == f"{gauge.id}/oil_pressure"
    assert seen["as_found/engine/oil_temperature"].reading.standard_uncertainty == 2.0
    usual = seen["as_found/stack/exhaust_oxygen_dry"]
    assert usual.reading.standard_uncertainty > 0
    assert "usual" in usual.said_by


def test_what_could_not_be_taken_counts_as_done_and_is_not_computed_with(records, visit, take):
    take("crankcase_pressure", None, "not taken", missing=True, note="tapping blocked")
    seen = view(records, visit)
    assert seen.readings["as_found/engine/crankcase_pressure"].reading is None
    item = next(one for one in seen.steps["other"].items if one.quantity == "crankcase_pressure")
    assert item.found == "could_not"
    assert seen.steps["other"].found == 1


def test_a_quantity_that_is_not_known_here_is_told_and_left_out(records, visit, take):
    take("phlogiston_content", 1.0, "1")
    seen = view(records, visit)
    assert any("phlogiston_content" in one for one in seen.problems)
    assert seen.worked.readings == ()


def test_a_look_that_the_catalogue_does_not_know_is_told(records, visit):
    records.append("look", {"slot": "no_such_slot", "character": "kind", "states": ["x"], "time": TIME}, visit=visit)
    seen = view(records, visit)
    assert seen.identification is None
    assert any("What is fitted" in one for one in seen.problems)


def test_differences_are_left_minus_found_with_their_doubt(records, visit, take):
    meter = records.append(
        "instrument",
        {
            "name": "M",
            "serial": "9",
            "specs": {"oil_pressure": {"absolute": 2000.0, "coverage": "k1", "shared_fraction": 1}},
        },
    )
    take("oil_pressure", 4.0e5, "4 bar", instrument=meter.id)
    take("oil_pressure", 4.1e5, "4.1 bar", instrument=meter.id, state="as_left")
    take("oil_temperature", 350.0, "77 °C", standard_uncertainty=1.0)
    take("oil_temperature", 351.0, "78 °C", standard_uncertainty=1.0, state="as_left")
    found = {one.quantity: one for one in view(records, visit).differences}
    oil = found["oil_pressure"]
    assert oil.difference == pytest.approx(1e4)
    assert oil.standard_uncertainty == pytest.approx(0, abs=1e-6)  # one instrument, wrong by the same both times
    assert oil.changed
    warm = found["oil_temperature"]
    # two independent normal errors of 1 K: u = sqrt 2 (GUM 5.1.2), chance = Phi(1/sqrt 2) = 0.7602
    assert warm.standard_uncertainty == pytest.approx(2**0.5, rel=0.03)
    assert warm.chance == pytest.approx(0.7602, abs=0.015)
    assert not warm.changed


def test_a_limit_holds_in_its_time_only(records, visit, take):
    engine = records.visit(visit).engine
    limit = {"quantity": "oil_pressure", "value": 3e5, "as_typed": "3 bar", "side": "lower", "name": "alarm"}
    records.append("limit", {**limit, "valid_to": "2031-12-31"}, engine=engine)
    assert view(records, visit).limits == ()
    records.append("limit", {**limit, "valid_from": "2032-01-01"}, engine=engine)
    take("oil_pressure", 3e5, "3 bar", standard_uncertainty=1e4)
    (state,) = view(records, visit).limit_states
    assert state.beyond["as_found/engine/oil_pressure"] == pytest.approx(0.5, abs=0.02)


def test_steps_follow_the_layout(records, begin):
    _, visit = begin(
        records,
        tag="A3",
        layout={"form": "vee", "cylinders": 10},
        turbochargers={"count": 2, "end": "driving_end"},
        catalyst=True,
    )
    steps = view(records, visit).steps
    assert tuple(steps) == STEPS
    places = [one.place for one in steps["cylinders"].items]
    assert places == [f"cylinder_{side}{n}" for side in "LR" for n in range(1, 6)]
    exhaust = {(one.quantity, one.place) for one in steps["exhaust"].items}
    assert ("exhaust_nox_dry", "after_catalyst") in exhaust
    assert ("turbine_inlet_temperature", "right_bank") in exhaust


def test_every_quantity_of_the_set_is_in_the_register():
    from asfound.quantities.register import quantities
    from asfound.records.steps import _set

    for item in _set():
        names = [item["quantity"]] if "quantity" in item else []
        names += [one.split("/")[1] for one in item.get("instead", ())]
        assert all(name in quantities() for name in names), item


def test_the_view_is_remembered_until_something_is_written(records, visit, take):
    seen = view(records, visit)
    assert view(records, "A2") is seen
    take("oil_pressure", 4e5, "4 bar")
    assert view(records, visit) is not seen
    one, two = view(records, visit), view(records, visit)
    records.append("note", {"text": "x", "time": TIME}, visit=visit)
    assert view(records, visit).worked is two.worked is one.worked  # no reading has changed


def test_another_programs_entry_is_seen(records, open_home, visit, reading):
    before = view(records, visit)
    open_home().append("reading", reading("oil_pressure", 4e5, "4 bar"), visit=visit)
    assert len(view(records, visit).readings) == len(before.readings) + 1


def test_a_decision_belongs_to_its_finding(records, visit, take):
    engine = records.visit(visit).engine
    records.append(
        "limit", {"quantity": "nox_at_reference_oxygen", "value": 50e-6, "as_typed": "50 ppm"}, engine=engine
    )
    take("exhaust_oxygen_dry", 0.089, "8.9 %", place="stack")
    take("exhaust_nox_dry", 150e-6, "150 ppm", place="stack")
    finding = next(one for one in view(records, visit).findings if one.code.startswith("EX"))
    content = {"code": finding.code, "state": finding.state, "about": list(finding.because), "decision": "agreed"}
    entry = records.append("finding_decision", content, visit=visit)
    assert view(records, visit).decisions[decision_key(finding)] == entry


def test_closing_comes_last_and_then_the_report(records, visit):
    seal(records, visit)
    seen = view(records, visit)
    assert seen.sealed
    assert seen.still_open == ()
    assert seen.next_thing.step == "report"
    assert seen.day.now == ""


def test_what_arrives_after_the_seal_is_told_apart(records, visit, take, open_home):
    from dataclasses import replace

    from asfound.records.entries import make_id

    note = records.append("note", {"text": "x", "time": TIME}, visit=visit)
    sealed = seal(records, visit)
    late = replace(note, id=make_id(0, sealed.id))
    assert records.merge([late]) == 1
    assert view(records, visit).late == (late,)


def test_the_previous_visit_is_at_hand(records, visit, take):
    take("oil_pressure", 4e5, "4 bar")
    engine = records.visit(visit).engine
    second = records.append("visit_opened", {"began": "2032-08-01T08:00:00Z"}, engine=engine)
    seen = view(records, second.id)
    assert seen.previous.visit.id == visit
    assert seen.previous.worked.readings[0].quantity == "oil_pressure"


def test_a_catalogue_of_the_company_is_used_and_its_absence_told(records, visit):
    records.home.change(catalogue="our catalogue")
    assert any("our catalogue" in one for one in view(records, visit).problems)
    assert view(records, visit).identification is None
    from importlib.resources import files

    folder = records.home.folder / "our catalogue"
    folder.mkdir()
    for one in (files("asfound.fitout") / "data" / "ebbingstoke").iterdir():
        text = one.read_text(encoding="utf-8")
        (folder / one.name).write_text(text.replace("catalogue: ebbingstoke", "catalogue: ours"), encoding="utf-8")
    seen = view(records, visit)
    assert seen.problems == ()
    assert seen.identification.catalogue != ""


def test_the_day_goes_on_while_nothing_is_written(records, visit, clock):
    from datetime import timedelta

    seen = view(records, visit)
    before = seen.day.now
    clock.time += timedelta(minutes=5)
    again = view(records, visit)
    assert again.day.now > before
    assert again is seen, "a minute alone makes nothing else of a visit anew"
    clock.time += timedelta(days=1)
    assert view(records, visit) is not seen, "what is due is due by the day"


def test_a_reading_that_the_sheet_refuses_is_kept_and_said(records, visit, take):
    """It can only come from elsewhere: no door of this program keeps a gauge barometer or 10^300 Pa."""
    take("barometric_pressure", 0.0, "0 psig", gauge=True, place="site")
    take("engine_power", 1e300, "1e300 W")
    take("exhaust_oxygen_dry", 0.08, "8 %", place="stack")
    seen = view(records, visit)
    assert len(seen.readings) == 3
    assert [one.quantity for one in seen.worked.readings] == ["exhaust_oxygen_dry"]
    assert any("gauge pressure" in one and "left out" in one for one in seen.problems)
    assert any("beyond any number" in one for one in seen.problems)


def test_a_reading_of_an_unknown_quantity_is_shown_as_typed_everywhere(records, visit, take):
    """A record of a newer program brings one in."""
    from asfound.report.typeset import operator_sheet, visit_report

    take("warp_factor", 9.0, "9 of the old ones", place="cylinder_1")
    take("exhaust_oxygen_dry", 0.08, "8 %", place="stack")
    seen = view(records, visit)
    kept = seen.readings["as_found/cylinder_1/warp_factor"]
    assert (kept.as_typed, kept.reading) == ("9 of the old ones", None)
    assert any("warp_factor" in one for one in seen.problems)
    assert visit_report(seen)[:5] == operator_sheet(seen)[:5] == b"%PDF-"


def test_a_limit_of_an_unknown_quantity_is_said(records, begin):
    engine, visit = begin(records)
    records.append("limit", {"quantity": "warp_factor", "value": 9.0, "as_typed": "9"}, engine=engine)
    seen = view(records, visit)
    assert seen.limits == ()
    assert any("warp_factor" in one for one in seen.problems)


def test_an_instrument_calibrated_anew_after_the_visit_does_not_break_it(records, visit, take):
    """The next calibration is a correction of the instrument, which lies in the home: visits before it stand on it."""
    specs = {"exhaust_oxygen_dry": {"absolute": 0.002, "drift_per_year": 0.001}}
    analyser = records.append("instrument", {"name": "Analyser", "specs": specs, "calibrated": "2032-06-01"})
    take("exhaust_oxygen_dry", 0.08, "8 %", place="stack", instrument=analyser.id)
    before = view(records, visit)
    records.append("instrument", {"name": "Analyser", "specs": specs, "calibrated": "2033-06-01"}, corrects=analyser.id)
    after = view(records, visit)
    assert after.readings["as_found/stack/exhaust_oxygen_dry"].standard_uncertainty >= (
        before.readings["as_found/stack/exhaust_oxygen_dry"].standard_uncertainty
    )
    assert before.problems == ()
    assert [one for one in after.problems if "Analyser" in one and "2033-06-01" in one]


def test_the_case_of_a_visit_is_that_of_its_view_but_for_what_rooms_find(records, visit, take):
    """It is had without the findings; an entry makes it anew, and a view that is at hand lends its own."""
    take("exhaust_oxygen_dry", 0.08, "8 %", place="stack")
    before = case_of(records, visit)
    whole = view(records, visit).case
    assert before.found == ()
    assert before.worked is whole.worked
    assert (before.readings, before.limits, before.identification) == (
        whole.readings, whole.limits, whole.identification
    )  # fmt: skip
    plain = [{name: part for name, part in one.visit.items() if not callable(part)} for one in (before, whole)]
    assert plain[0] == plain[1]
    assert case_of(records, visit) is whole
    take("exhaust_oxygen_dry", 0.09, "9 %", place="stack", corrects=None)
    assert case_of(records, visit).worked.reading("as_found/stack/exhaust_oxygen_dry").value == 0.09
