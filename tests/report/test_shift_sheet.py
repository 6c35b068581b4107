"""The half sheet for the shift: danger first, what the shift was asked to hold, nothing cut in mid-thought."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest

from asfound.quantities.words import Finding, Reading
from asfound.report.readers.spoken import spoken
from asfound.report.shift_sheet import SHORT, _short, operator
from asfound.report.wording import say

if TYPE_CHECKING:
    from asfound.records.visit import VisitView

SOUR = Finding(
    code="FU-16",
    subject="fuel",
    says="The gas holds more hydrogen sulfide than may be breathed: 900 ppm",
    severity="note",
    next_step="Detector on before a valve or a bottle is opened.",
    state="as_found",
)
FAIR = Finding(
    code="PW-15", subject="load", says="The load may be too low for a fair test", severity="soon", next_step="Ask.",
    state="as_found",
)  # fmt: skip


FIRST = "A first sentence that is long enough to stand alone."


def a_view(views: dict[str, VisitView]) -> VisitView:
    return next(iter(views.values()))


def test_a_gas_that_must_not_be_breathed_comes_first(views: dict[str, VisitView]) -> None:
    told = operator(replace(a_view(views), findings=(FAIR, SOUR)), "si")
    assert "hydrogen sulfide" in told["watch"][0]
    assert not any("fair test" in one for one in told["watch"]), "who measures next needs that, not the shift"


def test_an_open_point_of_the_shift_stands_on_it(views: dict[str, VisitView]) -> None:
    point = SimpleNamespace(content={"says": "Hold 1,000 kW", "who": "the shift", "done": False, "severity": "visit"})
    other = SimpleNamespace(content={"says": "Order leads", "who": "parts desk", "done": False, "severity": "visit"})
    watch = operator(replace(a_view(views), findings=(), open_points=(point, other)), "si")["watch"]
    assert watch[0] == "Hold 1,000 kW."
    assert not any("Order leads" in one for one in watch)


@pytest.mark.parametrize(
    ("text", "kept"),
    [
        ("Short.", "Short."),
        (f"{FIRST} {'x' * SHORT}", FIRST),
    ],
)
def test_a_line_ends_where_a_sentence_ends(text: str, kept: str) -> None:
    assert _short(text) == kept


def test_one_long_sentence_is_cut_at_a_word_and_says_so() -> None:
    assert _short("word " * 60).endswith("word … (more in the record)")


def test_a_gauge_reading_is_not_shown_as_absolute() -> None:
    """0.26 bar gauge is 26 kPa gauge: as absolute it would be a quarter of the air's own pressure."""
    one = Reading(
        quantity="manifold_pressure", place="left_bank", state="as_left", time="2032-11-05T19:15:00+01:00",
        value=26000.0, unit="Pa", as_typed="0.26 bar g", standard_uncertainty=1500.0, origin="measured", said_by="x",
        gauge=True,
    )  # fmt: skip
    assert say(one, "si").whole == "26.0 kPa g"
    assert "abs" in say(replace(one, gauge=False), "si").whole


def test_no_slash_and_no_cut_is_read_aloud() -> None:
    assert spoken("NOx 507 mg/m³(n) (477 to 538)") == "NOx 507 milligrams per cubic metre, 477 to 538."
    assert spoken("left at 26.0 kPa g") == "left at 26.0 kilopascals gauge."
