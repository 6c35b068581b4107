"""`asfound what-if`: the answer in words and as data, bounds, a wanted change traced back."""

from __future__ import annotations

import pytest

from asfound.cli import DONE


def test_the_answer_comes_first_with_its_interval_and_the_permit(at_demo):
    said = at_demo("what-if", "A2", "--mixture", "1.74")
    assert said.code == DONE
    assert said.out.splitlines()[0].startswith("A2/2032-07-08, as found: NOx falls by")
    for words in (
        "the permit is kept",
        "change by the model",
        "1 degree earlier",
        "Nothing here moves a setting",
        "held",
    ):
        assert words in said.out


def test_programs_get_si_and_words_are_understood(at_demo):
    data = at_demo("what-if", "A2", "as_left", "--timing", "2 later", "--charge", "10 K warmer", "--json").data
    assert data["asked"]["timing"] == pytest.approx(0.28798, abs=1e-4)
    assert data["asked"]["charge"] == pytest.approx(337.04, abs=0.1)
    assert data["state"] == "as_left"
    low, middle, high = data["numbers"]["power"]["change"]
    assert abs(middle) < 0.01 * data["numbers"]["power"]["now"][1], "power is held"
    assert low <= middle <= high


def test_beyond_the_bounds_is_refused_with_what_is_allowed(at_demo):
    said = at_demo("what-if", "A2", "--timing", "60 deg")
    assert said.code != DONE
    assert "10.5 to 26.5 deg" in said.err
    assert "Ignition timing" in said.err


def test_a_wanted_change_is_traced_back_and_the_map_is_written(at_demo):
    said = at_demo("what-if", "A2", "--to", "nox 70 %", "--map")
    assert "Wanted change, traced back" in said.out
    assert "Mixture, lambda to 1.6" in said.out
    assert "NOx of the model, ppm dry" in said.out


def test_what_is_missing_is_said(at_demo):
    said = at_demo("what-if", "A3")
    assert said.code == DONE
    assert "missing: Oxygen, dry" in said.out
    assert "missing: Ignition timing" in said.out
    assert "usual values can stand for the gas" in said.out
    assert at_demo("what-if", "A3", "--json").data["modelled"] is False


def test_a_plus_is_asked_about_and_a_minus_is_told_how_to_write(at_demo):
    """'+10' may be ten more or ten: it is not taken for the value without being asked."""
    said = at_demo("what-if", "A2", "--charge", "+10")
    assert said.code == 2
    assert "by +10" in said.err
    said = at_demo("what-if", "A2", "--air", "-20 °C")
    assert said.code == 2
    assert "--air='-20 °C'" in said.err
