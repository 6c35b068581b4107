"""Labels read in part. No published table for this: the laws below, and one case worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.fitout.labels import ADDED, GONE, MISREAD, label_likelihood, label_likelihoods

PATTERNS = ("M999999", "MD999999", "T-99999", "PK9999999", "V9999A", "V9999k", "Y9999")


def test_the_partly_read_label_of_a2_fits_the_shorter_pattern_better():
    plain, filled = label_likelihood("M.2?..6", "M999999"), label_likelihood("M.2?..6", "MD999999")
    assert 2 < plain / filled < 8


def test_a_whole_label_decides():
    chances = label_likelihoods("MD204117", {one: (one,) for one in PATTERNS})
    assert chances["MD999999"] == 1.0
    assert all(value < 1e-3 for name, value in chances.items() if name not in ("MD999999", ""))


def test_one_character_worked_by_hand():
    """One digit against one digit place: 1 in 10 if read right, else any of 36 (misreading).

    The chance of passing the place over and taking the digit for dirt adds 2e-3 x 2e-3 / 36 twice: below a part in 1e5.
    """
    assert label_likelihood("7", "9") == pytest.approx((1 - MISREAD) / 10 + MISREAD / 36, rel=1e-5)
    assert label_likelihood("?", "9") == pytest.approx(1.0)
    assert label_likelihood(".", "9") == pytest.approx(
        GONE[1] + 2 * GONE[0] * ADDED, rel=1e-9
    )  # passed over before or after


def test_a_revision_letter_is_not_the_k_of_the_short_build():
    k = label_likelihoods("V2017k", {"r": ("V9999A",), "k": ("V9999k",)})
    c = label_likelihoods("V2017C", {"r": ("V9999A",), "k": ("V9999k",)})
    assert k["k"] > 20 * k["r"]
    assert c["r"] > 20 * c["k"]


def test_nothing_of_the_catalogue_fits_a_foreign_label():
    chances = label_likelihoods("ZX-88/QQ", {one: (one,) for one in PATTERNS})
    assert chances[""] == 1.0


@given(st.sampled_from(PATTERNS), st.data())
def test_more_question_marks_never_make_a_true_label_less_likely(pattern, data):
    label = "".join(
        data.draw(st.sampled_from("0123456789"))
        if c == "9"
        else data.draw(st.sampled_from("ABCDEF"))
        if c == "A"
        else c
        for c in pattern
    )
    place = data.draw(st.integers(0, len(label) - 1))
    hidden = label[:place] + "?" + label[place + 1 :]
    assert label_likelihood(hidden, pattern) >= label_likelihood(label, pattern) - 1e-12


@given(st.text(alphabet="MDTPKVY0123456789?.- ", max_size=12))
def test_every_text_has_a_chance_between_nothing_and_one(text):
    chances = label_likelihoods(text, {one: (one,) for one in PATTERNS})
    assert max(chances.values()) == 1.0
    assert all(0.0 <= one <= 1.0 for one in chances.values())
