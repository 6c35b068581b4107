"""The sheet: finding inputs, order, states, gauge pressures, what is missing, refused, outside or without answer."""

import math
from dataclasses import asdict, replace

import numpy as np
import pytest

from asfound.errors import InputError, UnknownNameError
from asfound.quantities.sheet import chance_by_count
from asfound.quantities.words import Limit, Result
from asfound.quantities.worksheets import Take

from .sheet_world import ASSUMED_C, KINDS, World, density, not_negative, product, reading, root, simple, total


def keys(worked):
    return [one.key for one in worked.results]


def test_results_come_in_the_order_of_their_dependence_with_their_trail():
    worked = simple().work_out(reading("a", 2), reading("b", 1))
    assert keys(worked) == ["as_found/stack/total", "as_found/stack/product", "as_found/stack/root"]
    found = worked.result("as_found/stack/product")
    assert found.value == 12.0
    assert [depth for depth, _ in found.walk()] == [0, 1, 2, 2, 1]
    assert found.inputs[0] is worked.result("as_found/stack/total")


def test_an_assumed_input_is_marked_with_its_source_and_is_the_same_in_both_states():
    readings = [reading(q, 2, state=s) for q in "ab" for s in ("as_found", "as_left")]
    worked = simple().work_out(*readings)
    found, left = (worked.result(f"{state}/stack/product") for state in ("as_found", "as_left"))
    assert [one.value for one in found.assumed] == [3.0]
    assert found.assumed[0].origin == "assumed"
    assert "engineering_judgement" in found.assumed[0].said_by
    assert np.array_equal(worked.draws(found.assumed[0]), worked.draws(left.assumed[0]))


def test_a_reading_goes_before_what_would_be_assumed_or_worked_out():
    worked = simple().work_out(reading("a", 2), reading("b", 1), reading("c", 5), reading("total", 10))
    assert worked.result("as_found/stack/product").value == 50.0
    assert worked.result("as_found/stack/total").value == 4.0  # stands beside the reading, for whoever compares


def test_inputs_are_looked_for_here_then_wider():
    worked = simple().work_out(
        reading("a", 1), reading("a", 2, place="left_bank"), reading("b", 10, place="engine"), reading("b", 3)
    )
    assert worked.result("as_found/stack/total").value == 7.0
    assert worked.result("as_found/left_bank/total").value == 22.0
    assert worked.result("as_found/engine/total") is None


def test_a_fixed_place_and_a_place_for_results_without_one():
    world = World().add(total, takes=(Take(quantity="a", place="fuel"), Take(quantity="b")), gives="total")
    world.add(root, takes=(Take(quantity="a", place="fuel"),), gives="root", at="fuel")
    worked = world.work_out(reading("a", 4, place="fuel"), reading("b", 1, place="stack"))
    assert keys(worked) == ["as_found/stack/total", "as_found/fuel/root"]


def test_only_what_carries_is_taken_from_the_other_state():
    world = World().add(total, takes=("a", "height"), gives="total").add(product, takes=("a", "b"), gives="product")
    worked = world.work_out(
        reading("a", 1, state="as_left"), reading("height", 5, place="site"), reading("b", 2, place="site")
    )
    assert keys(worked) == ["as_left/stack/total"]
    assert worked.result("as_left/stack/total").inputs[1].state == "as_found"
    left = [one for one in worked.missing if one.state == "as_left"]
    assert [(one.worksheet, one.quantities, one.found) for one in left] == [("product", ("b",), ("a",))]


def test_what_is_missing_is_asked_for_where_something_lies_already():
    worked = simple().work_out(reading("a", 1), reading("b", 1, place="site"), reading("a", 1, place="left_bank"))
    assert [(one.worksheet, one.place, one.quantities) for one in worked.missing] == []
    alone = simple().work_out(reading("b", 1, place="site"))
    assert [(one.place, one.quantities, one.found) for one in alone.missing] == [("site", ("a",), ("b",))]


def test_an_optional_input_has_its_default():
    world = World().add(total, takes=("a", Take(quantity="b", optional=True, default=4.0)), gives="total")
    assert world.work_out(reading("a", 1)).results[0].value == 9.0
    assert world.work_out(reading("a", 1), reading("b", 1)).results[0].value == 3.0


def test_a_gauge_pressure_gets_the_barometer_of_its_state_draw_by_draw():
    world = World().add(density, takes=("pressure", "c"), gives="density")
    given = [reading("pressure", 2e5, 500.0, gauge=True), reading("c", 1, 0.0)]
    assert world.work_out(*given).missing[0].quantities == ("barometric_pressure",)
    barometer = reading("barometric_pressure", 85e3, 150.0, place="site")
    worked = world.work_out(*given, barometer)
    found = worked.result("as_found/stack/density")
    assert found.value == 285e3
    expected = worked.draws(given[0]) + worked.draws(barometer)
    assert np.array_equal(worked.draws(found), expected)
    assert barometer in found.inputs
    assert dict(worked.shares(found))["as_found/site/barometric_pressure"] == pytest.approx(0.09 / 1.09, abs=1e-9)
    other = world.work_out(*given, replace(barometer, state="as_left"))
    assert other.results == ()


def test_a_barometer_may_be_worked_out_itself():
    def barometric_pressure(height):
        return 101_325.0 * np.exp(-height / 8_400.0)

    world = World().add(density, takes=("pressure", "c"), gives="density")
    world.add(
        barometric_pressure, takes=(Take(quantity="height", place="site"),), gives="barometric_pressure", at="site"
    )
    worked = world.work_out(
        reading("pressure", 1e5, gauge=True), reading("c", 1), reading("height", 1_460, 5.0, place="site")
    )
    found = worked.result("as_found/stack/density")
    assert found.value == pytest.approx(1e5 + 101_325.0 * math.exp(-1_460 / 8_400))
    assert found.inputs[-1] is worked.result("as_found/site/barometric_pressure")


def test_a_refusal_keeps_the_reason_and_leaves_the_rest_standing():
    world = simple().add(root, takes=("a",), gives="root", refuses={"a": not_negative})
    worked = world.work_out(reading("a", -1), reading("b", 1))
    assert keys(worked) == ["as_found/stack/total", "as_found/stack/product"]
    assert worked.refused[0].error.field == "as_found/stack/a"
    assert "Read it again." in worked.refused[0].says


def test_what_is_refused_is_gone_round_by_another_method():
    def by_other(b):
        return 10.0 * b

    world = World().add(root, takes=("a",), gives="chain").add(by_other, takes=("b",), gives="chain")
    world.add(product, takes=("chain", "c"), gives="product")
    given = [reading("b", 1), reading("c", 2)]
    both = world.work_out(reading("a", 4), *given)
    assert [one.worksheet for one in both.alternatives("as_found/stack/chain")] == ["root", "by_other"]
    assert both.result("as_found/stack/product").value == 4.0
    assert both.result("as_found/stack/chain", "by_other").value == 10.0
    round_ = world.work_out(reading("a", -4, 0.01), *given)
    assert round_.result("as_found/stack/product").value == 20.0
    assert round_.refused[0].worksheet == "root"
    assert "leave 'root' without an answer" in round_.refused[0].says


def test_draws_that_leave_the_domain_are_counted_and_said():
    worked = simple().work_out(reading("a", 0.2, 0.2), number=10_000)
    found = worked.result("as_found/stack/root")
    without = worked.without_answer(found)
    assert without == pytest.approx(1_587, abs=150)  # Phi(-1) of 10,000
    assert without == np.count_nonzero(np.isnan(worked.draws(found)))
    assert f"{without:,} of 10,000 draws have no answer" in found.outside[0]
    assert all(map(math.isfinite, (*found.interval, found.standard_uncertainty)))


def test_outside_the_range_of_a_method_the_result_stands_and_says_so():
    world = World().add(
        root, takes=("a",), gives="root", valid={"a": (0.0, 5.0, "0 to 5"), "root": (0.0, 2.0, "0 to 2")}
    )
    inside, outside = world.work_out(reading("a", 3)), world.work_out(reading("a", 9))
    assert inside.outside == ()
    assert [len(said) for _, said in outside.outside] == [2]
    assert "0 to 5" in outside.results[0].outside[0]


def test_a_heavy_worksheet_takes_the_first_of_the_same_draws():
    world = World().add(root, takes=("a",), gives="heavy", draws=100, draws_because="each takes a millisecond")
    world.add(product, takes=("heavy", "b"), gives="heavier")
    worked = world.work_out(reading("a", 4), reading("b", 2))
    heavy, heavier = worked.results
    assert worked.draws(heavy).size == worked.draws(heavier).size == 100
    assert np.array_equal(worked.draws(heavy), np.sqrt(worked.draws(worked.readings[0])[:100]))
    assert sum(share for _, share in worked.shares(heavier)) == pytest.approx(1.0)


def test_a_worksheet_may_give_several_results_one_of_them_without_answer():
    def both(a):
        return 2.0 * a, np.log(a)

    worked = World().add(both, takes=("a",), gives=("left", "right")).work_out(reading("a", -3))
    assert keys(worked) == ["as_found/stack/left"]
    assert worked.refused[0].quantities == ("right",)


def test_two_methods_that_are_each_others_inverse_do_not_go_round_in_a_circle():
    def there(a):
        return 2.0 * a

    def back(b):
        return b / 2.0

    world = World().add(there, takes=("a",), gives="b").add(back, takes=("b",), gives="a")
    assert keys(world.work_out(reading("a", 1))) == ["as_found/stack/b"]
    assert keys(world.work_out(reading("b", 1))) == ["as_found/stack/a"]
    both = world.work_out(reading("a", 1), reading("b", 5, place="engine"))
    assert keys(both) == ["as_found/stack/b", "as_found/engine/a", "as_found/stack/a"]
    assert both.results[-1].value == 2.5  # from the b of the engine, never from the b that came of this a


def test_only_some_worksheets_with_what_they_need():
    worked = simple().work_out(reading("a", 2), reading("b", 1), only=["product"])
    assert [one.worksheet for one in worked.results] == ["total", "product"]
    with pytest.raises(UnknownNameError, match="Nearest: product"):
        simple().work_out(only=["produkt"])


def test_exact_readings_give_exact_results():
    worked = simple().work_out(reading("a", 4, 0.0), reading("b", 1, 0.0), reading("c", 2, 0.0))
    found = worked.result("as_found/stack/product")
    assert found.interval == (12.0, 12.0)
    assert found.standard_uncertainty == 0.0
    assert worked.draws(found).shape == (2_000,)
    assert worked.shares(found) == ()


def test_probability_beyond_a_limit_is_a_count_and_says_no_more_than_it_can():
    worked = simple().work_out(reading("a", 4, 0.5), number=10_000)
    found = worked.result("as_found/stack/root")
    limit = Limit(quantity="root", value=2.0, as_typed="2")
    drawn = worked.draws(found)
    assert worked.probability_beyond(found, limit) == np.count_nonzero(drawn > 2.0) / 10_000
    lower = worked.probability_beyond(found, replace(limit, side="lower"))
    assert lower + worked.probability_beyond(found, limit) == 1.0
    far = worked.beyond(found, replace(limit, value=9.0))
    assert (far.count, far.draws, far.says) == (0, 10_000, "fewer than 1 in 1,000")
    with pytest.raises(InputError):
        worked.beyond(found, replace(limit, quantity="total"))


def test_a_chance_is_said_no_finer_than_its_draws():
    assert chance_by_count(0, 500) == "fewer than 1 in 100"
    assert chance_by_count(500, 500) == "more than 99 in 100"
    assert chance_by_count(1, 20) == "1 of 20 draws"
    assert chance_by_count(149, 10_000) == "1 in 100"
    assert chance_by_count(50, 10_000) == "0.5 in 100"


def test_guard_band_of_a_normal_result_is_164_u():
    """1.645 u at 95 %, 2.326 u at 99 % (normal quantiles); a quantile of 40,000 draws scatters by about 1 %."""
    world = World().add(total, takes=("a", "b"), gives="total")
    worked = world.work_out(reading("a", 1, 0.3), reading("b", 1, 0.2), number=40_000)
    found = worked.results[0]
    limit = Limit(quantity="total", value=4.0, as_typed="4")
    for probability, z in ((0.95, 1.645), (0.99, 2.326)):
        band = worked.guard_band(found, limit, probability=probability)
        assert band.width == pytest.approx(z * 0.5, rel=0.03)
        assert band.acceptance_limit == 4.0 - band.width
        assert band.accepted == (band.acceptance_limit >= 3.0)
    below = worked.guard_band(found, replace(limit, value=2.5, side="lower"))
    assert below.acceptance_limit == 2.5 + below.width
    assert not below.accepted


def test_what_one_instrument_read_twice_differs_less_than_two_instruments_would():
    """Correlation r: u of the difference is u sqrt(2 (1 - r))."""
    shared = {"shared_with": "SN 12/a", "shared_fraction": 0.75}
    given = [reading("a", 10, 0.2, state=state, **shared) for state in ("as_found", "as_left")]
    worked = World().work_out(*given, number=40_000)
    one, two = worked.readings
    assert np.corrcoef(worked.draws(one), worked.draws(two))[0, 1] == pytest.approx(0.75, abs=0.01)
    difference = worked.difference(two, one)
    assert difference.standard_uncertainty == pytest.approx(0.2 * math.sqrt(0.5), rel=0.02)
    assert difference.probability_lower == pytest.approx(0.5, abs=0.02)
    assert worked.covariance([one, two]) == pytest.approx(np.array([[0.04, 0.03], [0.03, 0.04]]), rel=0.03)


@pytest.mark.parametrize("shape", ["normal", "rectangular", "triangular", "arcsine"])
@pytest.mark.parametrize("fraction", [0.0, 0.4, 1.0])
def test_every_shape_keeps_its_mean_and_standard_uncertainty(shape, fraction):
    one = reading("a", 5, 0.5, distribution=shape, shared_with="x", shared_fraction=fraction)
    drawn = World().work_out(one, number=50_000).draws(one)
    assert drawn.mean() == pytest.approx(5.0, abs=0.01)
    assert drawn.std() == pytest.approx(0.5, rel=0.02)
    if shape != "normal" and fraction in (0.0, 1.0):
        edge = {"rectangular": math.sqrt(3), "triangular": math.sqrt(6), "arcsine": math.sqrt(2)}[shape]
        assert np.abs(drawn - 5.0).max() <= 0.5 * edge


def test_a_result_is_a_plain_result_to_everybody_else():
    import copy
    import pickle

    found = simple().work_out(reading("a", 2), reading("b", 1)).results[0]
    assert isinstance(found, Result)
    assert asdict(found)["interval"] == found.interval
    assert pickle.loads(pickle.dumps(found)).interval == copy.copy(found).interval == found.interval
    assert replace(found, value=3.0).value == 3.0
    with pytest.raises(AttributeError):
        found.interval = (0.0, 1.0)


def test_a_result_of_another_sheet_is_not_answered_for():
    worked = simple().work_out(reading("a", 2))
    other = simple().work_out(reading("a", 2), reading("b", 1)).results[0]
    with pytest.raises(UnknownNameError):
        worked.draws(other)


def test_draws_cannot_be_written_to():
    worked = simple().work_out(reading("a", 2), reading("b", 1))
    for one in (worked.results[0], worked.readings[0]):
        with pytest.raises(ValueError):
            worked.draws(one)[0] = 1.0


@pytest.mark.parametrize(
    ("given", "how", "error"),
    [
        ([reading("a", 1), reading("a", 2)], {}, InputError),
        ([reading("a", math.nan)], {}, InputError),
        ([reading("a", 1, -0.1)], {}, InputError),
        ([reading("a", 1, math.inf)], {}, InputError),
        ([reading("a", 1, shared_with="x", shared_fraction=1.5)], {}, InputError),
        ([reading("barometric_pressure", 1, gauge=True)], {}, InputError),
        ([replace(reading("a", 1), state="as_lost")], {}, InputError),
        ([replace(reading("a", 1), quantity="totl")], {}, UnknownNameError),
        ([], {"number": 1}, InputError),
        ([], {"seed": -1}, InputError),
    ],
)
def test_what_cannot_be_a_reading_is_refused(given, how, error):
    with pytest.raises(error):
        simple().work_out(*given, **how)


def test_a_formula_that_breaks_down_leaves_the_other_numbers_standing():
    def broken(a):
        raise IndexError("tuple index out of range")

    world = simple().add(broken, takes=("a",), gives="d", title="Broken")
    faults: list[str] = []
    worked = world.work_out(reading("a", 4.0), reading("b", 1.0), faults=faults)
    assert worked.result("as_found/stack/total").value == 6.0
    assert [one.worksheet for one in worked.refused] == ["broken"]
    assert faults == [
        "A fault of the program: 'Broken' (as found, stack) could not be worked out (IndexError: tuple index out of "
        "range)."
    ]
    with pytest.raises(IndexError):
        world.work_out(reading("a", 4.0))


def test_a_formula_that_breaks_its_word_is_an_error_of_its_room():
    def few(a):
        return a[:3]

    def many(a):
        return a, a

    for formula in (few, many):
        with pytest.raises(ValueError, match=formula.__name__):
            World().add(formula, takes=("a",), gives="total").work_out(reading("a", 1))


def test_the_register_of_the_program_serves_when_none_is_given():
    from asfound.quantities.register import quantities
    from asfound.quantities.sheet import work_out

    assert work_out([]).results == ()
    assert set(KINDS) - set(quantities()) >= {"a", "b"}
    assert ASSUMED_C.assume.value == 3.0
