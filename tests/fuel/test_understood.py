"""How a report was understood: every line once, nothing dropped, nothing guessed, nothing that crashes it."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import AmbiguousError
from asfound.fuel.contaminants import MOLAR_MASS_HYDROGEN_SULFIDE, mass_of
from asfound.fuel.laboratory_report import read_report
from asfound.fuel.names import is_known
from asfound.fuel.report_traces import VOLUMES
from asfound.fuel.understood import understand

NAMES = ("Methane", "C2H6", "Propan", "i-C4", "n-Butane", "N2", "Kohlenstoffdioxid", "C6+", "unobtainium", "H2S",
         "Total", "Heating value", "C4H10", "2. Ethane", "")  # fmt: skip
BEHIND = ("95.2", "4,1", "<0.01", "ND", "-3", "12 ppm", "4.5 mg/m3", "0.3 ± 0.1", "1e400", "٣", "94.1 %", ".", "1.2.3",
          "mg/Nm3", "²", "9" * 400)  # fmt: skip
LINES = st.one_of(
    st.builds(lambda name, sign, value: f"{name}{sign}{value}", st.sampled_from(NAMES),
              st.sampled_from((" ", "\t", ";", ": ", ",", "=")), st.sampled_from(BEHIND)),
    st.text(max_size=30),
    st.sampled_from(("Component  Mol %", "mol%  wt%", "Vol %", "Masse-%", "ppm", "Sampled 2032-05-02", "")),
)  # fmt: skip


@given(st.lists(LINES, max_size=12), st.sampled_from((None, "mole", "mass")), st.sampled_from((None, "60/30/10")))
def test_no_text_crashes_it_and_every_line_is_in_the_answer_once(lines, basis, heavier):
    text = "\n".join(lines)
    found = understand(text, basis=basis, heavier=heavier)
    read = [number for number, line in enumerate(text.splitlines(), start=1) if line.strip()]
    assert [row.number for row in found.rows] == read  # kept + refused + about something else = read
    for row in found.rows:
        assert (row.error is not None) == (row.kind == "refused")
        assert (row.line is not None) == (row.kind == "component")
        if row.error is not None:
            assert f"line {row.number}" in str(row.error)
    if found.composition is not None:
        assert all(math.isfinite(one) and one >= 0 for one in found.composition.fractions)
        assert found.questions == ()


@given(st.text())
def test_any_text(text):
    understand(text, basis="mole")


@given(st.lists(st.sampled_from(("methane", "ethane", "nitrogen", "propane")), min_size=1, max_size=4, unique=True),
       st.data())  # fmt: skip
def test_what_was_kept_is_what_was_typed(names, data):
    shares = [data.draw(st.integers(1, 9999)) / 100 for _ in names]
    text = "mol %\n" + "\n".join(f"{name} {share}" for name, share in zip(names, shares, strict=True))
    found = understand(text)
    assert [row.line.fraction for row in found.rows[1:]] == pytest.approx([share / 100 for share in shares])


def test_refused_lines_stand_beside_those_that_were_understood():
    found = understand("mol %\nMethane 95.0\nmetane 1.0\nC4H10 1.0\nNitrogen 3.0\nTotal 100.0\nCylinder 12")
    assert [row.kind for row in found.rows] == [
        "aside", "component", "refused", "refused", "component", "sum", "aside",
    ]  # fmt: skip
    assert found.composition is not None
    assert found.composition.total == pytest.approx(0.98)
    assert found.left_out == ((7, "Cylinder 12"),)
    assert found.rows[1].means == "methane (CH4)"
    assert isinstance(found.complaint, AmbiguousError) or "metane" in str(found.complaint)


def test_what_has_to_be_said_first_is_asked_once():
    found = understand("Methane 95.0 ± 0.2\nNitrogen 4.9 ± 0.1\nC6+ 0.1")
    assert found.questions[0].field == "basis"
    assert sum("± " in str(one) for one in found.questions) == 1
    whole = understand("Methane 95.0 ± 0.2\nNitrogen 4.9 ± 0.1\nC6+ 0.1", basis="mole", plus_minus="k2",
                       heavier="60/30/10")  # fmt: skip
    assert whole.questions == ()
    assert whole.composition.by_name["n-heptane"] == pytest.approx(0.0003)
    assert whole.composition.standard_uncertainties[0] == pytest.approx(0.001)


def test_hydrogen_sulfide_by_mass_per_volume_is_converted_at_the_state_that_is_stated():
    """Mole fraction = c R T / (p M), by hand: 4.56 mg/m3(n) / 34.081 g/mol x 22.414 L/mol = 3.00 ppm."""
    text = "mol %\nMethane 95.0\nNitrogen 5.0\nH2S 4.56 mg/m3"
    normal = read_report(text.replace("mg/m3", "mg/m3(n)")).composition
    assert normal.by_name["hydrogen sulfide"] == pytest.approx(3.00e-6, rel=1e-3)
    assert mass_of(normal.by_name["hydrogen sulfide"], MOLAR_MASS_HYDROGEN_SULFIDE) == pytest.approx(4.56e-6)
    warmer = read_report(text, volume_at="15 C, 101.325 kPa").composition
    ratio = warmer.by_name["hydrogen sulfide"] / normal.by_name["hydrogen sulfide"]
    assert ratio == pytest.approx(288.15 / 273.15)
    grains = read_report(text.replace("4.56 mg/m3", "0.25 gr/100scf"), volume_at="60 F, 14.73 psia").composition
    # 0.25 gr = 16.2 mg in 2.83168 m3: 5.7209 mg/m3; a mole has 8.31446 x 288.706 K / 101,560 Pa = 23.636 L there
    assert grains.by_name["hydrogen sulfide"] == pytest.approx(5.7209e-3 / 34.0809 * 23.636e-3, 1e-4)
    with pytest.raises(AmbiguousError, match="line 4") as asked:
        read_report(text)
    assert tuple(asked.value.choices) == VOLUMES


def test_units_behind_numbers_go_before_the_column_and_mix():
    gas = read_report("CH4 99.0\nN2 0.9 %\nCO2 1000 ppm\nH2S 500 ppb", basis="mole").composition
    assert gas.by_name == pytest.approx(
        {"methane": 0.99, "nitrogen": 0.009, "carbon dioxide": 0.001, "hydrogen sulfide": 5e-7}
    )
    as_fractions = read_report("CH4 0.99\nN2 0.01\nH2S 3 ppm", basis="mole").composition
    assert as_fractions.by_name["hydrogen sulfide"] == pytest.approx(3e-6)


def test_traces_are_read_and_their_doubts_are_asked():
    found = understand(
        "mol %\nMethane 60\nCarbon dioxide 40\nTotal sulphur 12 mg/m3(n)\nSiloxanes <8.5 mg/Nm3\n"
        "Water content 20 mg/m3\nMoisture 50 ppm"
    )
    assert [row.kind for row in found.rows[3:]] == ["trace", "trace", "refused", "trace"]  # 20 mg/m3 at which state?
    assert found.traces[1].below
    assert found.traces[0].value == pytest.approx(12e-6)
    assert found.traces[2].value == pytest.approx(50e-6 * 18.01528e-3 / 22.41396954e-3)


def test_reproducibility_of_the_method_instead_of_the_report():
    found = understand("mol %\nMethane 95.0\nNitrogen 5.0", uncertain="astm_d1945")
    assert (found.composition.standard_uncertainties > 0).all()


def test_names_of_the_laws_are_what_they_say():
    assert is_known("Propan")
    assert not is_known("unobtainium")
