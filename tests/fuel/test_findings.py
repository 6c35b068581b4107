"""What the gas means: a case where each finding must come, and one where it must not."""

from __future__ import annotations

from dataclasses import replace

import pytest

from asfound.fuel.findings import find
from asfound.quantities.findings import Case
from asfound.quantities.parse import parse_amount
from asfound.quantities.register import quantity
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Limit, Reading

# invented gases: a pipeline gas, the same after a rich well came on, a landfill gas
LEAN = {"fuel_methane": "95 %", "fuel_ethane": "3 %", "fuel_propane": "0.5 %", "fuel_nitrogen": "1.5 %"}
RICH = {"fuel_methane": "84 %", "fuel_ethane": "9 %", "fuel_propane": "5 %", "fuel_butane": "1.5 %",
        "fuel_hexanes_plus": "0.5 %"}  # fmt: skip
LANDFILL = {"fuel_methane": "55 %", "fuel_carbon_dioxide": "41.5 %", "fuel_nitrogen": "2.8 %", "fuel_oxygen": "0.7 %"}


def reading(name: str, text: str, place: str = "fuel", u: float = 0.0, state: str = "as_found") -> Reading:
    """Return a reading as it was typed."""
    unit = "1" if quantity(name).si_unit == "1" else None
    value = parse_amount(text, quantity=name, decimal=".", default_unit=unit).value
    assert value is not None
    return Reading(quantity=name, place=place, state=state, time="2032-07-08T09:00:00+00:00", value=value,
                   unit=quantity(name).si_unit, as_typed=text, standard_uncertainty=u)  # type: ignore[arg-type]  # fmt: skip


def sheet(gas: dict[str, str], **more: str):
    """Work out a gas with what was read at the engine besides."""
    at_engine = [reading(name, text, "engine") for name, text in more.items()]
    return work_out([*(reading(name, text) for name, text in gas.items()), *at_engine], number=400)


def codes(worked, **case) -> dict[str, object]:
    return {one.code: one for one in find(Case(readings=worked.readings, worked=worked, **case))}


def test_a_plain_gas_has_nothing_to_be_told():
    assert codes(sheet(LEAN)) == {}
    assert codes(work_out([], number=10)) == {}


@pytest.mark.parametrize(
    ("needed", "code", "severity"), [("90", "FU-01", "visit"), ("57", "FU-02", "soon"), ("40", "FU-03", "note")]
)
def test_methane_number_beside_what_the_build_needs(needed, code, severity):
    worked = sheet(RICH, required_methane_number=needed)
    number = worked.result("as_found/fuel/methane_number").value
    assert 55.5 < number < 58.5  # so that the three needs lie on either side and within 2
    found = codes(worked)
    assert {one for one in found if one in ("FU-01", "FU-02", "FU-03")} == {code}
    assert found[code].severity == severity
    assert f"{number:.1f}" in found[code].says


def test_a_sum_that_is_off_is_told_and_a_little_is_not():
    assert "FU-04" in codes(sheet({**LEAN, "fuel_methane": "93 %"}))
    assert "FU-04" not in codes(sheet({**LEAN, "fuel_methane": "94.5 %"}))


def test_an_analysis_in_which_nothing_burns_is_told():
    inert = {"fuel_methane": "0 %", "fuel_nitrogen": "100 %"}
    assert codes(sheet(inert))["FU-17"].severity == "clash"
    hydrogen = codes(sheet({"fuel_methane": "0 %", "fuel_hydrogen": "100 %"}))
    assert "FU-17" not in hydrogen
    worked = sheet({"fuel_methane": "0 %", "fuel_hydrogen": "100 %"})
    assert worked.result("as_found/fuel/methane_number").value == 0.0
    assert "The methane number 0 is" in hydrogen["FU-08"].says  # hydrogen is the other end of the scale


def test_an_old_analysis_is_told():
    assert "FU-05" in codes(sheet({**LEAN, "fuel_analysis_age": "300 d"}))
    assert "FU-05" not in codes(sheet({**LEAN, "fuel_analysis_age": "67 d"}))


def test_air_in_the_sample_and_oxygen_that_is_not_air():
    aired = {**LEAN, "fuel_methane": "92 %", "fuel_nitrogen": "3.73 %", "fuel_oxygen": "1 %"}
    assert codes(sheet(aired))["FU-06"].severity == "soon"
    assert codes(sheet(LANDFILL))["FU-06"].severity == "note"
    assert "FU-06" not in codes(sheet({**aired, "fuel_nitrogen": "1 %"}))  # oxygen without its nitrogen
    assert "FU-06" not in codes(sheet({**LEAN, "fuel_oxygen": "0.02 %"}))
    typed = {"fuel_oxygen": "0 %", "fuel_nitrogen": "5 %", "fuel_air_in_sample": "3 %"}
    assert "FU-06" not in codes(sheet(typed))  # the share of air was typed, and no oxygen read
    all_air = sheet({"fuel_oxygen": "20.9 %", "fuel_nitrogen": "78.1 %", "fuel_air_in_sample": "100 %"})
    assert "can be 100 % air" in codes(all_air)["FU-06"].says


def test_a_heating_value_of_other_gas_or_unit_clashes():
    """Gross against net, 10 % apart: the commonest slip."""
    computed = sheet(LEAN).result("as_found/fuel/gross_heating_value").value
    fits = {**LEAN, "gross_heating_value": f"{computed / 1e6:.3f} MJ/m3(n)"}
    net = {**LEAN, "gross_heating_value": f"{0.902 * computed / 1e6:.3f} MJ/m3(n)"}
    assert "FU-07" not in codes(sheet(fits))
    assert "9.8 % under" in codes(sheet(net))["FU-07"].says


def test_a_gas_that_the_method_is_not_for():
    assert "no natural gas" in codes(sheet(LANDFILL))["FU-08"].says
    assert "FU-08" not in codes(sheet(LEAN))


def test_of_many_reasons_against_a_method_two_are_told():
    liquid = {"fuel_methane": "40 %", "fuel_propane": "25 %", "fuel_butane": "15 %", "fuel_pentane": "10 %",
              "fuel_hexanes_plus": "10 %"}  # fmt: skip
    worked = sheet(liquid)
    reasons = worked.result("as_found/fuel/methane_number").outside
    assert len(reasons) > 2
    assert codes(worked)["FU-08"].says.endswith(f"; and {len(reasons) - 2} more")


def test_a_new_well_is_told_with_what_it_does():
    before, now = sheet(LEAN), sheet(RICH)
    found = codes(now, previous=before)["FU-09"]
    wobbe = [one.result("as_found/fuel/wobbe_index").value for one in (before, now)]
    assert f"Wobbe index by {100 * (wobbe[1] / wobbe[0] - 1):+.1f} %" in found.says
    for word in ("heating value by +", "air demand by +", "methane number by \u2212"):
        assert word in found.says
    assert "FU-09" not in codes(now, previous=now)
    assert "FU-09" not in codes(now)


def test_a_change_inside_its_doubt_is_none():
    doubtful = [replace(one, standard_uncertainty=0.03) for one in sheet(RICH).readings]
    before = work_out([replace(one, standard_uncertainty=0.03) for one in sheet(LEAN).readings], number=2000)
    now = work_out(doubtful, number=2000)
    assert now.result("as_found/fuel/wobbe_index").standard_uncertainty > 0
    share = now.result("as_found/fuel/wobbe_index").value / before.result("as_found/fuel/wobbe_index").value - 1
    found = "FU-09" in codes(now, previous=before)
    u = [one.result("as_found/fuel/wobbe_index").standard_uncertainty for one in (now, before)]
    larger = abs(share) * before.result("as_found/fuel/wobbe_index").value > 2 * (u[0] ** 2 + u[1] ** 2) ** 0.5
    assert found == larger


def test_the_gas_on_which_the_mixture_was_set():
    worked = sheet(LEAN)
    wobbe = worked.result("as_found/fuel/wobbe_index").value / 1e6
    assert "richer" in codes(sheet(LEAN, setting_wobbe_index=f"{wobbe / 1.04:.3f} MJ/m3(n)"))["FU-10"].next_step
    assert "leaner" in codes(sheet(LEAN, setting_wobbe_index=f"{wobbe / 0.98:.3f} MJ/m3(n)"))["FU-10"].next_step
    assert "FU-10" not in codes(sheet(LEAN, setting_wobbe_index=f"{wobbe:.3f} MJ/m3(n)"))


def test_liquids_in_the_line():
    cold = codes(sheet({**RICH, "fuel_water": "800 mg/m3(n)"}, fuel_pressure="30 bar abs", fuel_temperature="-20 °C"))
    warm = codes(sheet({**RICH, "fuel_water": "20 mg/m3(n)"}, fuel_pressure="3 bar abs", fuel_temperature="60 °C"))
    assert (cold["FU-11"].severity, cold["FU-12"].severity) == ("visit", "visit")
    assert not {"FU-11", "FU-12"} & set(warm)


def test_limits_of_the_gas_that_were_entered():
    limit = Limit(quantity="fuel_siloxanes", value=10e-6, as_typed="10 mg/m3(n)", name="engine document")
    for typed, code in (("25 mg/m3(n)", "FU-13"), ("10 mg/m3(n)", "FU-14"), ("2 mg/m3(n)", "FU-15")):
        readings = [reading("fuel_siloxanes", typed, u=1e-6)]
        worked = work_out(readings, number=2000)
        assert code in codes(worked, limits=(limit,))


def test_hydrogen_sulfide_is_a_caution():
    found = codes(sheet({**LANDFILL, "fuel_hydrogen_sulfide": "200 ppm"}))["FU-16"]
    assert "h2s" in found.cautions
    assert found.severity == "visit", "100 ppm and more can kill"
    assert "all-clear" in found.next_step
    assert codes(sheet({**LEAN, "fuel_hydrogen_sulfide": "40 ppm"}))["FU-16"].severity == "note"
    assert "FU-16" not in codes(sheet({**LEAN, "fuel_hydrogen_sulfide": "3 ppm"}))


def test_two_analyses_of_one_visit_that_run_into_each_other_are_told():
    """A change-over from biogas to natural gas, each typed without the lines that it has not."""
    bio = {"fuel_methane": "58.4 %", "fuel_carbon_dioxide": "41 %", "fuel_oxygen": "0.6 %"}
    natural = {"fuel_methane": "95 %", "fuel_ethane": "4 %", "fuel_carbon_dioxide": "1 %"}

    def two(found: dict[str, str], left: dict[str, str]):
        readings = [reading(name, text) for name, text in found.items()]
        readings += [replace(reading(name, text), state="as_left") for name, text in left.items()]
        return codes(work_out(readings, number=200))

    told = two(bio, natural)["FU-18"]
    assert "oxygen" in told.says
    assert "ethane" in told.says
    assert "0 for what the gas has not" in told.next_step
    whole = two({**bio, "fuel_ethane": "0 %"}, {**natural, "fuel_oxygen": "0 %"})
    assert "FU-18" not in whole
    assert "FU-18" not in two(bio, {"fuel_methane": "58.9 %"}), "one line corrected is no second analysis"
