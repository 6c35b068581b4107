"""Published values, recomputed."""

from __future__ import annotations

import json
import math
import sys
import types

import pytest

from asfound.errors import UnknownNameError
from asfound.sources import prove as proof
from asfound.sources.prove import Check, checks_of, prove, rooms_with_checks
from asfound.sources.register import sources


def check(value: float, published: float = 1.0, tolerance: float = 0.05) -> Check:
    return Check("a", "quantities", value, published, tolerance, "jcgm_100")


def test_a_check_holds_up_to_its_tolerance_and_no_further():
    assert check(1.05).holds
    assert check(0.951).holds
    assert not check(1.051).holds
    assert check(1.2).deviation == pytest.approx(0.2)


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_calculation_without_answer_is_a_miss(value):
    assert not check(value).holds
    assert not check(1.0, published=value).holds
    assert not check(1.0, tolerance=math.nan).holds
    assert json.loads(json.dumps(check(value).as_dict(), allow_nan=False))["holds"] is False


def test_the_dictionary_has_what_the_command_prints():
    assert {"check", "room", "value", "published", "tolerance", "source", "holds", "deviation"} <= set(
        check(1).as_dict()
    )


def test_a_room_is_found_by_its_module_alone(tmp_path, monkeypatch):
    (tmp_path / "cellar").mkdir()
    (tmp_path / "cellar" / "checks.py").touch()
    (tmp_path / "attic").mkdir()
    monkeypatch.setattr(proof, "ROOMS", tmp_path)
    module = types.ModuleType("asfound.cellar.checks")
    module.checks = lambda: iter([check(1.0), check(2.0)])  # type: ignore[attr-defined]
    monkeypatch.setitem(sys.modules, "asfound.cellar.checks", module)
    assert rooms_with_checks() == ("cellar",)
    assert [one.holds for one in prove()] == [True, False]


def test_a_room_without_checks_is_an_unknown_name():
    with pytest.raises(UnknownNameError):
        list(checks_of("attic"))


def test_the_checks_of_units_and_numbers_all_hold_and_cite_registered_sources():
    from asfound.quantities.checks_units import checks

    found = list(checks())
    assert len(found) > 250
    assert [one for one in found if not one.holds] == []
    assert {one.source for one in found} <= set(sources())
    assert {one.room for one in found} == {"quantities"}
