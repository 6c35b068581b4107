"""Findings of a trouble that a repair has cured ask for no hand any more; those of anything else still do."""

from __future__ import annotations

from dataclasses import replace

import pytest

from asfound.quantities.words import Finding, Severity, State
from asfound.troubleshoot import generic
from asfound.troubleshoot.cured import cylinder_of, spoke_of_what_was_cured
from asfound.troubleshoot.told import ClosedSaid, Said, Told

CLOSED = ClosedSaid(cause="c_coil", confirmed="cured", entry="9")
COIL = Told(said=(Said(about="t_coil_swap", says="positive", place="L2", entry="1"),), closed=CLOSED)


def cold(
    place: str = "cylinder_L2", code: str = "CY-10", state: State = "as_found", severity: Severity = "visit"
) -> Finding:
    key = f"as_found/{place}/cylinder_exhaust_temperature"
    return Finding(
        code=code, subject="cylinders", says="-", severity=severity, next_step="-", state=state, because=(key,)
    )


def test_a_cold_cylinder_whose_coil_was_renewed_is_settled() -> None:
    """A failed coil leaves its cylinder cold and its spark weak; common practice, no source."""
    assert spoke_of_what_was_cured(cold(), COIL, generic())
    assert spoke_of_what_was_cured(cold(code="CY-30"), COIL, generic())


@pytest.mark.parametrize(
    ("finding", "told"),
    [
        pytest.param(cold("cylinder_R4"), COIL, id="another cylinder"),
        pytest.param(cold(state="as_left"), COIL, id="as left: it came after"),
        pytest.param(cold(severity="stop"), COIL, id="a stop is lifted by a person only"),
        pytest.param(cold(code="CY-21"), COIL, id="a hot bearing is not a coil's"),
        pytest.param(cold(code="FT-03"), COIL, id="a finding that no trouble knows"),
        pytest.param(cold(), replace(COIL, closed=replace(CLOSED, confirmed="believed")), id="believed, not cured"),
        pytest.param(cold(), replace(COIL, closed=replace(CLOSED, confirmed="seen")), id="seen, not cured"),
        pytest.param(cold(), replace(COIL, closed=replace(CLOSED, cause="other")), id="something else"),
        pytest.param(cold(), replace(COIL, closed=None), id="still open"),
    ],
)
def test_all_else_still_asks_for_a_hand(finding: Finding, told: Told) -> None:
    assert not spoke_of_what_was_cured(finding, told, generic())


def test_the_cylinder_of_a_finding() -> None:
    assert cylinder_of(cold()) == "L2"
    assert cylinder_of(replace(cold(), because=("as_found/engine/load_fraction",))) == ""
    assert cylinder_of(replace(cold(), because=("01c9",), extra={"place": "cylinder_7"})) == "7"


def test_words_of_a_test_that_is_not_positive_deny_it_once() -> None:
    """'Not: nothing else agrees' is read either way; each test whose positive answer denies says what else shows."""
    for one in generic().tests.values():
        denies = any(word in f" {one.positive} " for word in (" not ", " no ", " nothing "))
        assert one.negative or not denies or one.id == "t_start_signal", one.id
