"""Zoo (UCI, see data/README.md), ten-fold, against recorded figures of a plain prototype; the other sets:
benchmarks.
"""

from __future__ import annotations

import numpy as np
import pytest
from tests.evidence.open_data import load, misses, questions, recorded, run, then


def test_zoo_is_at_least_as_good_as_the_record():
    """Top-1, log loss, calibration error and number of looks, all looks together and one by one."""
    for way, ours in run("zoo").items():
        assert not misses(ours, then("zoo", way)), (way, ours)


@pytest.mark.parametrize(("steps", "name"), [(1, "one_step"), (2, "two_step")])
def test_zoo_tree_of_questions(steps, name):
    """Mean number of questions without error over the 59 distinct animals, looking one and two steps ahead."""
    states = np.unique(load("zoo").states, axis=0)
    assert questions(states, steps) == pytest.approx(recorded()["zoo_tree"][name], abs=1e-9)
