"""Every published value of uncertainty and conformity is computed again, to its printed digits."""

import json
from collections import Counter
from importlib.resources import files

import pytest

from asfound.quantities import checks_uncertainty
from asfound.sources.register import source

CHECKS = list(checks_uncertainty.checks())


@pytest.mark.parametrize("check", CHECKS, ids=lambda one: one.check)
def test_published_value(check):
    assert check.holds, f"{check.value} is not {check.published} within {check.tolerance}"


def test_every_item_of_both_files_is_checked_and_has_a_registered_source():
    counted = Counter(one.check.split(" ")[0] for one in CHECKS)
    for name in ("published_uncertainty.json", "published_conformity.json"):
        for item in json.loads(files("asfound.quantities").joinpath("data", name).read_text(encoding="utf-8")):
            assert counted[item["id"]] >= 1
            assert source(item["source"]).key == item["source"]
    assert len(counted) == 13 + 12


def test_no_check_can_pass_whatever_comes_out():
    """A tolerance as wide as the value itself would prove nothing; where a zero is printed, the unit is its measure."""
    for one in CHECKS:
        assert one.tolerance <= 0.2 * max(abs(one.published), abs(one.value)) or one.published == 0.0, one.check


def test_a_wrong_value_is_a_miss():
    from dataclasses import replace

    first = CHECKS[0]
    assert not replace(first, value=first.value + 2.0 * first.tolerance + 1.0).holds
    assert not replace(first, value=float("nan")).holds
