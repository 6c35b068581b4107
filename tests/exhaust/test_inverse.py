"""The inverse question: which mixture meets the NOx limit."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.exhaust.findings_setting import find
from asfound.exhaust.mixture import dry_oxygen, excess_air_ratio
from asfound.exhaust.mixture_for_limit import excess_air_ratio_for, limit_readings, share_at, slope
from asfound.exhaust.mixture_setting import sensitivity_of, setting_for
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading, State

from .visits import TIME, case, limit, read

METHANE = (1.0, 4.0, 0.0, 0.0)
ratios, slopes = st.floats(1.4, 2.0), st.floats(-20.0, -2.0)
WALL = limit("nox_at_reference_oxygen", 75.0, "ppm")


def setting(
    ratio: float, nox_at_15: float, state: State = "as_found", doubt: float = 0.01, o2_doubt: float = 0.02
) -> tuple[Reading, ...]:
    """Return what an analyser shows of methane burned at a lambda, with NOx so much at 15 % oxygen. [ppm]"""
    oxygen = 100 * float(dry_oxygen(ratio, *METHANE))
    return (
        read("exhaust_oxygen_dry", "stack", oxygen, o2_doubt, "%", state),
        read("exhaust_nox_dry", "stack", nox_at_15 * (20.9 - oxygen) / 5.9, doubt * nox_at_15, "ppm", state),
    )


GAS = tuple(
    read(name, "fuel", value, 0.0, "mol/mol")
    for name, value in zip(
        ("fuel_carbon_atoms", "fuel_hydrogen_atoms", "fuel_oxygen_atoms", "fuel_nitrogen_atoms"), METHANE, strict=True
    )
)


# --- laws of the formulas


@given(st.floats(0.3, 4.0), ratios, slopes)
def test_at_the_lambda_found_nox_is_the_limit(share: float, ratio: float, steepness: float) -> None:
    there = float(excess_air_ratio_for(share, ratio, steepness))
    assert float(share_at(share, ratio, steepness, there)) == pytest.approx(1.0, rel=1e-9)


@given(st.floats(10.0, 3000.0), ratios, ratios, slopes)
def test_the_slope_of_an_exponential_law_is_found_again(nox: float, one: float, other: float, steepness: float) -> None:
    if abs(one - other) < 1e-3:
        return
    found = slope(nox, one, nox * np.exp(steepness * (other - one)), other)
    assert float(found) == pytest.approx(steepness, rel=1e-6)


@given(st.floats(0.3, 4.0), st.floats(1.001, 2.0), ratios, slopes)
def test_more_nox_asks_for_leaner_mixture(share: float, more: float, ratio: float, steepness: float) -> None:
    assert excess_air_ratio_for(share * more, ratio, steepness) > excess_air_ratio_for(share, ratio, steepness)


@given(ratios, slopes)
def test_at_the_limit_nothing_changes(ratio: float, steepness: float) -> None:
    assert float(excess_air_ratio_for(1.0, ratio, steepness)) == pytest.approx(ratio, rel=1e-12)


def test_arrays_equal_scalars_and_no_answer_is_nan() -> None:
    share, ratio = np.array([1.2, 1.2, 0.0, np.nan]), np.array([1.66, 1.0, 1.66, 1.66])
    found = np.asarray(excess_air_ratio_for(share, ratio, -9.0))
    assert found[0] == float(excess_air_ratio_for(1.2, 1.66, -9.0))
    assert np.isnan(found[1:]).all()
    assert np.isnan(float(excess_air_ratio_for(1.2, 1.66, 3.0)))
    assert np.isnan(float(slope(100.0, 1.6, 90.0, 1.6)))


# --- the limit on the sheet


def test_the_limit_of_the_permit_lies_on_the_sheet_as_a_reading() -> None:
    lax, strict = limit("nox_mass_per_energy", 1.0, "g/hp-h"), limit("nox_mass_per_energy", 0.7, "g/hp-h")
    co = limit("co_mass_per_energy", 2.0, "g/hp-h")
    alarm = limit("nox_mass_per_energy", 0.6, "g/hp-h", name="alarm")
    (found,) = limit_readings((lax, co, strict, alarm), TIME)
    assert (found.quantity, found.place, found.value) == ("permit_nox_per_energy", "engine", strict.value)
    assert found.standard_uncertainty == 0.0


def test_worksheets_give_lambda_and_oxygen_for_the_permit() -> None:
    typed = read("nox_mixture_sensitivity", "engine", -9.0, 0.5, "1")
    readings = [*setting(1.66, 90.0), *GAS, typed, *limit_readings((WALL,), TIME)]
    worked = work_out(readings, number=2000)
    share = worked.result("as_found/stack/nox_share_of_limit")
    ratio = worked.result("as_found/stack/excess_air_ratio_for_permit")
    oxygen = worked.result("as_found/stack/exhaust_oxygen_for_permit")
    assert share is not None
    assert ratio is not None
    assert oxygen is not None
    assert share.value == pytest.approx(1.2, rel=1e-6)
    assert ratio.value == pytest.approx(1.66 + np.log(1.2) / 9.0, rel=1e-4)
    assert float(excess_air_ratio(oxygen.value, *METHANE)) == pytest.approx(ratio.value, rel=1e-9)


def test_without_a_typed_slope_it_is_assumed_and_wide() -> None:
    worked = work_out([*setting(1.66, 90.0), *GAS, *limit_readings((WALL,), TIME)], number=2000)
    ratio = worked.result("as_found/stack/excess_air_ratio_for_permit")
    assert ratio is not None
    assert [one.quantity for one in ratio.assumed if one.quantity.startswith("nox")] == ["nox_mixture_sensitivity"]


def test_a_stoichiometric_engine_is_refused() -> None:
    worked = work_out([*setting(1.05, 90.0), *GAS, *limit_readings((WALL,), TIME)], number=200)
    assert worked.result("as_found/stack/excess_air_ratio_for_permit") is None
    said = [one.says for one in worked.refused if one.worksheet == "mixture_for_limit"]
    assert "three-way catalyst" in said[0]


# --- the setting with 95 in 100


@given(st.floats(1.5, 1.8), st.floats(-14.0, -6.0), st.floats(0.8, 1.6))
@settings(max_examples=15)
def test_a_synthetic_engine_is_set_to_its_limit(ratio: float, steepness: float, share: float) -> None:
    """Two settings of an engine that follows an exponential law exactly: the target must lie where the law says."""
    first = share * 75.0
    second = first * float(np.exp(steepness * 0.06))
    readings = (
        *GAS,
        *setting(ratio, first, doubt=1e-4, o2_doubt=1e-3),
        *setting(ratio + 0.06, second, "as_left", doubt=1e-4, o2_doubt=1e-3),
    )
    worked = work_out(readings, number=4000)
    found = setting_for(worked, WALL, place="stack", state="as_found")
    assert found is not None
    assert found.sensitivity.by == "this visit"
    assert found.sensitivity.value == pytest.approx(steepness, rel=1e-3)
    law = ratio + np.log(share) / -steepness
    assert found.target_ratio == pytest.approx(law, abs=2e-3)
    assert found.target_oxygen is not None
    assert found.target_oxygen == pytest.approx(float(dry_oxygen(law, *METHANE)), abs=2e-4)


def test_the_setting_holds_the_limit_in_95_of_100_true_engines() -> None:
    """Coverage by simulation: true NOx, lambda and slope drawn apart from the program, the target tried on each."""
    typed = read("nox_mixture_sensitivity", "engine", -9.0, 1.0, "1")
    readings = (*GAS, *setting(1.66, 95.0, doubt=0.04), typed)
    found = setting_for(work_out(readings, number=20_000), WALL, place="stack")
    assert found is not None
    rng = np.random.default_rng(20310709)
    nox = 95.0 * (1 + 0.04 * rng.standard_normal(200_000) * 5.9 / (20.9 - 100 * float(dry_oxygen(1.66, *METHANE))))
    after = nox * np.exp((-9.0 + rng.standard_normal(200_000)) * found.step)
    assert np.mean(after <= 75.0) == pytest.approx(0.95, abs=0.01)


def test_less_doubt_asks_for_a_smaller_step() -> None:
    rough = setting_for(work_out((*GAS, *setting(1.66, 80.0, doubt=0.06)), number=8000), WALL, place="stack")
    fine = setting_for(work_out((*GAS, *setting(1.66, 80.0, doubt=0.01)), number=8000), WALL, place="stack")
    assert rough is not None
    assert fine is not None
    assert 0 < fine.step < rough.step


def test_the_slope_comes_from_the_last_visit_where_this_one_has_one_setting() -> None:
    before = work_out((*GAS, *setting(1.60, 130.0)), number=4000)
    now = work_out((*GAS, *setting(1.66, 80.0)), number=4000)
    found = sensitivity_of(now, "nox_at_reference_oxygen", "stack", previous=before)
    assert found.by == "last visit"
    assert found.value == pytest.approx(np.log(80 / 130) / 0.06, rel=0.01)
    assert sensitivity_of(now, "nox_at_reference_oxygen", "stack").by == "assumed"


def test_two_settings_at_other_loads_tell_no_slope() -> None:
    readings = (*GAS, *setting(1.60, 130.0), *setting(1.66, 80.0, "as_left"))
    loads = (read("engine_load", "engine", 95, 1, "%"), read("engine_load", "engine", 80, 1, "%", "as_left"))
    assert sensitivity_of(work_out(readings, number=500), "nox_at_reference_oxygen", "stack").by == "this visit"
    worked = work_out((*readings, *loads), number=500)
    assert sensitivity_of(worked, "nox_at_reference_oxygen", "stack").by == "assumed"


def test_settings_too_near_each_other_tell_no_slope() -> None:
    readings = (*GAS, *setting(1.66, 80.0, doubt=0.05), *setting(1.662, 79.5, "as_left", doubt=0.05))
    assert sensitivity_of(work_out(readings, number=2000), "nox_at_reference_oxygen", "stack").by == "assumed"


# --- the finding


def test_the_finding_names_lambda_oxygen_and_the_warnings() -> None:
    (found,) = find(case(*GAS, *setting(1.66, 80.0), limits=(WALL,)))
    assert found.code == "EX-38"
    assert "To be inside with 95 in 100: lambda 1.6" in found.says
    assert "on the same analyser" in found.says
    assert "assumed" in found.says
    for word in ("misfire", "knock", "One change at a time", "approval"):
        assert word in found.next_step
    assert "local" in found.cautions


def test_inside_the_limit_nothing_is_asked() -> None:
    assert not list(find(case(*GAS, *setting(1.66, 50.0), limits=(WALL,))))


def test_as_left_counts_where_there_is_one() -> None:
    readings = (*GAS, *setting(1.66, 90.0), *setting(1.72, 50.0, "as_left"))
    assert not list(find(case(*readings, limits=(WALL,))))


def test_behind_a_three_way_catalyst_leaner_mixture_is_no_answer() -> None:
    assert not list(find(case(*GAS, *setting(1.66, 90.0), limits=(WALL,), rules={"catalyst": "three_way"})))
    lower = replace(WALL, side="lower")
    assert setting_for(work_out((*GAS, *setting(1.66, 90.0)), number=100), lower, place="stack") is None


# --- an engine that was really run: open data


def open_test() -> list[tuple[float, float, float]]:
    """Return NOx by work, compression ratio and lambda (Brinkman 1981, 88 settings of an ethanol test engine)."""
    from asfound.sources.tables import load_csv

    rows = load_csv("asfound.exhaust", "data/open_nox_mixture.csv")
    return [
        (float(row["nox_ug_per_J"]), float(row["compression_ratio"]), 1 / float(row["equivalence_ratio"]))
        for row in rows
    ]


@pytest.mark.parametrize("compression", [7.5, 9.0, 12.0, 15.0, 18.0])
def test_the_logarithm_of_nox_falls_straight_with_lambda_on_a_real_engine(compression: float) -> None:
    """The law that everything here rests on, and that the assumed slope is wide enough for such an engine."""
    lean = np.array([(ratio, np.log(nox)) for nox, c, ratio in open_test() if c == compression and ratio >= 1.3])
    line = np.polyfit(lean[:, 0], lean[:, 1], 1)
    assert np.std(lean[:, 1] - np.polyval(line, lean[:, 0])) < 0.2  # scatter of the settings, not of the law
    assert -15.0 < line[0] < -3.0


def test_a_setting_found_by_the_slope_is_met_by_the_engine() -> None:
    """From two settings at compression ratio 12 to a third that was run: 0.678 at lambda 1.712."""
    at_12 = sorted((ratio, nox) for nox, c, ratio in open_test() if c == 12.0 and ratio >= 1.3)
    (one, nox_one), (other, nox_other), (third, nox_third) = at_12
    found = slope(nox_one, one, nox_other, other)
    assert float(excess_air_ratio_for(nox_other / nox_third, other, found)) == pytest.approx(third, abs=0.09)
