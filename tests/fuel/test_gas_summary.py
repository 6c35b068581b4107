"""A gas in a dozen numbers, as the readings of a visit and back, beside limits, and along a mixture."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.fuel.blend import blend
from asfound.fuel.components import table
from asfound.fuel.composition import composition
from asfound.fuel.gas_summary import compared, methane_number_of, new_well, summary
from asfound.fuel.iso6976 import Reference
from asfound.fuel.limits import documents, judge
from asfound.fuel.methane_number import composition as knock_gas
from asfound.fuel.methane_number import methane_number
from asfound.fuel.quality_of_gas import values_for
from asfound.fuel.report_traces import Trace
from asfound.fuel.visit_gas import ANALYSIS, as_composition, counted_as, of_composition

LEAN = composition({"methane": 0.95, "ethane": 0.03, "nitrogen": 0.02}, uncertainties="astm_d1945")
RICH = composition({"methane": 0.84, "ethane": 0.09, "propane": 0.05, "n-butane": 0.015, "n-heptane": 0.005})


def number(gas, name, **options):
    return next(one for one in summary(gas, **options) if one.name == name)


def test_the_reference_gas_of_a_report_in_the_units_of_its_contract():
    """Gulf Coast gas, AGA Report No. 8 (1994): 1036.05 Btu/ft3 and 0.581078 at 60 F and 14.73 psia."""
    gas = composition({
        "methane": 0.965222, "ethane": 0.018186, "propane": 0.004596, "isobutane": 0.000977, "n-butane": 0.001007,
        "isopentane": 0.000473, "n-pentane": 0.000324, "n-hexane": 0.000664, "nitrogen": 0.002595,
        "carbon dioxide": 0.005956,
    })  # fmt: skip
    at = Reference.named("60F/60F", 101_559.77)
    assert number(gas, "volume_gross", reference=at).value == pytest.approx(1036.05, rel=1e-4)
    assert number(gas, "relative_density", reference=at).value == pytest.approx(0.581078, rel=2e-4)
    assert number(gas, "volume_gross", reference=at).unit == "Btu/ft³"
    assert number(gas, "f_factor").value == pytest.approx(8650, rel=0.01)


def test_doubt_of_the_analysis_is_doubt_of_the_numbers():
    for one in summary(LEAN)[:8]:
        assert one.standard_uncertainty > 0, one.name
        assert "\u00b1" in one.text
    assert number(RICH, "volume_gross").standard_uncertainty > 0  # the data of the standard alone
    assert number(RICH, "methane_number").standard_uncertainty == 0


def test_the_methane_number_of_the_standard_s_components_is_that_of_its_own():
    parts = {"methane": 0.8, "ethane": 0.1, "propane": 0.05, "n_butane": 0.02, "hexanes_plus": 0.01, "hydrogen": 0.02}
    names = ("methane", "ethane", "propane", "n-butane", "n-heptane", "hydrogen")
    x = np.array([list(parts.values())])
    assert methane_number_of(x, names)[0] == pytest.approx(float(methane_number(knock_gas(parts))))


@pytest.mark.parametrize("name", table().names)
def test_every_component_of_the_standard_counts_as_one_of_a_visit_or_is_left_out(name):
    counted = counted_as(name)
    gas = of_composition(composition({"methane": 0.9, name: 0.1} if name != "methane" else {"methane": 1.0}))
    assert sum(share for share, _ in gas.fractions.values()) == pytest.approx(0.9 if counted is None else 1.0)
    assert bool(gas.left_out) == (counted is None)
    assert set(gas.fractions) <= set(ANALYSIS)


@given(st.lists(st.floats(0.001, 1.0), min_size=14, max_size=14))
def test_to_a_visit_and_back_changes_nothing(weights):
    shares = dict(zip(ANALYSIS.values(), (one / sum(weights) for one in weights), strict=True))
    gas = composition(shares, uncertainties={name: 0.01 * share for name, share in shares.items()})
    there = of_composition(gas)
    back = as_composition(there.fractions)
    assert back.by_name == pytest.approx(gas.by_name)
    assert dict(zip(back.components, back.standard_uncertainties, strict=True)) == pytest.approx(
        dict(zip(gas.components, gas.standard_uncertainties, strict=True))
    )
    assert (there.counted, there.left_out, there.says) == ((), (), ())
    assert there.heat_off == pytest.approx(0.0, abs=1e-12)


def test_heavier_components_keep_their_heat_by_their_mean_carbon_number():
    there = of_composition(composition({"methane": 0.95, "hexanes_plus": 0.05}, heavier="60/30/10"))
    assert there.fractions["fuel_hexanes_plus"][0] == pytest.approx(0.05)
    assert there.heavier == pytest.approx(0.6 * 6 + 0.3 * 7 + 0.1 * 8)
    assert abs(there.heat_off) < 1e-5
    assert any("heptane" in said for said in there.says)
    assert any("6.50 carbon atoms" in said for said in there.says)
    back = as_composition(there.fractions, heavier=there.heavier)
    assert back.by_name == pytest.approx({"methane": 0.95, "n-hexane": 0.025, "n-heptane": 0.025})


def test_what_counts_as_something_else_is_said_with_what_it_costs():
    there = of_composition(composition({"methane": 0.95, "ethyne": 0.05}))
    assert there.heat_off > 0.005
    assert any("gross heat" in said for said in there.says)


def test_sulfur_compounds_without_a_reading_of_their_own_bring_their_sulfur():
    there = of_composition(composition({"methane": 0.9999, "hydrogen sulfide": 5e-5, "methanethiol": 5e-5}))
    assert there.traces["fuel_sulfur"] == pytest.approx(1e-4 * 32.065e-3 / 22.41396954e-3)
    assert "fuel_sulfur" not in of_composition(composition({"methane": 0.9, "hydrogen sulfide": 0.1})).traces


def test_nothing_changes_when_a_gas_takes_its_own_place():
    for one in compared(RICH, RICH):
        assert one.before.value == pytest.approx(one.after.value)
    changes = {one.before.name: one.text for one in compared(LEAN, RICH)}
    assert changes["volume_gross"].startswith("+19")
    assert changes["methane_number"].startswith("\u2212")


def test_how_much_of_a_new_well_may_come():
    found = new_well(LEAN, RICH, least_methane_number=70.0)
    at_most = blend(LEAN, RICH, found.most)
    assert number(at_most, "methane_number").value == pytest.approx(72.0, abs=0.1)  # 2 above: nearer is undecided
    assert found.change("volume_gross")[0] == 0.0
    assert new_well(LEAN, LEAN, least_methane_number=70.0).most == 1.0
    assert new_well(RICH, LEAN, least_methane_number=70.0).most is None
    by_wobbe = new_well(LEAN, RICH, most_wobbe_change=0.03).most
    assert (
        abs(number(blend(LEAN, RICH, by_wobbe), "wobbe_gross").value / number(LEAN, "wobbe_gross").value - 1.03) < 1e-4
    )


@pytest.mark.parametrize("document", documents())
def test_a_gas_can_be_judged_by_every_document(document):
    traces = (Trace(quantity="fuel_siloxanes", value=12e-6, as_typed="12 mg/m3(n)"),)
    judged = judge(values_for(LEAN, traces, document), document)
    assert judged
    assert any(one.verdict in ("meets", "violates", "undecided") for one in judged)


def test_units_and_states_of_limits():
    values = values_for(composition({"methane": 1.0}), (), "Spain PD-01")
    # by hand, 0/0: 892.92 kJ/mol in 22.360 L, 39.934 MJ/m3; over the root of 0.55385 x 0.999419 / 0.997613: 53.61 MJ/m3
    assert values["wobbe_index"][0] == pytest.approx(53.61 / 3.6, abs=0.003)
    sour = composition({"methane": 0.9999, "hydrogen sulfide": 0.0001})
    at_15 = values_for(sour, (), "EN 16726 group H")["hydrogen_sulfide_and_carbonyl_sulfide"][0]
    assert at_15 == pytest.approx(0.0001 * 32_065 / 23.6448e-3, rel=1e-3)  # mg/m3 as sulfur; 23.645 L/mol at 15 C
