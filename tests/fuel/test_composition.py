"""An analysis keeps what it said; other bases lead there and back."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import InputError, UnknownNameError
from asfound.fuel.components import places, table
from asfound.fuel.composition import composition, normalise
from asfound.fuel.iso6976 import Reference
from asfound.fuel.splits import split_of, stated_splits

NAMES = ("methane", "ethane", "propane", "nitrogen", "carbon dioxide", "hydrogen")


def analyses() -> st.SearchStrategy[dict[str, float]]:
    return (
        st.lists(st.floats(0.0, 1.0), min_size=len(NAMES), max_size=len(NAMES))
        .filter(lambda w: sum(w) > 0.1)
        .map(lambda w: dict(zip(NAMES, np.array(w) / sum(w), strict=True)))
    )


@given(analyses(), st.floats(0.95, 1.05))
def test_mass_there_and_back(mole, total):
    """M x over its sum is the mass share; from it the mole fractions come back, with the same total."""
    molar = table().molar_mass[places(NAMES)]
    x = np.array(list(mole.values()))
    mass = x * molar / (x @ molar) * total
    gas = composition(dict(zip(NAMES, mass, strict=True)), basis="mass")
    assert gas.fractions == pytest.approx(x * total, abs=1e-12)
    assert gas.total == pytest.approx(total)


@given(analyses(), st.sampled_from(("15/15", "25/0", "60F/60F")))
def test_volume_there_and_back(mole, pair):
    reference = Reference.named(pair)
    s = table().summation[places(NAMES), reference.columns[1]]
    z = 1 - s * np.abs(s)
    x = np.array(list(mole.values()))
    volume = x * z / (x @ z)
    gas = composition(dict(zip(NAMES, volume, strict=True)), basis="volume", reference=reference)
    assert gas.fractions == pytest.approx(x, abs=1e-12)


def test_volume_is_nearly_mole():
    gas = composition({"methane": 0.9, "n-butane": 0.1}, basis="volume")
    assert gas.by_name["n-butane"] == pytest.approx(0.1029, abs=2e-4)  # a mole of butane takes 3.4 % less room


@given(analyses(), st.sampled_from(("mole", "mass", "volume")))
def test_uncertainties_are_carried_as_the_values_move(amounts, basis):
    """The covariance is J U J^T; J by differences."""
    u = {name: 0.001 * (1 + at) for at, name in enumerate(NAMES)}
    gas = composition(amounts, uncertainties=u, basis=basis)
    h = 1e-6
    j = np.column_stack(
        [
            (composition({**amounts, name: amounts[name] + h}, basis=basis).fractions - gas.fractions) / h
            for name in NAMES
        ]
    )
    expected = j @ np.diag([one**2 for one in u.values()]) @ j.T
    assert gas.covariance == pytest.approx(expected, rel=1e-3, abs=1e-9)


def test_a_sum_that_is_off_is_told_and_scaled_only_on_request():
    gas = composition({"methane": 0.9, "nitrogen": 0.0775})
    assert gas.says == "The analysis adds up to 97.75 %; it was not scaled."
    with pytest.raises(InputError, match=r"97\.750 %.*scaled"):
        gas.properties()
    whole = gas.normalised()
    assert whole.total == pytest.approx(1.0)
    assert whole.says == "The analysis adds up to 97.75 %; scaled to 100 % on request."
    assert gas.total == pytest.approx(0.9775)  # the one before is as it was
    assert whole.properties().molar_gross == pytest.approx(0.9 / 0.9775 * 891.51e3)


@given(analyses(), st.floats(0.9, 1.1))
def test_scaling_twice_is_scaling_once(amounts, total):
    gas = composition({name: x * total for name, x in amounts.items()}, uncertainties=dict.fromkeys(amounts, 1e-3))
    once, twice = gas.normalised(), gas.normalised().normalised()
    assert twice.fractions == pytest.approx(once.fractions)
    assert twice.covariance == pytest.approx(once.covariance, abs=1e-12)
    assert once.covariance.sum(axis=0) == pytest.approx(0.0, abs=1e-12)  # the sum is 1 for certain


def test_normalise_answers_nan_for_nothing():
    x, _ = normalise(np.array([[0.0, 0.0], [0.5, 0.5]]))
    assert np.isnan(x[0]).all()
    assert x[1].tolist() == [0.5, 0.5]


@pytest.mark.parametrize(("group", "name"), list(stated_splits()))
def test_stated_splits_add_up(group, name):
    assert sum(split_of(group, name).values()) == pytest.approx(1.0)


def test_a_sum_of_heavier_components_needs_its_split():
    with pytest.raises(InputError, match="split is not stated") as refused:
        composition({"methane": 0.99, "hexanes_plus": 0.01})
    assert "60/30/10" in refused.value.allowed
    with pytest.raises(UnknownNameError):
        composition({"methane": 0.99, "hexanes_plus": 0.01}, heavier="70/30")
    gas = composition({"methane": 0.99, "hexanes_plus": 0.01}, heavier={"nC6": 60, "nC7": 40})
    assert gas.by_name["n-heptane"] == pytest.approx(0.004)
    assert gas.heavier == {"hexanes_plus": "60 % n-hexane, 40 % n-heptane"}
    both = composition(
        {"methane": 0.98, "n-hexane": 0.005, "hexanes_plus": 0.01, "heptanes_plus": 0.005},
        heavier={"hexanes_plus": "60/30/10", "heptanes_plus": "n-heptane"},
    )
    assert both.by_name["n-hexane"] == pytest.approx(0.011)
    assert both.total == pytest.approx(1.0)


@pytest.mark.parametrize("split", [{"nC6": 0.5, "nC7": 0.3}, {"nC6": -0.5, "nC7": 1.5}, {"C7+": 1.0}])
def test_a_split_that_is_none_is_refused(split):
    with pytest.raises(InputError, match="heavier"):
        split_of("hexanes_plus", split)


def test_the_split_hardly_moves_the_heat_of_a_lean_gas():
    """0.1 % of C6+: 0.05 % between hexane and 50/25/25, as the packaged table says."""
    amounts = {"methane": 0.95, "ethane": 0.049, "hexanes_plus": 0.001}
    one, other = (composition(amounts, heavier=how).properties().volume_gross for how in ("n-hexane", "50/25/25"))
    assert other == pytest.approx(one, rel=6e-4)
    assert other > one


def test_age():
    gas = composition({"methane": 1.0}, sampled=date(2032, 5, 2))
    assert gas.age_days(date(2032, 7, 8)) == 67
    assert composition({"methane": 1.0}).age_days(date(2032, 7, 8)) is None
    with pytest.raises(InputError, match="day and month"):
        gas.age_days(date(2032, 1, 1))


@pytest.mark.parametrize(
    "amounts", [{}, {"methane": -0.1}, {"methane": float("nan")}, {"methane": 91.2}, {"methane": float("inf")}]
)
def test_nonsense_is_refused(amounts):
    with pytest.raises(InputError):
        composition(amounts)


def test_unknown_component_and_uncertainty_are_refused():
    with pytest.raises(UnknownNameError):
        composition({"unobtainium": 1.0})
    with pytest.raises(InputError, match="does not have"):
        composition({"methane": 1.0}, uncertainties={"ethane": 0.1})
    with pytest.raises(InputError, match="standard uncertainty"):
        composition({"methane": 1.0}, uncertainties={"methane": -1})


def test_reproducibility_of_laboratories():
    """ASTM D1945 (from memory): 0.15 % absolute above 10 %, 0.02 % below 0.1 %; standard uncertainty: over 2.83."""
    gas = composition({"methane": 0.9495, "ethane": 0.05, "propane": 0.0005, "argon": 0.0}, uncertainties="astm_d1945")
    assert gas.standard_uncertainties * 100 == pytest.approx(np.array([0.15, 0.12, 0.02, 0.0]) / 8**0.5)


def test_draws_give_back_the_analysis():
    gas = composition({"methane": 0.9, "ethane": 0.1}, uncertainties={"methane": 0.002, "ethane": 0.001}).normalised()
    drawn = gas.draws(20_000)
    assert drawn.mean(axis=0) == pytest.approx(gas.fractions, abs=1e-4)
    assert np.cov(drawn.T) == pytest.approx(gas.covariance, rel=0.05)
    assert drawn.sum(axis=1) == pytest.approx(1.0)


def test_properties_carry_the_correlation_of_scaling():
    """Scaled, an error of the methane moves the others too: ISO 6976 annex B with r, not without."""
    gas = composition({"methane": 0.95, "ethane": 0.05}, uncertainties={"methane": 0.002, "ethane": 0.0005})
    assert gas.normalised().uncertainty().volume_gross < gas.uncertainty().volume_gross
    assert gas.whole().sum() == pytest.approx(1.0)
