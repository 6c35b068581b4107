"""The gas of a visit: worksheets beside the functions of the room."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError
from asfound.fuel import worksheets_analysis as sheets
from asfound.fuel.iso6976 import COMBUSTION_TEMPERATURES, METERING_TEMPERATURES, Reference, properties
from asfound.fuel.stoichiometry import stoichiometry
from asfound.fuel.visit_analysis import ANALYSIS, COMPONENTS, of_the_whole, over_normal_volume
from asfound.quantities.constants import NORMAL_TEMPERATURE
from asfound.quantities.register import quantity
from asfound.quantities.words import Reading

# Ashgrebe G1 of the demo world, in the order of ANALYSIS
G1 = (0.9120, 0.0460, 0.0155, 0.0022, 0.0031, 0.0007, 0.0005, 0.0005, 0.0105, 0.0090, 0.0, 0.0, 0.0, 3e-6)


@given(st.sampled_from(COMBUSTION_TEMPERATURES), st.sampled_from(METERING_TEMPERATURES))
def test_at_the_standard_s_temperatures_it_is_the_standard(burn, meter):
    x = np.array(G1) / sum(G1)
    ours, iso = over_normal_volume(burn, meter, *G1), properties(x, COMPONENTS, Reference(burn, meter))
    to_normal = meter / NORMAL_TEMPERATURE
    assert ours.gross == pytest.approx(iso.volume_gross * to_normal, rel=1e-12)
    assert ours.net == pytest.approx(iso.volume_net * to_normal, rel=1e-12)
    assert ours.wobbe == pytest.approx(iso.wobbe_gross * to_normal, rel=1e-12)
    assert ours.net_wobbe == pytest.approx(iso.wobbe_net * to_normal, rel=1e-12)
    assert ours.density == pytest.approx(iso.density * to_normal, rel=1e-12)
    assert ours.relative_density == pytest.approx(iso.relative_density, rel=1e-12)
    assert ours.gross_by_mass == pytest.approx(iso.mass_gross, rel=1e-12)
    assert ours.net_by_mass == pytest.approx(iso.mass_net, rel=1e-12)
    assert ours.compression_factor == pytest.approx(iso.compression_factor, rel=1e-12)


def test_reference_temperatures_may_be_draws_and_end_with_the_table():
    t = np.array([273.15, 288.15, 298.15, 300.0, np.nan])
    many = over_normal_volume(t, np.minimum(t, 293.15), np.full(5, G1[0]), *G1[1:]).gross
    assert np.isfinite(many).tolist() == [True, True, True, False, False]
    assert many[1] == pytest.approx(over_normal_volume(288.15, 288.15, *G1).gross)


def test_demo_gas_as_its_laboratory_has_it():
    """The invented report of G1 gives 1070 Btu/scf at 60 °F and 14.73 psia; GPA 2172 by hand: 1071."""
    gross = sheets.properties_of_the_gas(*G1, 288.15, 288.15)[0]
    about = quantity("gross_heating_value")
    assert about.to_unit(float(gross), "Btu/scf (60 F, 14.73 psia)") == pytest.approx(1071.0, abs=0.5)


@given(st.floats(0.5, 2.0))
def test_scale_of_the_analysis_does_not_matter(factor):
    other = [factor * one for one in G1]
    assert np.array(sheets.air_for_the_gas(*other)) == pytest.approx(np.array(sheets.air_for_the_gas(*G1)))
    assert sheets.f_factor_of_the_gas(*other) == pytest.approx(sheets.f_factor_of_the_gas(*G1))
    assert sheets.fuel_analysis_sum(*other) == pytest.approx(factor * sum(G1))


def test_draws_and_single_values_agree():
    draws = [np.full(5, one) for one in G1]
    for sheet in (sheets.air_for_the_gas, sheets.f_factor_of_the_gas, sheets.fuel_analysis_sum):
        assert np.asarray(sheet(*draws)).T[0] == pytest.approx(np.asarray(sheet(*G1)))
    mixed = [draws[0], *G1[1:]]
    assert sheets.properties_of_the_gas(*mixed, 288.15, 288.15)[0] == pytest.approx(
        sheets.properties_of_the_gas(*G1, 288.15, 288.15)[0]
    )


def test_numbers_and_draws_may_be_mixed_and_nothing_below_zero_is_summed():
    columns = np.arange(14.0)[:, np.newaxis]
    one, total = of_the_whole(columns, *G1)
    many, totals = of_the_whole(columns, *G1[:5], np.array([G1[5], -1.0]), *G1[6:])
    assert (many[0, 0], totals[0]) == pytest.approx((one[0], float(total)))
    assert one[0] == pytest.approx(float(np.array(G1) @ columns[:, 0] / sum(G1)))
    assert np.isnan(many[0, 1])
    assert np.isnan(of_the_whole(columns, -0.1, *G1[1:])[0][0])


def test_a_split_of_what_is_heavier_may_be_one_number_beside_draws():
    """The methane was drawn, C6+ and its mean carbon number were typed without doubt."""
    columns, step = np.arange(14.0)[:, np.newaxis], np.array([1.0])
    one, total = of_the_whole(columns, *G1, heavier=6.4, step=step)
    for shares in ([np.full(3, G1[0]), *G1[1:]], [*G1[:-3], *(np.full(3, share) for share in G1[-3:])]):
        for heavier in (6.4, np.full(3, 6.4)):
            many, totals = of_the_whole(columns, *shares, heavier=heavier, step=step)
            assert many[0] == pytest.approx([one[0]] * 3)
            assert totals == pytest.approx([float(total)] * 3)


def test_no_gas_no_answer():
    nothing = [np.array([0.0])] * len(G1)
    assert np.isnan(sheets.properties_of_the_gas(*nothing, 288.15, 288.15)[0]).all()
    assert np.isnan(sheets.f_factor_of_the_gas(*nothing)).all()
    assert np.isnan(sheets.air_for_the_gas(*nothing)[0]).all()


def test_a_reference_outside_the_tables_is_refused():
    at = Reading(quantity="combustion_reference_temperature", place="fuel", state="as_found", time="", value=310.0,
                 unit="K", as_typed="37 °C", standard_uncertainty=0.0)  # fmt: skip
    with pytest.raises(InputError, match="37 °C"):
        sheets._only_of_the_standard(at)


def test_every_component_is_a_quantity():
    for name in ANALYSIS:
        assert quantity(name).step == "fuel"


def test_the_mean_carbon_number_of_heavier_components_is_that_of_the_gas():
    """C6+ of 7 carbon atoms is heptane: the standard itself says what comes out."""
    names = (*COMPONENTS[:7], "n-heptane", *COMPONENTS[8:])
    rich = (*G1[:7], 0.02, *G1[8:])
    x = np.array(rich) / sum(rich)
    iso = properties(x, names, Reference(288.15, 288.15))
    ours = over_normal_volume(288.15, 288.15, *rich, heavier=7.0)
    assert ours.gross == pytest.approx(iso.volume_gross * 288.15 / NORMAL_TEMPERATURE, rel=1e-12)
    assert ours.molar_mass == pytest.approx(iso.molar_mass, rel=1e-12)
    assert sheets.air_for_the_gas(*rich, 7.0)[0] == pytest.approx(stoichiometry(x, names).dry_air, rel=1e-12)
    drawn = over_normal_volume(288.15, 288.15, *rich, heavier=np.array([6.0, 7.0, 6.5])).gross
    assert drawn[1] == pytest.approx(ours.gross)
    assert drawn[0] == pytest.approx(over_normal_volume(288.15, 288.15, *rich).gross)
    assert drawn[0] < drawn[2] < drawn[1]
    many = [np.full(3, one) for one in rich]
    assert over_normal_volume(288.15, 288.15, *many, heavier=7.0).gross == pytest.approx(np.full(3, ours.gross))
