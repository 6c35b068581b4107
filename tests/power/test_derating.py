"""The engine's own derate tables: read, refused, worked with. All numbers are invented."""

from __future__ import annotations

from contextlib import suppress
from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.interpolate import RegularGridInterpolator

from asfound.errors import InputError, KnowledgeError, UnknownNameError
from asfound.power.derating import Derate
from asfound.power.derating_file import demo_derating, read_derating
from asfound.power.derating_sheet import tables_behind, worksheets_with
from asfound.quantities import worksheets as register
from asfound.quantities.register import quantities
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Reading
from asfound.quantities.worked import Worked

FILE = """\
derating: mine
title: Tables of mine
edition: "1"
source: engine_own_data
document: page 3
engines:
- family: AB9
  rated: 1000 kW
  combine: multiply
  tables:
  - against: site_height
    unit: m
    points: [[0, 1.0], [1000, 1.0], [2000, 0.9]]
    below: holds
  - against: [site_height, ambient_temperature]
    unit: [ft, °F]
    rows: [0, 3000, 9000]
    columns: [60, 100]
    power: [[1.0, 0.98], [1.0, 0.96], [0.9, 0.8]]
    below: holds
  - against: methane_number_margin
    points: [[-10, 0.5], [0, 1.0]]
    above: holds
    if_read: true
"""


def mine(text: str = FILE) -> Derate:
    return read_derating(text, file="mine.yaml").of("AB9")


def reading(quantity: str, value: float, place: str = "engine", u: float = 0.0) -> Reading:
    return Reading(
        quantity=quantity, place=place, state="as_found", time="", value=value, unit=quantities()[quantity].si_unit,
        as_typed=f"{value:g}", standard_uncertainty=u,
    )  # fmt: skip


def site(height: float = 500.0, temperature: float = 288.15) -> list[Reading]:
    return [
        reading("site_height", height, "site"),
        reading("ambient_temperature", temperature, "site"),
        reading("engine_power", 900e3),
    ]


def worked(readings: list[Reading], derate: Derate | None = None) -> Worked:
    return work_out(readings, number=200, worksheets=worksheets_with(derate or mine()))


def rating(found: Worked) -> float:
    result = found.result("as_found/engine/site_rated_power")
    assert result is not None
    return result.value


def test_units_of_the_file_do_not_matter() -> None:
    metric = mine(FILE.replace("[ft, °F]", "[m, °C]").replace("[0, 3000, 9000]", "[0, 914.4, 2743.2]")
                  .replace("[60, 100]", "[15.555555555555555, 37.777777777777777]"))  # fmt: skip
    for height, temperature in product((0.0, 700.0, 1900.0), (290.0, 300.0, 310.0)):
        values = {"site_height": height, "ambient_temperature": temperature}
        assert metric.fraction(values) == pytest.approx(float(mine().fraction(values)), rel=1e-9)


def test_at_the_points_the_table_itself() -> None:
    chart = mine().tables[1]
    for (i, height), (k, temperature) in product(enumerate(chart.axes[0]), enumerate(chart.axes[1])):
        assert chart.fraction(height, temperature) == pytest.approx(chart.power[i, k], rel=1e-12)


@given(st.floats(0.0, 2743.0), st.floats(288.8, 310.9))
def test_between_the_points_as_a_general_library_has_it(height: float, temperature: float) -> None:
    chart = mine().tables[1]
    oracle = RegularGridInterpolator(chart.axes, chart.power, method="linear")
    assert chart.fraction(height, temperature) == pytest.approx(float(oracle((height, temperature))), rel=1e-12)


@given(st.floats(0.0, 2000.0), st.floats(288.8, 310.0), st.floats(0.0, 500.0))
def test_higher_or_hotter_never_gives_more(height: float, temperature: float, more: float) -> None:
    def share(h: float, t: float) -> float:
        return float(mine().fraction({"site_height": h, "ambient_temperature": t}))

    here = share(height, temperature)
    assert not share(height + more, temperature) > here + 1e-12
    assert not share(height, temperature + more / 100) > here + 1e-12


@given(st.lists(st.tuples(st.floats(-100.0, 2600.0), st.floats(270.0, 320.0), st.floats(-15.0, 15.0)), min_size=1))
def test_arrays_equal_scalars(states: list[tuple[float, float, float]]) -> None:
    names = ("site_height", "ambient_temperature", "methane_number_margin")
    at_once = mine().fraction(dict(zip(names, np.array(states).T, strict=True)))
    one_by_one = [float(mine().fraction(dict(zip(names, one, strict=True)))) for one in states]
    assert np.allclose(at_once, one_by_one, rtol=1e-13, equal_nan=True)


def test_no_table_is_carried_on_beyond_its_end() -> None:
    values = {"site_height": np.array([-50.0, 2001.0, 500.0]), "ambient_temperature": np.array([280.0, 300.0, 350.0])}
    assert np.isnan(mine().fraction(values)).tolist() == [False, True, True]  # below holds, above has no answer


def test_ways_to_put_losses_together() -> None:
    values = {"site_height": 2000.0, "ambient_temperature": 288.7055555, "methane_number_margin": -5.0}
    chart = float(mine().tables[1].fraction(2000.0, 288.7055555))
    shares = (0.9, chart, 0.75)
    for combine, together in (
        ("multiply", np.prod(shares)),
        ("worst", min(shares)),
        ("add", 1 - sum(1 - one for one in shares)),
    ):
        found = mine(FILE.replace("multiply", combine)).fraction(values)
        assert found == pytest.approx(together, rel=1e-6)


def test_what_was_not_read() -> None:
    with pytest.raises(InputError, match="ambient_temperature: 'not read'"):
        mine().fraction({"site_height": 100.0})
    assert mine().fraction({"site_height": 100.0, "ambient_temperature": 288.0}) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("was", "becomes", "line", "says"),
    [
        ("site_height\n    unit: m", "site_hight\n    unit: m", 11, "not known here"),
        ("    unit: m\n", "", 11, "'unit' is missing"),
        ("unit: m\n", "unit: °C\n", 12, "is no unit of height of the site"),
        ("[1000, 1.0], [2000, 0.9]", "[1000, 1.0], [1000, 0.9]", 13, "each beyond the one before"),
        ("[2000, 0.9]]", "[2000, 1.9]]", 13, "outside the range"),
        ("[2000, 0.9]]", "[2000]]", 13, "1 numbers where 2 are wanted"),
        (
            "power: [[1.0, 0.98], [1.0, 0.96], [0.9, 0.8]]",
            "power: [[1.0, 0.98], [1.0, 0.96]]",
            19,
            "2 lines for 3 rows",
        ),
        ("[0.9, 0.8]]\n", "[0.9]]\n", 19, "1 numbers where 2 are wanted"),
        ("[ft, °F]", "[ft]", 16, "1 units for 2 quantities"),
        ("source: engine_own_data", "source: hearsay", 4, "no source is called"),
        ("rated: 1000 kW", "rated: 1000 m", 8, "rated_power"),
        ("combine: multiply", "combine: guess", 9, "not known here"),
        ("below: holds\n  - against: [", "below: perhaps\n  - against: [", 14, "not known here"),
        ("if_read: true", "if_red: true", 24, "'if_red' is not known here"),
        ("[site_height, ambient_temperature]", "[site_height, site_height]", 15, "two different quantities"),
    ],
)
def test_a_slip_is_refused_where_it_stands(was: str, becomes: str, line: int, says: str) -> None:
    assert FILE.count(was) == 1
    with pytest.raises(KnowledgeError, match=r"mine\.yaml") as caught:
        read_derating(FILE.replace(was, becomes), file="mine.yaml")
    assert says in str(caught.value)
    assert caught.value.line == line


@given(
    st.integers(0, FILE.count("\n") - 1), st.sampled_from(["", "  nonsense: 1", "- x", "   ", "combine: [", "\t", "1"])
)
def test_a_line_lost_or_spoilt_is_read_or_refused_never_a_fault(line: int, instead: str) -> None:
    lines = FILE.splitlines()
    lines[line] = instead
    with suppress(KnowledgeError):
        read_derating("\n".join(lines), file="mine.yaml")


@given(st.sampled_from([token for line in FILE.splitlines() for token in line.split()]), st.text(max_size=6))
def test_a_word_spoilt_is_read_or_refused_never_a_fault(word: str, instead: str) -> None:
    with suppress(KnowledgeError):
        read_derating(FILE.replace(word, instead, 1), file="mine.yaml")


def test_a_family_stands_once() -> None:
    with pytest.raises(KnowledgeError, match="stands twice"):
        read_derating(FILE + FILE[FILE.index("- family") :], file="mine.yaml")
    with pytest.raises(UnknownNameError, match="family with derate tables"):
        demo_derating().of("AB9")


def test_the_demo_has_every_family_of_its_world() -> None:
    demo = demo_derating()
    assert set(demo.engines) == {"HM6", "HM9", "PM9", "TR10", "TR14"}
    assert demo.source == "invented_demo"
    best = {
        "site_height": 0.0, "ambient_temperature": 288.15, "auxiliary_water_inlet_temperature": 303.15,
        "methane_number_margin": 20.0,
    }  # fmt: skip
    for one in demo.engines.values():
        assert one.fraction(best) == pytest.approx(1.0)


def test_the_sheet_takes_the_tables_before_the_formula() -> None:
    found = worked([
        *site(), reading("rated_power", 1000e3), reading("barometric_pressure", 95e3, "site"),
        reading("auxiliary_water_inlet_temperature", 313.15),
    ])  # fmt: skip
    ways = found.alternatives("as_found/engine/site_rated_power")
    assert [one.worksheet for one in ways] == ["site_rating_by_engine_data", "site_rating_by_iso_3046"]
    assert rating(found) == pytest.approx(1000e3)
    assert ways[0].method.source == "engine_own_data"
    assert tables_behind(ways[0]) is not None
    assert tables_behind(ways[1]) is None


def test_a_plate_that_says_less_goes_before_the_tables() -> None:
    assert rating(worked([*site(), reading("rated_power", 760e3)])) == pytest.approx(760e3)
    assert rating(worked(site())) == pytest.approx(1000e3)


def test_the_gas_counts_where_its_margin_is_known() -> None:
    poor = [*site(), reading("methane_number", 70.0, "fuel"), reading("required_methane_number", 75.0)]
    assert rating(worked(poor)) == pytest.approx(750e3)


def test_outside_the_tables_the_sheet_says_so() -> None:
    found = worked([*site(height=2500.0), reading("rated_power", 1000e3)])
    assert found.result("as_found/engine/site_rated_power") is None
    (refused,) = [one for one in found.refused if one.worksheet == "site_rating_by_engine_data"]
    assert "at most 2000 m" in refused.says
    assert "Ask the maker" in refused.says


def test_the_same_tables_are_one_set_of_worksheets() -> None:
    derate = mine()
    assert worksheets_with(derate) is worksheets_with(derate)
    assert list(worksheets_with(derate)) == list(register.load())
