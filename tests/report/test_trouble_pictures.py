"""Fork and lines of belief: nothing touches or is cut at any width, the likelier answer is heavier."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.report import svg

from .boxes import check, parse, words

BRANCHES = (
    svg.Branch(
        "Work, gas or load changed shortly before",
        "44 in 100 to happen",
        False,
        (
            svg.Outcome("Heavier or lower-methane-number fuel gas", 0.84, "lead"),
            svg.Outcome("Mixture control holds too rich", 0.08, "second"),
        ),
    ),
    svg.Branch("Not so", "56 in 100 to happen", True, (svg.Outcome("Load above the site rating", 0.001, "rest"),)),
)
STEPS = ["start", "Detonation (knock) indicated or heard", "High exhaust temperature in all cylinders", "no backfire"]
LINES = (
    svg.Line("Heavier or lower-methane-number fuel gas", (0.01, 0.2, 0.31, 0.40), "lead"),
    svg.Line("Mixture too rich", (0.02, 0.1, 0.3, 0.39), "second"),
    svg.Line("Load above the site rating", (0.01, 0.15, 0.2, 0.385), "rest"),
    svg.Line("Something else, or more than one", (0.05, 0.05, 0.03, 0.02), "none"),
)
WIDTHS = [300.0, 340.0, 520.0, 680.0, 900.0]


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("paper", [False, True])
def test_no_word_touches_another_or_is_cut(width: float, paper: bool) -> None:
    for picture in (
        svg.belief_fork(BRANCHES, label="x", width=width, paper=paper),
        svg.belief_steps(LINES, STEPS, label="x", width=width, paper=paper),
        svg.belief_steps(LINES, [str(i) for i in range(4)], label="x", width=width, paper=paper),
    ):
        if paper:
            assert "<style>" in picture
        check(picture)


def test_the_likelier_answer_has_the_heavier_curve_and_every_chance_is_written() -> None:
    picture = svg.belief_fork(BRANCHES, label="Two answers.")
    kinds = [node.attrib.get("class", "") for node in parse(picture).iter("path")]
    assert kinds == ["ink", "heavy"]
    said = {one.text for one in words(picture)}
    assert {"84", "8", "<1", "44 in 100 to happen"} <= said
    assert 'aria-label="Two answers."' in picture


def test_each_line_of_belief_goes_through_its_values_and_is_named_at_its_end() -> None:
    picture = svg.belief_steps(LINES, STEPS, label="x", width=900)
    for one in LINES:
        assert f'class="bl-{one.rank}"' in picture
    assert picture.count('class="bd-lead"') == len(STEPS)
    said = " ".join(one.text for one in words(picture))
    for ending in ("40", "39", "38", "2"):
        assert ending in said
    assert "start" in said


def test_many_steps_are_numbered() -> None:
    lines = [svg.Line("a cause", tuple(i / 60 for i in range(50)), "lead")]
    picture = svg.belief_steps(lines, [f"step with a long name {i}" for i in range(50)], label="x", width=680)
    check(picture)
    assert "long name" not in picture


@given(
    st.lists(st.floats(0, 1), min_size=1, max_size=5),
    st.lists(st.text("abcdefgh ", min_size=1, max_size=70), min_size=1, max_size=5),
    st.sampled_from(WIDTHS),
    st.integers(1, 14),
)
@settings(max_examples=60)
def test_any_belief_finds_room(shares: list[float], titles: list[str], width: float, steps: int) -> None:
    ranks = ("lead", "second", "rest", "rest", "none")
    chances = [shares[i % len(shares)] for i in range(len(titles))]
    outcomes = tuple(svg.Outcome(t, p, r) for t, p, r in zip(titles, chances, ranks, strict=False))  # type: ignore[arg-type]
    branches = [svg.Branch(t, "50 in 100 to happen", at == 0, outcomes) for at, t in enumerate(titles[:2])]
    check(svg.belief_fork(branches, label="x", width=width))
    lines = [
        svg.Line(t, tuple(p if i % 2 else 1 - p for i in range(steps)), r)  # type: ignore[arg-type]
        for t, p, r in zip(titles, chances, ranks, strict=False)
    ]
    check(svg.belief_steps(lines, [titles[0]] * steps, label="x", width=width))
