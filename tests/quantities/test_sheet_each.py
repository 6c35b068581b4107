"""A worksheet takes one quantity from several places at once: stages of a compressor, runs of a test, cylinders."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.quantities.worksheets import Take

from .sheet_world import World, not_negative, reading

STAGES = Take(quantity="a", place="stage_*", each=True)


def sum_of_stages(stages):
    """Return the sum over the stages."""
    return np.sum(stages, axis=0)


def last_less_first(stages):
    """Return the last place less the first."""
    return np.asarray(stages)[-1] - np.asarray(stages)[0]


def twice(b):
    """Return twice the other."""
    return 2.0 * b


def mean_of_runs(runs):
    """Return the mean of the runs."""
    return np.mean(runs, axis=0)


def summing(**how):
    """Return a world whose stages are summed, each from its own reading or from twice another."""
    take = Take(quantity="a", place="stage_*", each=True, **how)
    return World().add(sum_of_stages, takes=(take,), gives="total", at="engine").add(twice, takes=("b",), gives="a")


def test_the_sum_is_of_all_stages_read_or_worked_out():
    worked = summing().work_out(reading("a", 3.0, place="stage_1"), reading("b", 5.0, place="stage_2"))
    total = worked.result("as_found/engine/total")
    assert total.value == 13.0
    assert [one.key for one in total.inputs] == ["as_found/stage_1/a", "as_found/stage_2/a"]
    assert total.standard_uncertainty == pytest.approx(np.hypot(0.1, 0.2), rel=0.05)
    assert dict(worked.shares(total)).keys() == {"as_found/stage_1/a", "as_found/stage_2/b"}


def test_a_stage_that_lacks_its_reading_is_missing_not_left_out():
    world = summing()
    worked = world.work_out(reading("a", 3.0, place="stage_1"), reading("c", 5.0, place="stage_2"))
    assert worked.result("as_found/engine/total") is None
    assert [one.quantities for one in worked.missing if one.worksheet == "sum_of_stages"] == [("a",)]


def test_some_places_are_enough_where_it_says_so():
    worked = summing(some=True).work_out(reading("a", 3.0, place="stage_1"), reading("c", 5.0, place="stage_2"))
    assert worked.result("as_found/engine/total").value == 3.0


def test_a_place_outside_the_pattern_is_not_taken():
    worked = summing().work_out(reading("a", 3.0, place="stage_1"), reading("a", 50.0, place="engine"))
    assert worked.result("as_found/engine/total").value == 3.0


def test_places_come_in_the_order_of_their_numbers():
    world = World().add(last_less_first, takes=(STAGES,), gives="total", at="engine")
    worked = world.work_out(*(reading("a", n, place=f"stage_{n}") for n in (10, 2, 1, 9)))
    assert worked.result("as_found/engine/total").value == 9.0


def test_exact_readings_need_no_draws():
    worked = summing().work_out(*(reading("a", n, u=0.0, place=f"stage_{n}") for n in (1, 2)))
    total = worked.result("as_found/engine/total")
    assert (total.value, total.interval) == (3.0, (3.0, 3.0))


def test_the_mean_of_the_runs_is_of_the_same_quantity():
    world = (
        World()
        .add(mean_of_runs, takes=(Take(quantity="a", place="run_*", each=True),), gives="a", at="engine")
        .add(twice, takes=("b",), gives="a")
    )
    worked = world.work_out(*(reading("b", n, place=f"run_{n}") for n in (1, 2, 3)))
    assert worked.result("as_found/engine/a").value == 4.0
    assert len(worked.result("as_found/engine/a").inputs) == 3


def test_what_one_place_holds_can_be_refused():
    take = Take(quantity="a", place="stage_*", each=True)
    world = World().add(
        sum_of_stages, takes=(take,), gives="total", at="engine", refuses={"a": not_negative}, valid={"a": (0, 4, "4")}
    )
    worked = world.work_out(reading("a", 3.0, place="stage_1"), reading("a", -2.0, place="stage_2"))
    assert worked.refused[0].error.field == "as_found/stage_2/a"
    beyond = world.work_out(reading("a", 3.0, place="stage_1"), reading("a", 5.0, place="stage_2"))
    assert "outside" in beyond.result("as_found/engine/total").outside[0]


def test_each_state_has_its_own():
    worked = summing().work_out(
        reading("a", 3.0, place="stage_1"),
        reading("a", 4.0, place="stage_2"),
        reading("a", 5.0, place="stage_1", state="as_left"),
    )
    assert worked.result("as_found/engine/total").value == 7.0
    assert worked.result("as_left/engine/total").value == 5.0


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=6))
def test_a_sum_is_the_sum(values):
    worked = summing().work_out(*(reading("a", v, place=f"stage_{n}") for n, v in enumerate(values)), number=10)
    assert worked.result("as_found/engine/total").value == pytest.approx(sum(values), abs=1e-6)


def test_a_pattern_without_each_is_no_take():
    with pytest.raises(ValueError, match="several places"):
        World().add(sum_of_stages, takes=(Take(quantity="a", place="stage_*"),), gives="total")
