"""Every worked example that ships with the program, recomputed: sources are named beside each value in the data
files.
"""

from __future__ import annotations

import pytest

from asfound.evidence.checks import anchors, checks
from asfound.sources.register import source

ALL = list(checks())


@pytest.mark.parametrize("check", ALL, ids=[check.check for check in ALL])
def test_holds(check):
    assert check.holds, f"{check.value} against {check.published}, tolerance {check.tolerance}"


def test_every_example_is_recomputed_and_has_a_source():
    assert {check.check.split("/")[0] for check in ALL} == {*anchors(), "slot_case"}
    for check in ALL:
        assert source(check.source).title
    assert all(check.tolerance <= 1e-6 for check in ALL if "printed" not in check.check)
