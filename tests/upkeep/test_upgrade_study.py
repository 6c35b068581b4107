"""Upgrades from a file and the catalogue: ways told, targets in one table, doubt, mistakes with file and line."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from itertools import islice, product
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, KnowledgeError, UnknownNameError
from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.identify import identify
from asfound.fitout.observations import story
from asfound.sources.tables import read_text
from asfound.upkeep import upgrade_way
from asfound.upkeep.upgrade import Barred, Change, Problem
from asfound.upkeep.upgrade_doubt import _starts, doubtful
from asfound.upkeep.upgrade_file import read_upgrade
from asfound.upkeep.upgrade_search import builds_on_the_way, cheapest
from asfound.upkeep.upgrade_study import problem_of, start_belief, study
from asfound.upkeep.upgrade_way import NoWay, Way, way

CATALOGUE = load_catalogue()
FILE = read_upgrade(None, CATALOGUE)
A1 = {
    "engine_controller": "none", "speed_controller": "flyweight_head", "mixture_controller": "by_hand",
    "operator_display": "yarnolt_text", "service_port": "square_beside_dome", "ignition_unit": "fironelle_odd",
    "coil": "inside_rail", "throttle_actuator": "oil_head", "fuel_actuator": "mixer_screw", "o2_sensor": "none",
    "knock_sensor": "one_per_two", "temperature_inputs": "borrowed_strip",
}  # fmt: skip
"""What is really fitted to A1 in the demo."""


@pytest.fixture(scope="module")
def found():
    return study(FILE, CATALOGUE, start=A1, others={"A7": {"speed_controller": "flyweight_head"}})


def test_targets_stand_in_one_table_the_cheapest_first(found):
    costs = [one.row.cost for one in found.targets]
    assert costs == sorted(costs)
    assert [one.id for one in found.targets] == ["in_order", "short", "full_odd_brackets", "full"]
    assert found.as_dict()["targets"][0]["row"]["cost"] == costs[0]


def test_every_target_is_reached_through_builds_that_run(found):
    for one, target in ((one, next(t for t in FILE.targets if t.id == one.id)) for one in found.targets):
        problem = problem_of(
            FILE, CATALOGUE, target, A1 | {k: max(v, key=v.get) for k, v in FILE.settings_start.items()}
        )
        builds = list(builds_on_the_way(problem, cheapest(problem).moves))  # refuses a build that may not be
        assert builds[-1][0] == one.way.end


def test_the_sums_of_a_way(found):
    for one in found.targets:
        stops = [stop for stop in one.way.stops if stop.number]
        assert one.way.cost == pytest.approx(sum(stop.cost for stop in one.way.stops))
        assert one.way.low <= one.way.cost <= one.way.high
        assert all(stop.minutes <= FILE.stop_minutes for stop in stops)
        assert one.way.number_of_stops == len(stops) == one.row.stops
        assert all(step.why for step in one.way.steps)
        assert all(step.without is None or step.without >= one.way.cost for step in one.way.steps)


def test_a_setting_that_an_interchange_asks_for_is_made_in_the_same_stop(found):
    stop = next(s for s in found.target("full").way.stops if any(step.id == "brackets" for step in s.steps))
    names = [step.id for step in stop.steps]
    assert names.index("timing") > names.index("brackets")
    assert "30 crank degrees" in next(s for s in stop.steps if s.id == "brackets").settings[0]


def test_what_stays_comes_off_and_is_learnt(found):
    follow = found.target("full").follow
    assert follow.stays == ("Ignition coils: inside the spark rail, a stalk to each plug",)
    head = next(one for one in follow.leaves if one.slot == "speed_controller")
    assert head.fate == "store"
    assert head.fits[0] == "engine A7, which has the same"
    assert any(one.startswith("VR-11") for one in follow.documents_new)
    assert any(one.startswith("BQ-2") for one in follow.documents_gone)
    assert not any(one.startswith("BQ-3") for one in follow.documents_gone)  # settings of the engine itself
    assert follow.software_new == ("V-full Vorunice file",)
    assert "Setting of flyweight heads" in follow.skills_gone
    assert found.target("in_order").follow.documents_new == ()


def test_doubt_makes_a_range_and_names_the_look():
    belief = {place: {value: 1.0} for place, value in A1.items()} | {k: dict(v) for k, v in FILE.settings_start.items()}
    belief["fuel_actuator"] = {"mixer_screw": 0.7, "sliding_plate": 0.3}
    belief["coil"] = {"inside_rail": 0.8, "on_cover": 0.2}
    target = next(one for one in FILE.targets if one.id == "short")
    fitted = {place: max(values, key=values.get) for place, values in belief.items()}
    doubt = doubtful(problem_of(FILE, CATALOGUE, target, fitted), belief)
    assert doubt.low < doubt.expected < doubt.high
    assert doubt.no_way == pytest.approx(0.2)  # no change puts the coils into the rails
    assert "Sliding-plate fuel valve" in doubt.wait
    assert "Vorunice-short controller" in doubt.order_now
    assert {one.place for one in doubt.looks if one.decides} == {"coil", "fuel_actuator"}
    assert sum(one.chance for one in doubt.scenarios) == pytest.approx(1.0)


def test_the_deciding_look_says_how_to_look():
    told = story("a1")
    identification = identify(CATALOGUE, told.engine, told.looks, allowed=told.allowed)
    found = study(FILE, CATALOGUE, identification, start={name: A1[name] for name in ("coil", "ignition_unit")})
    looks = [one for target in found.targets for one in target.doubt.looks]
    assert looks
    assert all(one.look and one.state in ("running", "stopped", "isolated") and one.minutes > 0 for one in looks)
    assert any("in 100" in line for line in found.start_says)
    assert found.target("full").row.low <= found.target("full").row.cost <= found.target("full").row.high
    json.dumps(found.as_dict())


def two_ways(stop_minutes: float = math.inf) -> Problem:
    return Problem(
        places={"a": ("0", "1"), "b": ("0", "1", "2")}, start={"a": "0", "b": "0"},
        target={"a": ("1",), "b": ("1", "2")},
        changes=(
            Change(id="a", puts={"a": "1"}, cost=10, minutes=50), Change(id="b", puts={"b": "1"}, cost=7, minutes=60),
            Change(id="b2", puts={"b": "2"}, cost=9, minutes=60),
        ),
        barred=(Barred(build={"a": ("1",), "b": ("0",)}, when="running", says="half done"),), stop_cost=5,
        stop_minutes=stop_minutes,
    )  # fmt: skip


def test_a_way_without_a_change_that_takes_long_to_search_keeps_nothing_waiting(monkeypatch):
    monkeypatch.setattr(upgrade_way, "MOST_WITHOUT", 0)
    told = way(two_ways())
    assert isinstance(told, Way)
    assert not any(step.searched and step.without is not None for step in told.steps)
    assert not all(step.searched for step in told.steps)


def test_without_a_change_the_next_way_costs_more():
    told = way(two_ways())
    assert isinstance(told, Way)
    assert {step.id: step.without for step in told.steps} == {"a": None, "b": 24.0}


def test_where_there_is_no_way_the_bar_is_named():
    bars = replace(two_ways(), barred=(Barred(build={"b": ("1", "2")}, says="bus speed differs"),))
    told = way(bars)
    assert isinstance(told, NoWay)
    assert [bar.cost for bar in told.bars] == [22.0]
    assert "bus speed differs" in told.bars[0].says
    short = way(
        replace(
            two_ways(stop_minutes=100.0),
            barred=(Barred(build={"a": ("0",), "b": ("1", "2")}, when="running"), *two_ways().barred),
        )
    )
    assert isinstance(short, NoWay)
    assert any("110 min is needed" in bar.says for bar in short.bars)
    missing = way(two_ways().without("a"))
    assert isinstance(missing, NoWay)
    assert missing.missing == ("a: 1",)


def test_a_start_that_cannot_be_is_told_and_not_planned_for():
    never = Barred(build={"a": ("0",), "b": ("0",)}, says="they do not fit together")
    problem = replace(two_ways(), barred=(never,))
    told = way(problem)
    assert isinstance(told, NoWay)
    assert "they do not fit together" in told.says
    doubt = doubtful(problem, {"a": {"0": 1.0}, "b": {"0": 0.7, "1": 0.3}})
    assert doubt.left_out == pytest.approx(0.7)
    assert [one.chance for one in doubt.scenarios] == [1.0]
    nothing = doubtful(problem, {"a": {"0": 1.0}, "b": {"0": 1.0}})
    assert (nothing.scenarios, nothing.low, nothing.left_out) == ((), None, 1.0)


def test_a_certain_start_has_no_doubt():
    doubt = doubtful(two_ways(), {"a": {"0": 1.0}, "b": {"0": 1.0}})
    assert (doubt.low, doubt.expected, doubt.high, doubt.no_way, doubt.left_out) == (22.0, 22.0, 22.0, 0.0, 0.0)
    assert doubt.looks == ()
    assert doubt.wait == ()


def test_a_look_that_changes_nothing_does_not_decide():
    problem = Problem(
        places={"a": ("0", "1"), "idle": ("x", "y")}, start={"a": "0", "idle": "x"}, target={"a": ("1",)},
        changes=(Change(id="a", puts={"a": "1"}, cost=3),),
    )  # fmt: skip
    doubt = doubtful(problem, {"a": {"0": 0.6, "1": 0.4}, "idle": {"x": 0.5, "y": 0.5}})
    assert {one.place: one.decides for one in doubt.looks} == {"a": True, "idle": False}
    assert doubt.wasted == pytest.approx(0.4 * 3)


TEXT = read_text("asfound.upkeep", "data/upgrade_vorunice.yaml")


def with_places(belief: dict[str, dict[str, float]]) -> Problem:
    plain = two_ways()
    return replace(
        plain,
        places={**plain.places, **{name: tuple(values) for name, values in belief.items()}},
        start={**plain.start, **dict.fromkeys(belief, "v0")},
    )


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.lists(st.sampled_from([0.05, 0.1, 0.2, 0.5, 0.5, 0.7]), min_size=1, max_size=4), min_size=0, max_size=4)
)
def test_starts_come_by_their_chance_as_sorting_all_of_them_would_have_it(places):
    belief = {f"p{i}": {f"v{k}": chance for k, chance in enumerate(row)} for i, row in enumerate(places)}
    problem = with_places(belief)
    every = []
    for values in product(*(one.items() for one in belief.values())):
        start = dict(problem.start) | {name: value for name, (value, _) in zip(belief, values, strict=True)}
        every.append((math.prod((chance for _, chance in values), start=1.0), start))
    assert list(_starts(problem, belief)) == sorted(every, key=lambda one: -one[0])


def test_where_nothing_was_looked_at_the_likeliest_starts_are_enough():
    """Ten values at each of thirty places: no memory holds all of them."""
    belief = {f"p{i}": {f"v{k}": 0.1 for k in range(10)} for i in range(30)}
    problem = with_places(belief)
    assert len(list(islice(_starts(problem, belief), 500))) == 500


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("puts: {timing: right}", "puts: {timing: wrong}", "'wrong' is not known here"),
        ("price: [22000, 23500, 26000]", "price: [26000, 23500, 22000]", "this is no price"),
        ("interchange: full-for-short", "interchange: short-for-full", "too few inputs"),
        ("fironelle, timing: moved}", "fironelle}", "asks for a setting"),
        ("family: HM9", "family: HM12", "'HM12' is not known here"),
        ("generation: vorunice_short", "generation: vorunice_tiny", "not known here"),
        ("engine: running, tags: [hot]", "engine: idling, tags: [hot]", "'idling' is not known here"),
        ("tags: [hv, rotating]", "tags: [sharp]", "'sharp' is not known here"),
        ("- {id: knock,", "- {id: oxygen,", "stands twice"),
        ("start: right", "start: {right: 0.5, moved: 0.4}", "do not add up to 1"),
        ("when: running, says: the spark", "when: sometimes, says: the spark", "'sometimes' is not known here"),
        ("fate: scrap", "fate: sold", "'sold' is not known here"),
        ("money: {currency: works marks, year: WY 48}", "money: {currency: works marks}", "'year' is missing"),
    ],
)  # fmt: skip
def test_mistakes_are_told_with_file_and_line(tmp_path, old, new, says):
    assert old in TEXT
    path = tmp_path / "upgrade.yaml"
    path.write_text(TEXT.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(KnowledgeError, match=says) as caught:
        read_upgrade(path, CATALOGUE)
    assert caught.value.file == str(path)
    assert caught.value.line >= 5


def test_a_file_that_is_not_there_and_a_place_nobody_knows(tmp_path):
    with pytest.raises(KnowledgeError, match="no file here"):
        read_upgrade(tmp_path / "none.yaml", CATALOGUE)
    with pytest.raises(InputError, match="is not known"):
        start_belief(FILE, None, {})
    with pytest.raises(UnknownNameError, match="place"):
        start_belief(FILE, None, {"nonsense": "x"})


def test_the_recipe_of_the_docs_is_a_file_that_can_be_read(tmp_path):
    page = (Path(__file__).parents[2] / "docs" / "upkeep.md").read_text("utf-8")
    recipe = next(one for one in re.findall(r"```yaml\n(.*?)```", page, re.S) if one.startswith("title:"))
    path = tmp_path / "recipe.yaml"
    path.write_text(recipe, encoding="utf-8")
    file = read_upgrade(path, CATALOGUE)
    start = {"engine_controller": "wedge", "throttle_actuator": "inline_dial", "ignition_unit": "fironelle_odd"}
    found = study(file, CATALOGUE, start=start)
    assert [step.id for step in found.targets[0].way.steps] == ["brackets", "timing"]
