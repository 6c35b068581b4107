"""A page recomputes the whole identification at every tap: it must not be felt."""

from __future__ import annotations

from dataclasses import replace
from time import process_time

import pytest

from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.identify import identify
from asfound.fitout.observations import story


@pytest.mark.parametrize(("name", "allowed"), [("a2", 0.040), ("a1", 0.070), ("n1", 0.070), ("d2", 0.070)])
def test_identification_is_not_felt(name, allowed):
    """Least processor time of fifteen runs, each with another note so that no kept answer is given.

    Aim: 20 ms for A2, 35 ms for the others; twice that is allowed, because tests run beside other work.
    """
    catalogue, one = load_catalogue(), story(name)
    identify(catalogue, one.engine, one.looks)  # makes the model
    times = []
    for n in range(15):
        looks = (*one.looks[:-1], replace(one.looks[-1], note=f"run {n}"))
        start = process_time()
        identify(catalogue, one.engine, looks)
        times.append(process_time() - start)
    assert min(times) < allowed


def test_the_same_question_is_answered_from_what_is_kept():
    catalogue, one = load_catalogue(), story("a2")
    assert identify(catalogue, one.engine, one.looks) is identify(catalogue, one.engine, one.looks)
