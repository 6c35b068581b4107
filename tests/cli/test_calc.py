"""`asfound calc`: published values through the command line, and what it refuses."""

from __future__ import annotations

import pytest

from asfound.cli import CANNOT
from asfound.quantities.register import quantity
from asfound.quantities.worksheets import load

READ = ("exhaust_nox_dry=120 ppm", "exhaust_oxygen_dry=8,5 %", "permit_reference_oxygen=15 %")
KEYS = {"quantity", "value", "unit", "interval", "method", "source"}


def calc(asfound, *words):
    return asfound("calc", *words, "--json").data["results"]


def test_reference_oxygen_by_the_rule(asfound):
    """40 CFR 60.4213(d)(2), Equation 3, prints 5.9 = 20.9 - 15: 120 ppm x 5.9 / (20.9 - 8.5) = 57.097 ppm."""
    result = calc(asfound, "nox_at_reference_oxygen", *READ)[0]
    assert result["value"] * 1e6 == pytest.approx(120 * 5.9 / 12.4, abs=1e-6)
    assert result["unit"] == "mol/mol"
    assert "60.4213" in result["source"]
    assert set(result) >= KEYS


def test_a_stated_doubt_becomes_the_interval(asfound):
    """120 ppm +- 6 ppm as limits: u = 6/sqrt(3) ppm (JCGM 100:2008, 4.3.7); the correction scales it by 5.9/12.4."""
    result = calc(asfound, "nox_at_reference_oxygen", "exhaust_nox_dry=120 ppm +- 6 ppm", *READ[1:])[0]
    assert result["standard_uncertainty"] * 1e6 == pytest.approx(6 / 3**0.5 * 5.9 / 12.4, rel=0.02)
    low, high = (1e6 * end for end in result["interval"])
    assert low == pytest.approx(57.097 - 0.95 * 6 * 5.9 / 12.4, abs=0.05)  # 95 % of a rectangular distribution
    assert high == pytest.approx(57.097 + 0.95 * 6 * 5.9 / 12.4, abs=0.05)
    assert result["shares"]["as_found/engine/exhaust_nox_dry"] == pytest.approx(1)


def test_the_meaning_of_plus_minus_can_be_said(asfound):
    standard = calc(
        asfound, "nox_at_reference_oxygen", "exhaust_nox_dry=120 ppm +- 6 ppm", *READ[1:], "--doubt", "standard"
    )
    expanded = calc(asfound, "nox_at_reference_oxygen", "exhaust_nox_dry=120 ppm +- 6 ppm", *READ[1:], "--doubt", "k2")
    assert standard[0]["standard_uncertainty"] == pytest.approx(2 * expanded[0]["standard_uncertainty"], rel=0.01)


def test_the_same_seed_gives_the_same_digits(asfound):
    words = ("nox_at_reference_oxygen", "exhaust_nox_dry=120 ppm +- 6 ppm", *READ[1:])
    assert calc(asfound, *words) == calc(asfound, *words)
    assert calc(asfound, *words) != calc(asfound, *words, "--seed", 2)


def test_a_kind_of_instrument_gives_the_doubt(asfound):
    from asfound.quantities.instruments import class_for

    kind = class_for("exhaust_nox_dry")
    result = calc(asfound, "nox_at_reference_oxygen", *READ, "--instrument", f"exhaust_nox_dry={kind}")[0]
    assert result["standard_uncertainty"] > 0


def test_what_was_assumed_is_marked(asfound):
    result = calc(asfound, "nox_at_reference_oxygen", *READ[:2])[0]
    assert [key.rsplit("/", 1)[1] for key in result["assumed"]] == ["permit_reference_oxygen"]
    assert "ASSUMED" in asfound("calc", "nox_at_reference_oxygen", *READ[:2]).out


def test_for_people_it_shows_value_interval_method_and_trail(asfound):
    said = asfound("calc", "nox_at_reference_oxygen", "exhaust_nox_dry=120 ppm +- 6 ppm", *READ[1:])
    assert said.code == 0
    assert " to " in said.out
    assert "60.4213" in said.out
    assert "8,5 %" in said.out


def test_what_is_missing_is_named_with_its_range(asfound):
    said = asfound("calc", "nox_at_reference_oxygen", "exhaust_nox_dry=120 ppm")
    assert (said.code, said.out) == (CANNOT, "")
    assert "exhaust_oxygen_dry" in said.err
    assert "Allowed" in said.err


def test_what_no_exhaust_can_have_is_refused_with_what_to_do(asfound):
    said = asfound("calc", "nox_at_reference_oxygen", "exhaust_nox_dry=120 ppm", "exhaust_oxygen_dry=21.5 %")
    assert said.code == CANNOT
    assert "leak" in said.err


@pytest.mark.parametrize(
    ("word", "says"),
    [
        ("exhaust_nox_dry=120 psi", "exhaust_nox_dry"),
        ("exhaust_nox_dri=120 ppm", "exhaust_nox_dry"),
        ("exhaust_nox_dry", "name=value"),
        ("exhaust_nox_dry=a lot", "a lot"),
    ],
)
def test_bad_input_names_field_value_and_what_fits(asfound, word, says):
    said = asfound("calc", "nox_at_reference_oxygen", word, *READ[1:])
    assert said.code == CANNOT
    assert says in said.err
    assert "Traceback" not in said.err


def test_an_ambiguous_value_shows_its_choices(asfound):
    said = asfound("calc", "nox_at_reference_oxygen", "exhaust_nox_dry=1,234 ppm", *READ[1:])
    assert said.code == CANNOT
    assert len(said.err.splitlines()) >= 3, said.err


def test_an_unknown_worksheet_is_refused_with_the_nearest(asfound):
    said = asfound("calc", "nox_at_reference_oxigen")
    assert said.code == CANNOT
    assert "nox_at_reference_oxygen" in said.err


def test_without_words_it_lists_the_worksheets_of_all_rooms(asfound):
    listed = {one["worksheet"] for one in asfound("calc", "--json").data}
    assert listed == set(load())
    assert all(name in asfound("calc").out for name in load())


SEVERAL = 6
"""Places of a take that wants several: a median of fewer is none."""


@pytest.mark.parametrize("name", load())
def test_every_worksheet_explains_itself_and_works_on_plausible_values(asfound, name):
    """Any registered worksheet, by its declaration alone: help, then the middle of each plausible range."""
    said = asfound("calc", name, "--help")
    assert said.code == 0
    sheet = load()[name]
    assert all(take.quantity in said.out for take in sheet.takes)
    words = []
    for take in sheet.takes:
        about = quantity(take.quantity)
        low, high, *_ = sheet.valid.get(take.quantity, about.plausible)
        middle = (max(low, about.plausible[0]) + min(high, about.plausible[1])) / 2
        unit = next((one for one in about.typed_units if one != "1" and not one.endswith((" g", "psig"))), "1")
        twice = sum(one.quantity == take.quantity for one in sheet.takes) > 1  # the same from two places: say which
        value = f"{about.to_unit(middle, unit):.9f} {unit.removesuffix('1')}".strip()
        places = [take.place_of(n) for n in range(1, (SEVERAL if take.some else 2) + 1)] if take.each else [take.place]
        words += [
            f"{take.quantity}@{place}={value}" if twice or take.each else f"{take.quantity}={value}" for place in places
        ]
    said = asfound("calc", name, *words, "--json")
    if said.code == CANNOT:  # the middle of every range at once may be what no engine has: then it says what may be
        assert "Allowed:" in said.err
        assert any(one in said.err for one in (*(take.quantity for take in sheet.takes), *sheet.gives))
        return
    results = said.data["results"]
    assert {one["quantity"] for one in results} <= set(sheet.gives)
    assert results
    for one in results:
        assert set(one) >= KEYS
        assert one["method"]
        assert one["source"]
        assert one["unit"] == quantity(one["quantity"]).si_unit


def test_a_value_where_no_reading_lies_is_worked_out_and_pointed_at(asfound):
    words = ("calc", "co_mass_concentration", "co_at_reference_oxygen=40 %")
    assert "Look again: CO at reference oxygen" in asfound(*words).out
    assert len(asfound(*words, "--json").data["look_again"]) == 1
    assert asfound("calc", words[1], "co_at_reference_oxygen=40 ppm", "--json").data["look_again"] == []


@pytest.mark.parametrize("draws", [2, 10**12])
def test_a_number_of_draws_that_tells_nothing_or_fills_the_memory_is_refused(asfound, draws):
    said = asfound("calc", "co_mass_concentration", "co_at_reference_oxygen=40 ppm", "--draws", draws)
    assert said.code == 2
    assert "Allowed: 100 to 1,000,000" in said.err
