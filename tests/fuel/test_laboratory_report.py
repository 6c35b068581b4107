"""Reports as they are pasted (all invented)."""

from __future__ import annotations

from datetime import date

import pytest

from asfound.errors import AmbiguousError, InputError
from asfound.fuel.laboratory_report import read_report
from asfound.fuel.report_words import any_date, columns_of

AMERICAN = """ASHGREBE LABORATORY                Report 4711
Sampled: 2 May 2032   Cylinder 12   Pressure 38 psig
Component              Mol %     Wt %     GPM
Methane               91.2000   82.078
Ethane                 4.6000    7.759    1.230
Propane                1.5500    3.834    0.428
Iso-Butane             0.2200    0.717    0.072
n-Butane               0.3100    1.011    0.098
i-Pentane              0.0700    0.283    0.026
n-Pentane              0.0500    0.202    0.018
Hexanes +              0.0500    0.242    0.021
Nitrogen               1.0500    1.650
Carbon Dioxide (CO2)   0.9000    2.222
H2S                   <0.0004
Oxygen                  ND
Total                100.0000  100.000
Heating value, gross, real 1070 Btu/scf at 14.73 psia 60 F
Specific gravity 0.6166
"""
GERMAN = """Prüfbericht 17
Probenahme: 02.05.2032
Bestandteil;Mol-%;U (k=2)
Methan;91,20;0,15
Ethan;4,60;0,05
Stickstoff;1,05;0,02
Kohlenstoffdioxid;3,15;0,02
Summe;100,00"""


def test_american_report():
    report = read_report(AMERICAN, heavier="n-hexane", source="report 4711")
    gas = report.composition
    assert gas.by_name["methane"] == pytest.approx(0.912)
    assert gas.by_name["n-hexane"] == pytest.approx(0.0005)
    assert gas.by_name["carbon dioxide"] == pytest.approx(0.009)
    assert gas.total == pytest.approx(1.0)
    assert report.stated_total == pytest.approx(1.0)
    assert gas.sampled == date(2032, 5, 2)
    assert gas.by_name["hydrogen sulfide"] == gas.by_name["oxygen"] == 0.0
    assert gas.standard_uncertainties[gas.components.index("hydrogen sulfide")] == pytest.approx(4e-6 / 3**0.5)
    assert [number for number, _ in report.left_out] == [1, 2, 17, 18]
    assert "hydrogen sulfide, oxygen" in report.notes[0]
    assert gas.as_typed["hydrogen sulfide"].endswith("<0.0004")


def test_mass_column_of_the_same_report_is_the_same_gas():
    """Only the mass column is pasted: the mole fractions come out, within the digits of the column."""
    text = """Mass %
    Methane 82.078
    Ethane 7.759
    Propane 3.834
    Isobutane 0.717
    n-Butane 1.011
    Isopentane 0.283
    n-Pentane 0.202
    C6+ 0.242
    Nitrogen 1.650
    CO2 2.222"""
    gas, other = (read_report(one, heavier="n-hexane").composition.normalised() for one in (text, AMERICAN))
    assert gas.basis == "mass"
    for name, fraction in gas.by_name.items():
        assert fraction == pytest.approx(other.by_name[name], abs=2e-5)


def test_german_report_with_uncertainty_column():
    gas = read_report(GERMAN, plus_minus="k2").composition
    assert gas.by_name["methane"] == pytest.approx(0.912)
    assert gas.standard_uncertainties == pytest.approx([0.00075, 0.00025, 0.0001, 0.0001])
    assert gas.sampled == date(2032, 5, 2)


def test_uncertainty_of_unknown_kind_is_asked_about():
    with pytest.raises(AmbiguousError, match="line 4") as asked:
        read_report(GERMAN)
    assert set(asked.value.choices) == {"standard", "k2"}


def test_units_behind_the_numbers():
    gas = read_report("1 CH4 58.4 %\n2 N2 2.60 %\n3 CO2 38.28 %\n4 O2 0.70 %\n5 H2S 220 ppm", basis="mole").composition
    assert gas.by_name["hydrogen sulfide"] == pytest.approx(220e-6)
    assert gas.total == pytest.approx(1.00002)


def test_fractions_and_per_cent_are_told_apart_by_their_sum():
    one = read_report("CH4: 0.95\nN2: 0.05", basis="mole").composition
    other = read_report("CH4 | 95,0\nN2 | 5,0", basis="mole").composition
    assert one.by_name == other.by_name
    with pytest.raises(InputError, match="neither"):
        read_report("CH4 9.5\nN2 0.5", basis="mole")


def test_the_sum_is_compared_with_what_the_report_prints():
    report = read_report("mol%\nmethane 95.0\nnitrogen 3.0\nTotal 100.0")
    assert report.composition.says == "The analysis adds up to 98.00 %; it was not scaled."
    assert any("prints 100.00 %" in note for note in report.notes)


@pytest.mark.parametrize(
    ("text", "error", "says"),
    [
        ("CH4 95\nN2 5", InputError, "mole, volume or mass"),
        ("mol%\nCH4 91.2\nunobtainium 4.2", InputError, "line 3.*unobtainium"),
        ("mol%\nmetane 91.2\nN2 8.8", InputError, "line 2.*Allowed: methane"),
        ("mol%\nCH4 91.2\nCH4 4.2", InputError, "line 3.*second time"),
        ("mol%\nCH4 91.2\nC4H10 2.0", AmbiguousError, "line 3.*n-butane or isobutane"),
        ("mol%\nCH4 -91.2", InputError, "line 2.*below nothing"),
        ("mol%\nCH4 >91.2", InputError, "line 2.*above"),
        ("mol%\nnothing here", InputError, "no line with a component"),
        ("", InputError, "report|basis"),
        ("mol%\nCH4 91.2\nN2 8,8", AmbiguousError, "decimal sign"),
        ("vol%\nCH4 95.0\nN2 5.0", InputError, "does not agree"),
    ],
)
def test_what_cannot_be_read_is_named_by_its_line(text, error, says):
    with pytest.raises(error, match=says):
        read_report(text, basis="mole" if text.startswith("vol") else None)


def test_three_decimals_are_no_thousands():
    """91.200 alone could be ninety-one thousand; in a table of per cent it cannot."""
    assert read_report("mol %\nmethane 91.200\nnitrogen 8.800").composition.by_name["methane"] == pytest.approx(0.912)
    assert read_report("mol %\nmethane 91,200\nnitrogen 8,800").composition.by_name["methane"] == pytest.approx(0.912)


def test_pasted_from_a_comma_separated_file():
    gas = read_report('component,mol %\nmethane,91.2\n"2,2-dimethylbutane"\t0.8\nnitrogen,8.0').composition
    assert gas.by_name["2,2-dimethylbutane"] == pytest.approx(0.008)


@pytest.mark.parametrize(
    ("head", "kinds"),
    [
        ("Component  Mol%  Wt%  GPM", ("mole", "mass", "other")),
        ("Komponente Stoffmengenanteil mol/mol Unsicherheit", ("mole fraction", "uncertainty")),
        ("Compound [% v/v]", ("volume",)),
        ("Constituant % mol. % masse", ("mole", "mass")),
        ("just a sentence about methane", ()),
    ],
)
def test_column_heads(head, kinds):
    assert columns_of(head) == kinds


def test_a_date_that_can_be_two_is_none():
    assert any_date("03/04/2031") is None
    assert any_date("May 2, 2032") == any_date("2 May 2032") == any_date("2032-05-02") == date(2032, 5, 2)
    assert any_date("31.06.2032") is None
