"""Rating in other air: published examples are in `asfound prove`; here are the laws that the formulas must keep."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import asfound.power.rating_j1349 as test_bed
from asfound.errors import UnknownNameError
from asfound.power.checks_rating import checks
from asfound.power.height import pressure_height, standard_pressure
from asfound.power.rating_iso3046 import (
    ISO_REFERENCE,
    Air,
    exponents,
    exponents_of,
    fuel_adjustment,
    power_adjustment,
    power_elsewhere,
    ratio_by_row,
    ratio_of_adjustment,
    substitute_reference_pressure,
)
from asfound.power.rating_words import (
    classes_met,
    mean_of_the_day,
    on_another_day,
    performance_classes,
    rating_words,
    reference_day,
    reference_days,
)
from asfound.power.site_air import saturation_pressure
from asfound.power.vapour_polynomial import saturation_pressure_iso8178

rows = st.sampled_from([one.row for one in exponents()])
pressures = st.floats(60e3, 105e3)
temperatures = st.floats(253.15, 323.15)
efficiencies = st.floats(0.7, 0.97)


def airs() -> st.SearchStrategy[Air]:
    return st.builds(
        lambda p, t, c, rh: Air(pressure=p, temperature=t, coolant=c, vapour=rh * float(saturation_pressure(t))),
        pressures, temperatures, st.floats(283.15, 340.0), st.floats(0.0, 1.0),
    )  # fmt: skip


def adjustment(here: Air, there: Air, row: str, efficiency: float) -> float:
    return float(power_adjustment(ratio_by_row(here, there, row), efficiency))


def test_every_published_value_is_met() -> None:
    assert [one.check for one in checks() if not one.holds] == []


def test_each_check_has_its_own_name() -> None:
    names = [one.check for one in checks()]
    assert len(names) == len(set(names))


@given(airs(), rows, efficiencies)
def test_in_the_air_of_the_rating_nothing_changes(air: Air, row: str, efficiency: float) -> None:
    ratio = ratio_by_row(air, air, row)
    assert ratio == pytest.approx(1.0, rel=1e-12)
    assert power_adjustment(ratio, efficiency) == pytest.approx(1.0, rel=1e-12)
    assert fuel_adjustment(1.0, 1.0) == 1.0


@given(airs(), rows, efficiencies, st.floats(50e3, 20e6))
def test_from_rating_to_site_and_back(site: Air, row: str, efficiency: float, power: float) -> None:
    here = adjustment(site, ISO_REFERENCE, row, efficiency)
    if np.isfinite(here):
        assert power_elsewhere(power_elsewhere(power, 1.0, here), here, 1.0) == pytest.approx(power, rel=1e-12)


@given(airs(), airs(), airs(), rows)
def test_indicated_power_does_not_hang_on_the_way(a: Air, b: Air, c: Air, row: str) -> None:
    assert ratio_by_row(a, b, row) * ratio_by_row(b, c, row) == pytest.approx(ratio_by_row(a, c, row), rel=1e-9)


@given(st.floats(0.2, 1.5), efficiencies)
def test_ratio_and_adjustment_lead_into_each_other(ratio: float, efficiency: float) -> None:
    alpha = power_adjustment(ratio, efficiency)
    if np.isfinite(alpha):
        assert ratio_of_adjustment(alpha, efficiency) == pytest.approx(ratio, rel=1e-9)


@given(rows, pressures, st.floats(100.0, 10e3), temperatures, efficiencies)
def test_thinner_air_never_gives_more(row: str, p: float, less: float, t: float, efficiency: float) -> None:
    at = [adjustment(Air(pressure=q, temperature=t), ISO_REFERENCE, row, efficiency) for q in (p, p - less)]
    assert not at[1] > at[0]


@given(rows, pressures, temperatures, st.floats(0.1, 20.0), efficiencies)
def test_warmer_air_never_gives_more(row: str, p: float, t: float, more: float, efficiency: float) -> None:
    at = [adjustment(Air(pressure=p, temperature=x), ISO_REFERENCE, row, efficiency) for x in (t, t + more)]
    assert not at[1] > at[0]


@given(st.floats(0.3, 0.999), efficiencies)
def test_less_power_costs_more_fuel_for_each_unit_of_work(ratio: float, efficiency: float) -> None:
    alpha = power_adjustment(ratio, efficiency)
    if np.isfinite(alpha):
        assert alpha <= ratio + 1e-12  # friction falls more slowly than power
        assert fuel_adjustment(ratio, alpha) >= 1 - 1e-12


def test_humidity_counts_only_where_the_row_says_so() -> None:
    dry, wet = Air(pressure=95e3, temperature=308.0), Air(pressure=95e3, temperature=308.0, vapour=4e3)
    for one in exponents():
        same = ratio_by_row(dry, ISO_REFERENCE, one.row) == ratio_by_row(wet, ISO_REFERENCE, one.row)
        assert same == (one.humidity_weight == 0)


def test_rows_say_how_they_were_seen() -> None:
    assert {one.row: one.found for one in exponents()} == {
        "A": "worked example", "B": "from memory", "C": "worked example", "D": "worked example",
        "E": "second hand", "F": "from memory", "G": "second hand",
    }  # fmt: skip
    with pytest.raises(UnknownNameError, match="row of exponents"):
        exponents_of("H")


@given(st.lists(st.tuples(pressures, temperatures), min_size=1, max_size=8), rows)
def test_arrays_equal_scalars(states: list[tuple[float, float]], row: str) -> None:
    p, t = np.array(states).T
    at_once = power_adjustment(ratio_by_row(Air(pressure=p, temperature=t), ISO_REFERENCE, row))
    one_by_one = [adjustment(Air(pressure=a, temperature=b), ISO_REFERENCE, row, 0.8) for a, b in states]
    assert np.allclose(at_once, one_by_one, rtol=1e-14, equal_nan=True)


def test_no_answer_where_there_is_none() -> None:
    stopped = Air(pressure=np.array([0.0, 90e3, 90e3, 1e3]), temperature=np.array([298.0, 0.0, 298.0, 298.0]))
    alpha = power_adjustment(ratio_by_row(stopped, ISO_REFERENCE, "F"), np.array([0.8, 0.8, 0.0, 0.8]))
    assert np.isnan(alpha).all()  # no pressure, no temperature, no efficiency, nothing left at the shaft
    assert np.isnan(power_elsewhere(1e6, 0.0, 1.0))
    assert np.isnan(test_bed.sae_j1349(0.0, 298.0))
    assert np.isnan(test_bed.spark_ignition(99e3, -1.0))
    assert np.isnan(saturation_pressure_iso8178(np.array([-5.0, 400.0]))).all()


@given(st.floats(85e3, 105e3), st.floats(288.0, 308.0))
def test_two_corrections_of_a_full_throttle_test_agree(dry: float, temperature: float) -> None:
    """Inside the range of both they differ by less than 2 %: one is a power law, one a straight line."""
    iso, sae = test_bed.spark_ignition(dry, temperature), test_bed.sae_j1349(dry, temperature)
    if 0.93 <= iso <= 1.07:
        assert iso == pytest.approx(sae, rel=0.02)


def test_fuel_delivery_of_a_national_standards_example() -> None:
    """GOST 10150-2014, annex E, example 1: 16.3 g/s, 14.2 L, 1,900 r/min, boost 2.28; its factor is the lowest one."""
    delivery = 120_000 * 16.3 / (14.2 * 1900) / 2.28
    assert delivery == pytest.approx(31.8, abs=0.05)
    assert test_bed.engine_factor(delivery) == 0.3


@given(st.floats(0.9, 1.1))
def test_a_compression_ignition_engine_at_the_reference_is_not_corrected(power: float) -> None:
    for turbocharged in (False, True):
        air = test_bed.atmospheric_factor(99e3, 298.0, turbocharged=turbocharged)
        assert power * test_bed.compression_ignition(air, 0.3) == pytest.approx(power, rel=1e-12)


@given(st.floats(-1900.0, 10_900.0))
def test_height_and_pressure_lead_into_each_other(height: float) -> None:
    assert pressure_height(standard_pressure(height)) == pytest.approx(height, abs=1e-6)


def test_heights_beyond_the_layer_have_no_answer() -> None:
    assert np.isnan(standard_pressure(np.array([-3e3, 12e3]))).all()
    assert np.isnan(pressure_height(np.array([0.0, 10e3]))).all()


def test_a_margin_of_the_turbocharger_puts_off_the_loss() -> None:
    assert substitute_reference_pressure(100e3, 2.0, 2.5) == pytest.approx(80e3)


def test_a_plate_is_converted_before_it_is_compared() -> None:
    """An engine declared on the cooler ISO day of 40 CFR 63.6675 is worth less on that of ISO 3046-1."""
    for row in ("A", "E", "F"):
        converted = on_another_day(1e6, "zzzz", "iso_3046", row)
        assert converted < 1e6
        back = on_another_day(converted, "iso_3046", "zzzz", row)
        assert back == pytest.approx(
            1e6, rel=0.01
        )  # alpha is no pure ratio: friction belongs to the rating it counts from
        assert on_another_day(1e6, "iso_3046", "iso_3046", row) == pytest.approx(1e6, rel=1e-12)


def test_days_and_words() -> None:
    assert reference_day("iso_3046").air.vapour == pytest.approx(0.3 * 3166.8, rel=1e-3)
    assert {one.day for one in reference_days()} >= {"iso_3046", "zzzz", "sae_j1349", "marine"}
    with pytest.raises(UnknownNameError):
        reference_day("iso_3047")
    classes = {one.id: one for one in rating_words()}
    assert classes["8528.prp"].value == "70"
    assert classes["8528.5.G2"].found == "from memory"


def test_the_mean_of_a_day_counts_light_loads_and_no_standstill() -> None:
    assert mean_of_the_day(np.array([0.1, 0.1])) == 0.3
    assert mean_of_the_day(np.array([0.9, np.nan, 0.0])) == 0.9
    assert np.isnan(mean_of_the_day(np.zeros(3)))
    days = np.array([[0.1, 0.1], [0.9, np.nan], [0.0, 0.0]])
    assert np.array_equal(mean_of_the_day(days), [0.3, 0.9, np.nan], equal_nan=True)


def test_classes_of_a_generating_set() -> None:
    assert classes_met() == ("G1", "G2", "G3")
    assert classes_met(frequency_droop=0.04, voltage_deviation=-0.009) == ("G1", "G2")
    assert classes_met(frequency_droop=0.09) == ()
    assert [one.frequency_band for one in performance_classes()] == [0.025, 0.015, 0.005]
