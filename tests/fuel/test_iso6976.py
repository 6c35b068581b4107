"""ISO 6976 beside its own laws; the printed examples are in the room's checks (test_published.py)."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, UnknownNameError
from asfound.fuel import gpa2172, iso6976_1995
from asfound.fuel.components import component, table
from asfound.fuel.composition import normalise
from asfound.fuel.iso6976 import Properties, Reference, properties
from asfound.fuel.iso6976_uncertainty import uncertainty

NAMES = ("methane", "ethane", "propane", "n-butane", "nitrogen", "carbon dioxide", "hydrogen")
PAIRS = ("0/0", "15/15", "60F/60F", "20/20", "25/0", "25/15", "25/20")


def gases() -> st.SearchStrategy[np.ndarray]:
    weight = st.lists(st.floats(0.0, 1.0), min_size=len(NAMES), max_size=len(NAMES))
    return weight.filter(lambda w: sum(w) > 0.1).map(lambda w: np.array(w) / sum(w))


def test_the_table_is_that_of_the_standard():
    data = table()
    assert len(data.names) == 60
    assert (data.names[0], data.names[51], data.names[59]) == ("methane", "nitrogen", "n-pentadecane")
    assert component("propane").atoms == {"C": 3, "H": 8}


def test_heats_of_the_alkanes_go_on_in_even_steps():
    """What a slip of a digit in the rows beyond C10 would break: a CH2 more adds 658.5 to 660 kJ/mol at 25 °C."""
    data = table()
    chain = ["n-hexane", "n-heptane", "n-octane", "n-nonane", "n-decane", "n-undecane", "n-dodecane", "n-tridecane",
             "n-tetradecane", "n-pentadecane"]  # fmt: skip
    steps = np.diff([data.gross[data.place[name], 4] for name in chain])
    assert ((steps > 657.9e3) & (steps < 660e3)).all()
    assert (np.diff(data.gross[:44], axis=1) < 0).all()  # hydrocarbons and hydrogen: warmer, less heat


@given(gases(), st.sampled_from(PAIRS))
def test_one_gas_and_a_log_agree(x, pair):
    reference = Reference.named(pair)
    log = properties(np.stack([x, x[::-1] * 0 + x]), NAMES, reference)
    one = properties(x, NAMES, reference)
    for each in fields(Properties):
        assert getattr(log, each.name)[1] == pytest.approx(getattr(one, each.name), rel=1e-12)
        assert isinstance(getattr(one, each.name), float)


@given(gases(), st.sampled_from(PAIRS))
def test_bases_lead_into_each_other(x, pair):
    p = properties(x, NAMES, Reference.named(pair))
    assert p.mass_gross * p.molar_mass == pytest.approx(p.molar_gross)
    assert p.volume_gross == pytest.approx(p.mass_gross * p.density)
    assert p.volume_net == pytest.approx(p.mass_net * p.density)
    assert p.wobbe_gross**2 * p.relative_density == pytest.approx(p.volume_gross**2)
    assert p.molar_net <= p.molar_gross


@given(gases(), st.sampled_from(PAIRS))
def test_ideal_and_real_differ_by_z_alone(x, pair):
    real, ideal = (properties(x, NAMES, Reference.named(pair), ideal=one) for one in (False, True))
    assert ideal.compression_factor == 1.0
    assert real.volume_gross * real.compression_factor == pytest.approx(ideal.volume_gross)
    assert real.molar_gross == ideal.molar_gross


@given(gases(), gases(), st.floats(0.0, 1.0))
def test_molar_values_of_a_blend_are_straight(x, y, share):
    a, b, mixed = properties(np.stack([x, y, share * x + (1 - share) * y]), NAMES).molar_gross
    assert mixed == pytest.approx(share * a + (1 - share) * b)


@given(gases(), st.floats(0.001, 0.2))
def test_nitrogen_for_methane_lowers_the_heat(x, part):
    more = x.copy()
    moved = part * x[0]
    more[0] -= moved
    more[4] += moved
    p = properties(np.stack([x, more]), NAMES)
    assert p.molar_gross[1] <= p.molar_gross[0]


def test_water_adds_nothing_to_the_net_value():
    wet = properties([0.98, 0.02], ["methane", "water"])
    assert wet.molar_net == pytest.approx(0.98 * properties([1.0], ["methane"]).molar_net)


def test_no_answer_without_a_gas():
    log = np.array([[1.0, 0.0], [0.9, 0.0], [np.nan, 1.0], [1.1, -0.1], [0.0, 0.0]])
    found = properties(log, ["methane", "nitrogen"])
    for each in fields(Properties):
        assert np.isfinite(getattr(found, each.name)).tolist() == [True, False, False, False, False]
    assert np.isnan(properties([1.0], ["n-decane"]).volume_gross)  # Z is not above 0.9: no gas
    assert properties(log[1], ["methane", "nitrogen"], any_sum=True).molar_gross == pytest.approx(0.9 * 891.51e3)


@pytest.mark.parametrize(
    ("pair", "pressure", "says"),
    [
        ("25/25", 101325.0, "metering"),
        ("10/0", 101325.0, "reference"),
        ("15/15", 4e6, "90 to 110 kPa"),
        ("x", 1e5, "x"),
    ],
)
def test_a_reference_the_standard_does_not_have_is_refused(pair, pressure, says):
    with pytest.raises(InputError, match=says):
        Reference.named(pair, pressure)


def test_unknown_component_and_wrong_length_are_refused():
    with pytest.raises(UnknownNameError, match="methane"):
        properties([1.0], ["metane"])
    with pytest.raises(ValueError, match="2 fractions, for 1"):
        properties([0.5, 0.5], ["methane"])


# uncertainties


@settings(deadline=None, max_examples=15)
@given(gases(), st.sampled_from(("15/15", "25/0")))
def test_the_annex_agrees_with_draws_of_the_analysis(x, pair):
    """First order against Monte Carlo (JCGM 101), the analysis alone: u of the data taken off in squares."""
    u = 2e-3 * np.sqrt(x + 1e-3)
    reference = Reference.named(pair)
    drawn = properties(
        np.maximum(np.random.default_rng(1).normal(x, u, (20_000, len(x))), 0), NAMES, reference, any_sum=True
    )
    all_of_it, data = uncertainty(x, u, NAMES, reference), uncertainty(x, 0.0, NAMES, reference)
    if (x < 4 * u).any():
        return  # cut off at zero, the draws are not normal
    for each in fields(Properties):
        annex = np.sqrt(getattr(all_of_it, each.name) ** 2 - getattr(data, each.name) ** 2)
        assert np.std(getattr(drawn, each.name)) == pytest.approx(annex, rel=0.04, abs=1e-9)


@given(gases())
def test_covariance_and_correlation_say_the_same(x):
    u = 1e-3 * (0.2 + x)
    covariance = normalise(x, np.diag(u**2))[1]
    sd = np.sqrt(np.diag(covariance))
    if (sd < 1e-9).any():
        return
    correlation = covariance / np.outer(sd, sd)
    np.fill_diagonal(correlation, 1.0)
    a = uncertainty(x, 0.0, NAMES, covariance=covariance)
    b = uncertainty(x, sd, NAMES, correlation=correlation)
    for each in fields(Properties):
        assert getattr(a, each.name) == pytest.approx(getattr(b, each.name), rel=1e-6)


def test_many_gases_have_the_uncertainty_of_each():
    x = np.array([[0.9, 0.1], [0.5, 0.5]])
    u = np.array([[1e-3, 2e-3], [3e-3, 1e-4]])
    many = uncertainty(x, u, ["methane", "ethane"])
    for at in (0, 1):
        one = uncertainty(x[at], u[at], ["methane", "ethane"])
        for each in fields(Properties):
            assert getattr(many, each.name)[at] == pytest.approx(getattr(one, each.name), rel=1e-12)


def test_scaling_an_analysis_makes_it_surer():
    """Errors that scaling takes out: pure methane, read within 1 %, is methane all the same."""
    x, covariance = normalise(np.array([0.99]), np.array([[1e-4]]))
    assert (x[0], covariance[0, 0]) == (1.0, 0.0)


def test_a_correlation_that_is_none_is_refused():
    with pytest.raises(InputError, match="symmetric"):
        uncertainty([0.5, 0.5], [0.01, 0.01], ["methane", "ethane"], correlation=[[1.0, 0.5], [0.4, 1.0]])


# the other bases


@given(st.lists(st.floats(0.0, 0.1), min_size=4, max_size=4))
def test_edition_of_1995_is_within_a_tenth_of_a_per_cent(minor):
    names = ["methane", "ethane", "propane", "nitrogen", "carbon dioxide"]
    x = [1 - sum(minor), *minor]
    for pair in ("25/0", "15/15", "20/20"):
        old, new = iso6976_1995.properties(x, names, Reference.named(pair)), properties(x, names, Reference.named(pair))
        assert old.volume_gross == pytest.approx(new.volume_gross, rel=5e-4)
        assert old.relative_density == pytest.approx(new.relative_density, rel=5e-4)


def test_edition_of_1995_prints_3982_for_methane():
    """Wobbe and heating value of pure methane at 15/15: 37.706 MJ/m3 is the figure of that edition in common use."""
    assert iso6976_1995.properties([1.0], ["methane"], Reference.named("15/15")).volume_gross == pytest.approx(
        37.782e6, rel=1e-3
    )
    with pytest.raises(InputError, match="1995"):
        iso6976_1995.properties([1.0], ["methane"], Reference.named("60F/60F"))
    with pytest.raises(UnknownNameError):
        iso6976_1995.properties([1.0], ["neon"])


@given(st.lists(st.floats(0.0, 0.1), min_size=4, max_size=4), st.sampled_from((14.65, 14.696, 14.73, 15.025)))
def test_contract_basis_agrees_with_iso_at_sixty_fahrenheit(minor, psia):
    """Two tables (GPA 2145-16, ISO 6976:2016) of the same gas: within 0.03 %."""
    names = ["methane", "ethane", "propane", "nitrogen", "carbon dioxide"]
    x = [1 - sum(minor), *minor]
    contract = gpa2172.contract_values(x, names, base_pressure=psia * gpa2172.PSI)
    iso = properties(x, names, Reference.named("60F/60F", psia * gpa2172.PSI))
    btu = gpa2172.BTU / gpa2172.CUBIC_FOOT
    assert contract.gross_real_dry * btu == pytest.approx(iso.volume_gross, rel=3e-4)
    assert contract.net_real_dry * btu == pytest.approx(iso.volume_net, rel=3e-4)
    assert contract.relative_density_real == pytest.approx(iso.relative_density, rel=3e-4)
    assert contract.wobbe_real_dry * btu == pytest.approx(iso.wobbe_gross, rel=3e-4)
    assert contract.gross_real_saturated < contract.gross_real_dry


def test_contract_basis_wants_its_pressure_and_components():
    with pytest.raises(InputError, match="contract"):
        gpa2172.contract_values([1.0], ["methane"], base_pressure=14.73)
    with pytest.raises(UnknownNameError, match="hydrogen"):
        gpa2172.contract_values([0.9, 0.1], ["methane", "hydrogen"], base_pressure=14.73 * gpa2172.PSI)
    assert np.isnan(gpa2172.contract_values([0.9], ["methane"], base_pressure=14.73 * gpa2172.PSI).gross_real_dry)
