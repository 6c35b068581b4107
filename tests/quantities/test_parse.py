"""Amounts as people write them. The 49 texts of the reference set are checked in `asfound.quantities.checks_units`.

What is typed and what it means is common practice, no source, unless said otherwise.
"""

from __future__ import annotations

import math
from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import AmbiguousError, InputError
from asfound.quantities.parse import Amount, parse_amount, parse_number
from asfound.quantities.units import fits, to_si


def si(text: str, quantity: str, **how) -> float:
    found = parse_amount(text, quantity=quantity, **how).value
    assert found is not None
    return found


def refused(text: str, quantity: str, **how) -> InputError:
    with pytest.raises(InputError) as caught:
        parse_amount(text, quantity=quantity, field="as_found/stack/field", **how)
    assert not isinstance(caught.value, AmbiguousError), caught.value
    assert caught.value.field == "as_found/stack/field"
    assert caught.value.given == text
    return caught.value


def asked(text: str, quantity: str, **how) -> dict[str, str]:
    with pytest.raises(AmbiguousError) as caught:
        parse_amount(text, quantity=quantity, **how)
    assert len(caught.value.choices) >= 2
    return caught.value.choices


# --- numbers


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1 234 567", 1234567),
        ("1'234'567.8", 1234567.8),
        ("1.234.567,8", 1234567.8),
        ("12,5", 12.5),
        ("+3", 3),
        ("−7,5", -7.5),
        ("1234,567", 1234.567),
        ("0.001", 0.001),
        ("1/2", 0.5),
        ("-3 1/2", -3.5),
        ("2-3/8", 2.375),
        ("¾", 0.75),
        ("1,5 x 10^-3", 0.0015),
        ("2×10⁻⁶", 2e-6),
        ("2.5·10^3", 2500),
        ("6.02E+5", 602000),
        ("５.５", 5.5),
        ("١٬٢٣٤٫٥", 1234.5),
        ("5.", 5),
        ("1e-3", 0.001),
    ],
)
def test_numbers_as_they_are_written(text, value):
    assert parse_number(text).value == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize(
    "text",
    [
        "1,2,3",
        "1 23",
        "12 34",
        "1.2.3",
        "1,234.567.8",
        "1'23",
        "abc",
        "O.5",
        "1/7",
        "9/4",
        "infinity",
        "1e",
        "--5",
        "5 bar",
        "1..2",
        "#N/A",
        "1 234 5",
    ],
)
def test_what_is_no_number_is_refused(text):
    with pytest.raises(InputError) as caught:
        parse_number(text, field="height")
    assert caught.value.field == "height"


def test_indian_groups_only_where_they_are_set():
    assert parse_number("12,34,567.5", grouping="indian").value == 1234567.5
    with pytest.raises(InputError):
        parse_number("12,34,567.5")


@pytest.mark.parametrize(("decimal", "value"), [("point", 1234), ("comma", 1.234), (".", 1234), (",", 1.234)])
def test_the_sites_decimal_sign_decides(decimal, value):
    assert parse_number("1,234", decimal=decimal).value == value


@pytest.mark.parametrize(
    "text", ["", "  ", "n/a", "N/A", "-", "---", "not measured", "NaN", "?", "could not read", "n.b."]
)
def test_what_was_not_measured_is_missing_and_not_zero(text):
    found = parse_amount(text, quantity="exhaust_oxygen_dry")
    assert found.missing
    assert found.value is None
    assert found.missing_because


def test_could_not_read_stays_apart_from_not_measured():
    assert parse_amount("could not read", quantity="engine_power").missing_because == "could not read"


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        ("> 20.9 %", "above"),
        (">20.9%", "above"),
        ("over 20 %", "above"),
        ("< 2 ppm", "below"),
        ("≤2 ppm", "below"),
        ("below 2 ppm", "below"),
    ],
)
def test_marks_are_kept(text, mark):
    assert parse_amount(text, quantity="exhaust_oxygen_dry").censored == mark


def test_about_is_kept():
    assert parse_amount("ca. 8,5 %", quantity="exhaust_oxygen_dry").about
    assert not parse_amount("8,5 %", quantity="exhaust_oxygen_dry").about


@given(st.floats(-1e9, 1e9, allow_nan=False).filter(lambda x: x == 0 or abs(x) > 1e-6), st.sampled_from([".", ","]))
def test_a_number_written_with_either_sign_is_read_back(value, sign):
    """Law: four decimals are never taken for thousands."""
    text = f"{value:.4f}".replace(".", sign)
    assert parse_number(text).value == float(f"{value:.4f}")


@given(st.integers(0, 10**12), st.sampled_from([" ", "'", " ", " "]))
def test_groups_of_three_are_read_back(value, sign):
    assert parse_number(f"{value:,}".replace(",", sign)).value == value


@given(st.text(alphabet="0123456789.,' -+eE%±()<>~/x", max_size=12))
def test_any_scribble_is_a_number_or_a_complaint(text):
    """Law: whatever is typed gives an amount or an InputError, nothing else."""
    with suppress(InputError):
        found = parse_amount(text, quantity="exhaust_oxygen_dry", default_unit="%")
        assert found.missing or math.isfinite(found.value)


@given(st.text(max_size=20))
def test_any_text_at_all_is_an_amount_or_a_complaint(text):
    for quantity in ("fuel_pressure", "gross_heating_value"):
        with suppress(InputError):
            assert parse_amount(text, quantity=quantity).as_typed == text


# --- units


@pytest.mark.parametrize(
    ("text", "quantity", "value"),
    [
        ("8,5 %", "exhaust_oxygen_dry", 0.085),
        ("8.5 vol-% dry", "exhaust_oxygen_dry", 0.085),
        ("85 ppmvd", "exhaust_nox_dry", 85e-6),
        ("0.5 g/hp-h", "nox_mass_per_energy", 0.5 * 3.7250613599861885e-10),
        ("950 °F", "turbine_inlet_temperature", 783.15),
        ("29.92 inHg", "barometric_pressure", 29.92 * 3386.388640341),
        ("1,013.25 hPa", "barometric_pressure", 101325),
        ("900 rpm", "engine_speed", 30 * math.pi),
        ("3.4 inWC", "catalyst_pressure_drop", 3.4 * 249.08891),
        ("60%", "throttle_position", 0.6),
        ("1 460 m", "site_height", 1460),
        ("4 790 ft", "site_height", 4790 * 0.3048),
        ("41 230 h", "engine_hours", 41230 * 3600),
        ("20° BTDC", "ignition_timing", math.radians(20)),
        ("1.72", "excess_air_ratio", 1.72),
        ("lambda", "excess_air_ratio", None),
        ("1.72 lambda", "excess_air_ratio", 1.72),
        ("36 kV", "ignition_demand", 36000),
        ("72.4 L", "swept_volume", 0.0724),
        ("250 mg/Nm3", "nox_mass_concentration", 250e-6),
        ("85 % RH", "relative_humidity", 0.85),
        ("0.6 mg KOH/g", "oil_acid_number", 6e-4),
        ("12 ppm (mass)", "oil_iron", 12e-6),
        ("9500 Btu/kWh", "heat_rate", 9500 * 1055.05585262 / 3.6e6),
        ("18 in/s", "vibration_velocity", 0.4572),
        ("5 ft 3 in", "site_height", 1.6002),
        ("1 h 12 min", "oil_hours", 4320),
        ("70 psi", "oil_pressure", 70 * 6894.757293168362),
        ("70 psig", "oil_pressure", 70 * 6894.757293168362),
        ("10 °C", "catalyst_temperature_rise", 10),
        ("18 F", "catalyst_temperature_rise", 10),
    ],
)
def test_amounts_as_they_are_written(text, quantity, value):
    if value is None:
        refused(text, quantity)
    else:
        assert si(text, quantity, decimal="point") == pytest.approx(value, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "quantity", "because"),
    [
        ("12 bar", "exhaust_oxygen_dry", "unit of pressure"),
        ("0.45 kg/s", "engine_power", "mass flow"),
        ("20 °C", "engine_speed", "temperature"),
        ("8.5 % CO2", "exhaust_oxygen_dry", "of CO2"),
        ("120 ppmvw", "exhaust_nox_dry", "is wet"),
        ("8.5 % dry", "exhaust_oxygen_wet", "is dry"),
        ("82 ppm at 15 % O2", "exhaust_nox_dry", "at 15 % O2"),
        ("12.5", "barometric_pressure", "no unit"),
        ("12 furlongs", "site_height", "furlongs"),
        ("-500 F", "ambient_temperature", "absolute zero"),
        ("-1 K", "ambient_temperature", "absolute zero"),
        ("130 %", "exhaust_oxygen_dry", "more than all"),
        ("-3 psia", "fuel_pressure", "below zero"),
        ("-20 psig", "fuel_pressure", "below the vacuum"),
        ("3 bar g", "barometric_pressure", "is gauge"),
        ("30 psia", "oil_pressure", "is absolute"),
        ("3 bar diff", "fuel_pressure", "difference"),
        ("10 F difference", "ambient_temperature", "difference"),
        ("8.5 %", "heat_rate", "ratio"),
        ("12 g/kg", "exhaust_nox_dry", "mass ratio"),
        ("500 scfm", "fuel_flow_metered", "reference state"),
        ("#REF!", "engine_power", "spreadsheet"),
        ("1e999 kW", "engine_power", "beyond"),
        ("l2 kW", "engine_power", "begin with a number"),
    ],
)
def test_what_cannot_be_is_refused_and_told_what_fits(text, quantity, because):
    error = refused(text, quantity)
    assert because in str(error)
    assert error.allowed or error.try_next


def test_a_wrong_dimension_names_what_fits():
    error = refused("12 bar", "ambient_temperature")
    assert error.allowed == ", ".join(fits("ambient_temperature")) == "°C, °F, K"


@pytest.mark.parametrize(
    ("text", "quantity"),
    [
        ("60 psi", "fuel_pressure"),
        ("250 kPa", "manifold_pressure"),
        ("12 inHg", "manifold_pressure"),
        ("950 Btu/scf", "gross_heating_value"),
        ("950 Btu/ft3", "gross_heating_value"),
        ("500 m3/h", "fuel_flow"),
        ("250 mg/m3", "nox_mass_concentration"),
        ("1.234 kW", "engine_power"),
        ("3.2 gr/100scf", "fuel_sulfur"),
        ("1,500 scfm", "fuel_flow"),
    ],
)
def test_what_can_be_two_things_is_asked_and_each_choice_is_plain(text, quantity):
    """Law: a choice that is offered is taken without another question, once the number itself is plain."""
    for choice in asked(text, quantity):
        if text == "1,500 scfm":  # its number is asked first, then its state
            asked(choice, quantity)
        else:
            assert parse_amount(choice, quantity=quantity).value is not None


def test_the_two_readings_of_a_bare_psi():
    psig, psia = (parse_amount(choice, quantity="fuel_pressure") for choice in asked("60 psi", "fuel_pressure"))
    assert psig.gauge
    assert not psia.gauge
    assert psig.value == psia.value


@pytest.mark.parametrize(
    ("text", "gauge"),
    [
        ("60 psig", True),
        ("60 psi g", True),
        ("4 bar(g)", True),
        ("4 barg", True),
        ("4 bar ü", True),
        ("4 bar gauge", True),
        ("400 kPag", True),
        ("400 kPa (g)", True),
        ("4 kg/cm2g", True),
        ("75 psia", False),
        ("5 bar(a)", False),
        ("5 bara", False),
        ("5 bar abs", False),
        ("5 bar abs.", False),
        ("500 kPa absolute", False),
        ("150 inHg abs", False),
        ("5 ata", False),
        ("500 kPaa", False),
        ("60 PSIG", True),
    ],
)
def test_gauge_and_absolute_as_they_are_written(text, gauge):
    assert parse_amount(text, quantity="fuel_pressure").gauge is gauge


def test_a_vacuum_is_gauge_and_counts_down():
    found = parse_amount("< 10 inHg vac", quantity="manifold_pressure")
    assert (found.gauge, found.censored) == (True, "above")
    assert found.value == pytest.approx(-10 * 3386.388640341)


def test_the_unit_beside_the_field_serves_a_bare_number_only():
    assert si("60", "fuel_pressure", default_unit="psig") == to_si(60.0, "psi")
    assert parse_amount("60", quantity="fuel_pressure", default_unit="psig").gauge
    assert si("4 bar g", "fuel_pressure", default_unit="psig") == pytest.approx(4e5)
    assert parse_amount("60", quantity="fuel_pressure", default_unit="psig").unit == ""
    asked("60 psi", "fuel_pressure", default_unit="psig")


def test_the_sites_gas_state_serves_volumes_without_one():
    """950 x 1055.05585262 J / 0.02685320 m3: 37.325 MJ in a normal cubic metre, from the definitions."""
    assert si("950 Btu/scf", "gross_heating_value", reference="60 F, 14.73 psia") == pytest.approx(37.325e6, rel=2e-5)
    assert si("950 Btu/ft3", "gross_heating_value", reference="60 F, 14.73 psia") == pytest.approx(37.325e6, rel=2e-5)
    assert si("500 Nm3/h", "fuel_flow", reference="60 F, 14.73 psia") == pytest.approx(500 / 3600)


def test_a_quantity_counted_at_another_state_is_converted_to_it():
    here = si("1000 m3/h (20 C, 101.325 kPa)", "exhaust_flow_dry", decimal="point")
    assert here == pytest.approx(1000 / 3600)
    assert si("1000 Nm3/h", "exhaust_flow_dry") == pytest.approx(1000 / 3600 * 293.15 / 273.15)
    assert si("8710 dscf/MMBtu", "fuel_f_factor") == pytest.approx(8710 * 0.028316846592 / 1055055852.62)


def test_a_reference_oxygen_is_kept_where_it_belongs():
    found = parse_amount("82 ppmvd @ 15% O2", quantity="nox_at_reference_oxygen")
    assert found.reference_oxygen == pytest.approx(0.15)
    assert set(found.says) == {"dry", "at 15 % O2"}
    assert parse_amount(
        "250 mg/Nm3 at 5 % O2 dry", quantity="nox_mass_concentration"
    ).reference_oxygen == pytest.approx(0.05)


# --- what stands behind ±


@pytest.mark.parametrize(
    ("text", "how", "standard", "half"),
    [
        ("12.3 ± 0.4 bar", {}, None, 40_000),
        ("12.3 bar ± 0.4 bar", {}, None, 40_000),
        ("12.3 bar +/- 4 kPa", {}, None, 4_000),
        ("12.3 bar ± 2 %", {}, None, 24_600),
        ("12.3 ± 0.4 bar (k=2)", {}, 20_000, None),
        ("12.3 ± 0.4 bar, 95 %", {}, 20_000, None),
        ("12.3 ± 0.4 bar", {"plus_minus": "standard"}, 40_000, None),
        ("12.3 ± 0.4 bar", {"plus_minus": "k2"}, 20_000, None),
        ("12.3 ± 0.4 bar", {"plus_minus": "limit"}, 40_000 / math.sqrt(3), None),
        ("12.30(12) bar", {}, 12_000, None),
        ("4 bar ± 2 % of reading", {}, None, 8_000),
    ],
)
def test_plus_minus_is_kept_and_its_meaning_not_guessed(text, how, standard, half):
    """12.30(12): JCGM 100:2008 7.2.2. k = 2 and 95 %: taken as twice the standard uncertainty."""
    found = parse_amount(text, quantity="oil_pressure", **how)
    assert found.value == pytest.approx(1_230_000 if "12.3" in text else 400_000)
    assert found.standard_uncertainty == (None if standard is None else pytest.approx(standard))
    assert found.plus_minus == (None if half is None else pytest.approx(half))


def test_a_width_has_no_offset():
    found = parse_amount("90 ± 2 °C", quantity="oil_temperature", plus_minus="standard")
    assert (found.value, found.standard_uncertainty) == (pytest.approx(363.15), pytest.approx(2))
    assert parse_amount("194 ± 9 F", quantity="oil_temperature").plus_minus == pytest.approx(5)


def test_per_cent_of_what_is_asked_where_both_can_be():
    choices = asked("8.5 % ± 0.2 %", "exhaust_oxygen_dry")
    widths = sorted(parse_amount(choice, quantity="exhaust_oxygen_dry").plus_minus for choice in choices)
    assert widths == [pytest.approx(0.00017), pytest.approx(0.002)]


# --- laws


@given(st.floats(0.1, 900), st.sampled_from([("bar abs", "kPa abs"), ("psia", "MPa abs"), ("inHg abs", "kgf/cm2 a")]))
def test_the_unit_typed_cannot_change_the_amount(value, units):
    """Law: the same amount written in another unit is the same amount."""
    first = si(f"{value:.6f} {units[0]}", "fuel_pressure")
    there = to_si(1.0, units[1].removesuffix(" abs").removesuffix(" a"))
    assert si(f"{first / there:.12e} {units[1]}", "fuel_pressure") == pytest.approx(first, rel=1e-10)


@given(st.floats(-50, 500), st.floats(1e-3, 50))
def test_more_typed_is_more(value, more):
    low, high = si(f"{value:.6f} °F", "oil_temperature"), si(f"{value + more:.6f} °F", "oil_temperature")
    assert low <= high


@pytest.mark.parametrize("scrap", ["1", "1 ", "dry ", "(", " -", "½", "kg/"])
def test_a_whole_table_pasted_is_refused_at_once(scrap):
    with pytest.raises(InputError, match="characters long"):
        parse_amount("5 " + scrap * 5000, quantity="engine_power")


def test_what_was_typed_is_kept():
    assert parse_amount(" 8,5 % ", quantity="exhaust_oxygen_dry").as_typed == " 8,5 % "
    assert isinstance(parse_amount("8,5 %", quantity="exhaust_oxygen_dry"), Amount)
