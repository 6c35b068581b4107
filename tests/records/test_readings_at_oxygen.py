"""Readings typed with a level of oxygen: it is kept, shown, and the numbers of the visit are put on one level."""

from __future__ import annotations

import pytest

from asfound.quantities.parse import parse_amount
from asfound.records.visit import view

NAME, KEY = "nox_at_reference_oxygen", "as_found/stack/nox_at_reference_oxygen"


def begun(records, begin, reading, text, *, level="", more=None):
    """Return a visit with one such reading, and the level of the permit where one is given."""
    _, visit = begin(records)
    amount = parse_amount(text, quantity=NAME, decimal=".")
    content = reading(NAME, amount.value, text, place="stack") | (more or {})
    records.append("reading", content, visit=visit)
    if level:
        share = float(level.split()[0]) / 100
        records.append("reading", reading("permit_reference_oxygen", share, level, place="engine"), visit=visit)
    return view(records, visit)


@pytest.mark.parametrize("more", [{"reference_oxygen": 0.03}, None], ids=["kept beside it", "only in its text"])
def test_a_reading_at_another_level_is_put_on_that_of_the_permit(records, begin, reading, more):
    """90 ppm at 3 % are 80 ppm at 5 %: (20.9 - 5) / (20.9 - 3), 40 CFR 60.4213 Eq. 3."""
    seen = begun(records, begin, reading, "90 ppm at 3 % O2", level="5 %", more=more)
    kept, used = seen.readings[KEY], next(one for one in seen.worked.readings if one.key == KEY)
    assert used.value == pytest.approx(90e-6 * (20.9 - 5) / (20.9 - 3))
    assert used.value == pytest.approx(79.95e-6, rel=1e-3)
    assert "taken at 3 % O2, counted here at 5 %" in used.said_by
    assert kept.reference_oxygen == pytest.approx(0.03)
    assert kept.value == pytest.approx(90e-6)  # what was typed stays what was typed
    assert kept.as_typed == "90 ppm at 3 % O2"


def test_without_a_permit_it_is_put_on_the_level_that_the_program_assumes(records, begin, reading):
    seen = begun(records, begin, reading, "90 ppm @ 3 % O2")
    used = next(one for one in seen.worked.readings if one.key == KEY)
    assert used.value == pytest.approx(90e-6 * (20.9 - 15) / (20.9 - 3))


@pytest.mark.parametrize("text", ["90 ppm", "90 ppm at 15 % O2"])
def test_at_the_level_of_the_visit_nothing_changes(records, begin, reading, text):
    seen = begun(records, begin, reading, text, level="15 %")
    used = next(one for one in seen.worked.readings if one.key == KEY)
    assert used.value == pytest.approx(90e-6, rel=1e-12)
    assert "counted here" not in used.said_by
