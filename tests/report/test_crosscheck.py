"""The drawings and words of the cross-check: what is struck, what is dashed, nothing touches, nothing is claimed."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.crosscheck.cross_check import cross_check
from asfound.crosscheck.outcome import CrossCheck
from asfound.crosscheck.visit_cases import VisitCase, visit_cases
from asfound.report import svg
from asfound.report.content_crosscheck_rows import rows_of
from asfound.report.content_crosscheck_words import answer_of, more_of
from asfound.report.crosscheck_lane import AGREES, crosscheck_lane, window
from asfound.report.crosscheck_net import Balance, Node, ordered
from asfound.report.crosscheck_numbers import difference, said_of

from .boxes import check, parse, words

NODES = [Node("a", "Fuel flow", "suspect"), Node("b", "Intake manifold pressure"), Node("c", "Speed", "maybe")]
TAGS = [
    Balance("one", "Charge that the cylinders draw in", "closes", True),
    Balance("two", "Fuel from its flow at base conditions", "does not close", False),
    Balance("three", "Engine power as read", "nothing tells", None),
]
LINKS = [("a", "two"), ("b", "one"), ("c", "two"), ("c", "three")]


@pytest.mark.parametrize("width", [330.0, 470.0, 540.0, 680.0])
@pytest.mark.parametrize("paper", [False, True])
def test_no_word_of_the_net_touches_another_or_is_cut(width: float, paper: bool) -> None:
    picture = svg.crosscheck_net(NODES, TAGS, LINKS, label="Three readings.", width=width, paper=paper)
    check(picture)
    assert {"closes", "does not close", "nothing tells"} <= {one.text for one in words(picture)}


def test_what_does_not_close_is_dashed_and_the_one_that_lies_is_struck_out() -> None:
    picture = svg.crosscheck_net(NODES, TAGS, LINKS, label="Three readings.")
    kinds = [node.attrib.get("class", "") for node in parse(picture).iter()]
    assert kinds.count("clashbox") == 1
    assert kinds.count("openpart") == 1
    assert kinds.count("inkf") == 1
    assert kinds.count("clashring") == 2, "the one that lies, and the one that cannot be told apart from it"
    assert kinds.count("clashline") == 2, "its curve to the open balance, and the stroke through it"
    assert kinds.count("clashline dash") == 1
    assert 'aria-label="Three readings."' in picture


def test_readings_as_left_are_discs_and_what_nobody_read_is_a_square() -> None:
    nodes = [Node("a", "Fuel flow"), Node("b", "Volumetric efficiency", assumed=True)]
    picture = svg.crosscheck_net(nodes, TAGS[:1], [("a", "one"), ("b", "one")], label="x", state="as_left")
    assert 'class="disc"' in picture
    assert 'class="ring"' not in picture
    assert picture.count('class="inkf"') == 2


def test_suspects_and_open_balances_come_first_and_the_same_data_give_the_same_picture() -> None:
    left, right = ordered(list(reversed(NODES)), list(reversed(TAGS)), LINKS)
    assert [one.name for one in left][:2] == ["a", "c"]
    assert right[0].name == "two"
    pictures = {svg.crosscheck_net(NODES, TAGS, links, label="x") for links in (LINKS, LINKS[::-1], LINKS * 2)}
    assert len(pictures) == 1


@given(
    st.lists(st.text("abcdefgh ", min_size=1, max_size=60), min_size=1, max_size=12),
    st.lists(st.text("abcdefgh ", min_size=1, max_size=60), min_size=1, max_size=9),
    st.sampled_from([330.0, 540.0]),
)
@settings(max_examples=40)
def test_any_titles_find_room(titles: list[str], balances: list[str], width: float) -> None:
    nodes = [Node(str(at), one) for at, one in enumerate(titles)]
    tags = [Balance(f"t{at}", one, "closes", at % 2 == 0) for at, one in enumerate(balances)]
    links = [(str(at), f"t{at % len(tags)}") for at in range(len(nodes))]
    check(svg.crosscheck_net(nodes, tags, links, label="x", width=width))


def places(picture: str, kind: str) -> list[float]:
    found = re.findall(rf'class="{kind}" cx="([\d.]+)', picture)
    return [float(one) for one in found]


@given(st.floats(-30, 30), st.floats(0.0, 3.0))
def test_a_mark_stands_inside_the_band_exactly_when_it_agrees(distance: float, own: float) -> None:
    picture = crosscheck_lane(distance, own, reach=6.0)
    (x,) = places(picture, "ring")
    low, high = 50 * (1 - AGREES / 6), 50 * (1 + AGREES / 6)
    assert 0 <= x <= 100
    assert (low - 0.01 <= x <= high + 0.01) == (abs(distance) <= AGREES + 0.001)
    assert ("dash" in picture) == (abs(distance) > AGREES)


def test_what_nothing_checks_has_no_mark_and_no_band() -> None:
    for picture in (crosscheck_lane(math.nan, 0.0, reach=4.0), crosscheck_lane(0.5, 0.1, reach=4.0, kind="none")):
        assert "circle" not in picture
        assert "agree" not in picture
        assert "dash" in picture


def test_lanes_of_one_list_share_a_scale_that_ends_somewhere() -> None:
    assert window([]) == window([math.nan, 0.3]) == 4.0
    assert window([5.0, -2.0]) == pytest.approx(6.2)
    assert window([400.0]) == 9.0
    paper = crosscheck_lane(2.5, 0.4, reach=5.0, width=200, paper=True)
    assert parse(paper).attrib["viewBox"] == "0 0 200 20"
    assert places(paper, "ring") == [150.0]


# ---------------------------------------------------------------------- words, on the visits of the reference


def checked(one: VisitCase) -> CrossCheck:
    found = cross_check(one.plant, one.names, one.values, _squared(one), known=one.known)
    assert found is not None
    return found


def _squared(one: VisitCase):  # type: ignore[no-untyped-def]
    import numpy as np

    return np.diag(one.u**2)


@pytest.fixture(scope="module")
def reference() -> list[CrossCheck]:
    return [checked(one) for one in visit_cases()[:6]]


def all_rows(found: list[CrossCheck]) -> Iterator[tuple[CrossCheck, str]]:
    for one in found:
        for row in rows_of(one, "us")[0]:
            yield one, row.says


def test_the_answer_names_one_only_where_it_can_be_told(reference: list[CrossCheck]) -> None:
    for found in reference:
        answer = answer_of(found, "si")
        if found.verdict == "nobody":
            assert answer.says.startswith("Nothing contradicts")
            assert "no proof" in answer.because[-1]
            assert answer.candidates == ()
        elif found.told_apart:
            assert answer.kind in ("one", "two")
            assert found.named[0].title.lower() in f"{answer.says} {' '.join(answer.because)}".lower()
        else:
            assert "cannot" in answer.says or "not proved" in answer.says


def test_all_words_are_sentences_without_loose_ends(reference: list[CrossCheck]) -> None:
    for found in reference:
        answer = answer_of(found, "si")
        for said in (answer.says, *answer.because, answer.in_one, *(one.says for one in more_of(found))):
            assert said.endswith((".", "?")), said
            assert "nan" not in said.split()
            assert ".." not in said
    for _, says in all_rows(reference):
        assert says[0].isupper() or says[0].isdigit()
        assert "inf" not in says.split()


def test_no_row_that_nothing_checks_is_said_to_agree(reference: list[CrossCheck]) -> None:
    seen = 0
    for found in reference:
        for row in rows_of(found, "si")[0]:
            if row.others is None:
                seen += 1
                assert row.verdict in ("not_checked", "in_effect_not_checked")
                assert "othing checks it" in row.says
                assert row.lane["kind"] == "none"
    assert seen > 0


def test_a_difference_has_the_factor_of_its_unit_and_never_the_offset(reference: list[CrossCheck]) -> None:
    one = next(row for row in reference[0].readings if row.unit == "K" and not row.assumed)
    assert difference(one, 10.0, "si") == "10 K"
    assert difference(one, 10.0, "us") == "18 °F"
    pressure = next(row for row in reference[0].readings if row.name == "barometric_pressure")
    assert difference(pressure, 3386.389, "us").startswith("1.0 ")


def test_the_interval_shown_holds_the_value_shown(reference: list[CrossCheck]) -> None:
    def number(text: str) -> float:
        return float(text.replace(",", "").replace("\N{MINUS SIGN}", "-"))

    for found in reference[:2]:
        for one in found.readings:
            for system in ("si", "us"):
                said = said_of(one, one.value, one.u, system)  # type: ignore[arg-type]
                low, high = (number(end) for end in said.interval.split(" to "))
                assert low <= number(said.value) <= high, (one.name, said)


def test_leaving_a_mark_out_of_what_can_be_told_does_not_name_it(reference: list[CrossCheck]) -> None:
    lying = next((one for one in reference if one.verdict == "one"), None)
    assert lying is not None
    unsure = replace(lying, told_apart=False)
    parts = {row.part for row in rows_of(unsure, "si")[0]}
    assert "suspect" not in parts
    assert "maybe" in parts
