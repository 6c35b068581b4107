"""A page asks the same question again and again: an answer is kept."""

from __future__ import annotations

from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.identify import identify
from asfound.fitout.observations import story


def test_the_same_question_is_answered_from_what_is_kept():
    catalogue, one = load_catalogue(), story("a2")
    assert identify(catalogue, one.engine, one.looks) is identify(catalogue, one.engine, one.looks)
