"""What the sheets say: headline, answers, numbers; every text ready for the typesetter."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from asfound.quantities.words import Finding
from asfound.records.standing import standing
from asfound.report.content import report_content
from asfound.report.content_judged import headline
from asfound.report.shift_sheet import operator
from asfound.report.wording import LONG, breakable, clean, day_words

if TYPE_CHECKING:
    from asfound.records.visit import VisitView

STOP = Finding(
    code="ZZ-01",
    subject="other",
    says="Oil pressure is below the stop",
    severity="stop",
    next_step="Stop it now.",
    state="as_left",
)


def test_is_plain_json(views: dict[str, VisitView]) -> None:
    for view in views.values():
        content = report_content(view, proof=False)
        assert json.loads(json.dumps(content, allow_nan=False)) == content


def test_headline_follows_what_stands(views: dict[str, VisitView]) -> None:
    a2 = views["a2"]
    assert headline(a2).startswith("A2 is inside its limits again.")
    assert "Moldrevane" in headline(a2)
    stopped = replace(a2, findings=(STOP, *a2.findings))
    assert headline(stopped).startswith("A2 needs a hand before it runs on.")
    content = report_content(stopped, proof=False)
    assert content["answers"][0]["answer"].startswith("No. Oil pressure is below the stop")
    assert operator(stopped, "us")["big"] == "A2 must not run on."
    assert operator(stopped, "us")["watch"][0].startswith("Oil pressure")


def test_what_was_taken_again_as_left_no_longer_stands(views: dict[str, VisitView]) -> None:
    codes = {(one.code, one.state) for one in views["a2"].findings}
    assert ("EX-02", "as_found") in codes
    assert not [one for one in standing(views["a2"]) if one.code == "EX-02"]


def test_permit_is_answered_as_left_with_its_numbers(views: dict[str, VisitView]) -> None:
    answer = report_content(views["a2"], proof=False)["answers"][1]["answer"]
    assert "As left yes: NOx per energy 0.5" in answer
    assert "of 1.0 g/hp-h" in answer


def test_units_of_the_reader(views: dict[str, VisitView]) -> None:
    us, si = (report_content(views["a2"], system=s, proof=False) for s in ("us", "si"))  # type: ignore[arg-type]
    power = [next(r for r in c["ledger"] if r["name"] == "Engine power")["found"]["unit"] for c in (us, si)]
    assert power == ["hp", "kW"]
    nox = next(r for r in us["ledger"] if r["name"].startswith("NOx per energy"))
    assert nox["left"]["interval"].count(" to ") == 1


def test_readings_stay_as_typed(views: dict[str, VisitView]) -> None:
    rows = [row for table in report_content(views["a2"], proof=False)["readings"] for row in table["rows"]]
    typed = {row["found"]["value"] for row in rows if row["found"]}
    assert {"8.9 %", "151 ppm", "12,571 scf/h"} <= typed
    nox = next(row for row in rows if row["name"].startswith("NOx"))
    assert nox["doubt"] == "± 5 % of reading"
    assert nox["difference"].startswith("−67")


def test_a_trail_ends_in_readings_and_its_shares_add_up(views: dict[str, VisitView]) -> None:
    trails = report_content(views["a2"], proof=False)["trails"]
    assert trails[0]["title"].startswith("NOx per energy")
    rows = trails[0]["rows"]
    assert rows[0]["depth"] == 0
    assert trails[0]["both"]
    assert {row["kind"] for row in rows} <= {"computed", "read", "assumed"}
    shares = [
        int(row["percent"].split()[0]) for row in rows if row["percent"] and not row["percent"].startswith("under")
    ]
    assert 85 <= sum(shares) <= 103


def test_sources_are_numbered_in_order_of_use(views: dict[str, VisitView]) -> None:
    content = report_content(views["a2"], proof=False)
    tables = [table for room in content["rooms"].values() for table in room["tables"]] + content["results"]
    used = [int(row["source"].strip("[]")) for table in tables for row in table["rows"] if row["source"]]
    limits = [int(one["source"].strip("[]")) for one in content["limits"] if one["source"]]
    assert min(used + limits) == 1
    assert max(used) <= len(content["sources"])
    assert any("40 CFR 60.4244" in one for one in content["sources"])
    assert any("Permit of A2" in one for one in content["sources"])


def test_published_values_are_counted(views: dict[str, VisitView]) -> None:
    proof = report_content(views["a2"])["proof"]
    assert int(proof["count"]) >= 20
    assert proof["missed"] == str(sum(int(row["missed"]) for row in proof["rows"]))


def test_belief_keeps_the_unknown_in_sight(views: dict[str, VisitView]) -> None:
    belief = report_content(views["a2"], proof=False)["belief"]
    assert "not in the catalogue" in {row["title"].lower() for row in belief["builds"]}
    numbers = [int(place["number"]) for place in belief["places"]]
    assert numbers == sorted(numbers)
    assert belief["contradictions"]


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("8,5 % \u2212 3", "8,5 % \u2212 3"),
        ("\x07bell\ttab\nline", "bell tab line"),
        ("a\u202eb\u200fc", "abc"),
        ("e\u0301", "é"),
        ("\U0001f600", "[U+1F600]"),
        ("\ufe0f", ""),
        ("λ and Ж", "λ and Ж"),
        ("汉", "[U+6C49]"),
    ],
)
def test_signs_that_no_face_has_are_written_out(given: str, said: str) -> None:
    assert clean(given) == said


def test_long_words_may_break_and_lose_nothing() -> None:
    for word in ("x" * 200, "short", "a" * LONG, "two " + "y" * 40):
        assert breakable(word).replace("\u200b", "") == word
    assert max(len(part) for part in breakable("z" * 300).split("\u200b")) <= 8


def test_dates_in_words() -> None:
    assert day_words("2032-07-08T09:00:00-06:00") == "8 July 2032"
    assert day_words("soon") == "soon"


def test_pictures_of_a_sheet_carry_their_colours(views: dict[str, VisitView]) -> None:
    def pictures(value: Any) -> list[str]:
        if isinstance(value, dict):
            return [v for k, v in value.items() if k.endswith("svg") and v] + [
                p for k, v in value.items() if not k.endswith("svg") for p in pictures(v)
            ]
        return [p for one in value for p in pictures(one)] if isinstance(value, list) else []

    found = pictures(report_content(views["a2"], proof=False))
    assert len(found) > 30
    for one in found:
        assert "var(" not in one
        assert "currentColor" not in one
        assert 'style="' not in one
