"""The two dirty logs whose correct import is known: every count, line, time and mean."""

from __future__ import annotations

import pytest

from asfound.history.checks_import import CASES, ZONES, checks
from asfound.history.importing import MemorySink, import_files


@pytest.mark.parametrize("check", list(checks()), ids=lambda check: check.check)
def test_a_known_import(check):
    assert check.holds, (check.value, check.published)


@pytest.mark.parametrize("case", ZONES)
def test_every_row_is_accounted_for(case):
    path = CASES / f"{case}.txt"
    report = import_files([path], MemorySink(), source=case, zone=ZONES[case])
    assert report.adds_up
    lines = path.read_bytes().count(b"\n")
    above = 4 if case == "log_eu_semicolon" else 1
    assert report.read + report.blank == lines - above


def test_refused_cells_are_kept_with_line_and_text():
    report = import_files([CASES / "log_us_comma.txt"], MemorySink(), source="x", zone="America/Chicago")
    cells = {(one.line, one.column, one.text, one.why) for one in report.refusals if one.kind == "cell"}
    assert cells == {
        (79, "Jacket Water", "I/O Timeout", "text in a column of numbers"),
        (80, "Jacket Water", "NaN", "no value"),
        (42, "Manifold Press", "-9999", "number that stands for no value"),
    }
    assert [one.count for one in report.refusals if one.text == "-9999"] == [2]
