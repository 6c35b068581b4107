"""Specifications of instruments become standard uncertainties."""

import math
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, UnknownNameError
from asfound.quantities.instruments import (
    UNKNOWN_AGE,
    Instrument,
    Spec,
    class_for,
    classes,
    instrument_class,
    standard_uncertainty,
)
from asfound.quantities.register import quantities
from asfound.sources.register import source

DAY = date(2032, 7, 8)


def test_a_limit_is_divided_by_the_root_of_three():
    """JCGM 100 4.3.7: a / sqrt 3. Voltmeter of 4.3.7's kind: 14e-6 of 0.928571 V and 2e-6 V."""
    spec = Spec(percent_of_reading=14e-4, absolute=2e-6)
    assert standard_uncertainty(spec, 0.928571) == pytest.approx((14e-6 * 0.928571 + 2e-6) / math.sqrt(3))


def test_the_voltmeter_of_the_guide():
    """JCGM 100 4.3.7 example 2 (from memory): limits +-15 uV give u = 8.7 uV."""
    assert 1e6 * standard_uncertainty(Spec(absolute=15e-6), 0.928571) == pytest.approx(8.7, abs=0.05)


def test_a_resolution_is_divided_by_the_root_of_twelve():
    """JCGM 100 F.2.2.1: u = 0.29 of the step."""
    assert standard_uncertainty(Spec(resolution=1.0), 5.0) == pytest.approx(0.29, abs=0.005)


@pytest.mark.parametrize(("coverage", "divisor"), [("k1", 1.0), ("k2", 2.0), ("rectangular", math.sqrt(3))])
def test_what_a_figure_means_decides_its_divisor(coverage, divisor):
    assert standard_uncertainty(Spec(absolute=6.0, coverage=coverage), 1.0) == pytest.approx(6.0 / divisor)


def test_the_larger_of_two_limits_or_their_sum():
    """'5 % of reading or 5 ppm' (demo setting of the trade's scenario) at 50 ppm and 200 ppm."""
    larger = Spec(percent_of_reading=5, absolute=5e-6, combine="larger", coverage="k1")
    assert standard_uncertainty(larger, 50e-6) == pytest.approx(5e-6)
    assert standard_uncertainty(larger, 200e-6) == pytest.approx(10e-6)
    added = Spec(percent_of_reading=5, absolute=5e-6, coverage="k1")
    assert standard_uncertainty(added, 200e-6) == pytest.approx(15e-6)


def test_drift_grows_from_the_day_of_calibration():
    spec = Spec(drift_per_year=1.0, drift_percent_per_year=1.0)
    half = standard_uncertainty(spec, 100.0, on=DAY, calibrated=date(2032, 1, 8))
    assert half == pytest.approx(2.0 * 182 / 365.25 / math.sqrt(3))
    unknown = standard_uncertainty(spec, 100.0, on=DAY)
    assert unknown == pytest.approx(2.0 * UNKNOWN_AGE / math.sqrt(3))
    with pytest.raises(InputError, match="after the reading"):
        standard_uncertainty(spec, 100.0, on=DAY, calibrated=date(2032, 7, 9))


@settings(deadline=None)
@given(st.floats(-1e6, 1e6), st.floats(0, 10), st.floats(0, 10), st.floats(0, 10))
def test_every_part_makes_it_larger(value, percent, absolute, resolution):
    whole = standard_uncertainty(Spec(percent_of_reading=percent, absolute=absolute, resolution=resolution), value)
    for part in (Spec(percent_of_reading=percent), Spec(absolute=absolute), Spec(resolution=resolution)):
        assert whole >= standard_uncertainty(part, value) * (1 - 1e-12)


def test_readings_of_one_quantity_by_one_instrument_share_their_error():
    one = Instrument(name="analyser", serial="SN 88", specs={"exhaust_nox_dry": Spec(percent_of_reading=5)})
    found = one.error_of("exhaust_nox_dry", 100e-6, on=DAY)
    assert (found.shared_with, found.shared_fraction) == ("SN 88/exhaust_nox_dry", 0.5)
    with pytest.raises(UnknownNameError, match="Nearest: exhaust_nox_dry"):
        one.error_of("exhaust_nox_wet", 1.0)


def test_a_calibration_is_overdue_the_day_after():
    one = Instrument(name="gauge", calibrated=date(2031, 8, 15), interval_months=12)
    assert one.overdue(date(2032, 8, 15)) is False
    assert one.overdue(date(2032, 8, 16)) is True
    assert Instrument(name="gauge").overdue(DAY) is None
    assert Instrument(name="gauge", calibrated=DAY, interval_months=None).overdue(date(2099, 1, 1)) is False


@pytest.mark.parametrize("name", classes())
def test_generic_classes_read_known_quantities_from_registered_sources(name):
    one = instrument_class(name)
    assert one.specs
    for quantity, spec in one.specs.items():
        assert quantity in quantities()
        assert source(spec.source)
        low, high = quantities()[quantity].plausible
        assert 0.0 < standard_uncertainty(spec, 0.5 * (low + high)) < high - low


def test_typical_figures_come_out_as_they_are_published():
    """40 CFR 1065.205 Table 1: barometer 250 Pa, 144 Pa standard. Pt100 class B: 0.7 K at 80 °C (IEC 60751)."""
    barometer = instrument_class("barometer").specs["barometric_pressure"]
    assert standard_uncertainty(barometer, 85e3) == pytest.approx(144, abs=1)
    water = instrument_class("resistance_thermometer").specs["jacket_water_outlet_temperature"]
    assert standard_uncertainty(water, 353.15) == pytest.approx(0.7 / math.sqrt(3), abs=0.01)


def test_a_class_is_found_by_what_it_reads():
    assert class_for("exhaust_nox_dry") == "portable_analyser"
    assert class_for("swept_volume") is None
    with pytest.raises(UnknownNameError):
        instrument_class("portable_analyzer")


@pytest.mark.parametrize(
    "wrong",
    [{"absolute": -1.0}, {"resolution": math.nan}, {"coverage": "k3"}, {"combine": "both"}, {"shared_fraction": 2.0}],
)
def test_a_specification_that_cannot_be_is_refused(wrong):
    with pytest.raises(InputError) as caught:
        Spec(**wrong)
    assert caught.value.field in wrong
