"""Files of observations: any slip is pointed at, and what loads can be identified."""

from __future__ import annotations

import json
import re
from contextlib import suppress

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, KnowledgeError
from asfound.fitout.catalogue import load_catalogue
from asfound.fitout.identify import identify
from asfound.fitout.observations import parse_observations

WHOLE = {
    "about": "one engine",
    "engine": {
        "tag": "A2", "family": "HM9", "works_number": "20519", "driven": "compressor", "layout": "inline",
        "cylinders": 9, "turbochargers": 1, "catalyst": False, "bearings_measured": None, "state": "running",
        "plate": {"family": "HM9", "works_number": 20519}, "in_store": ["x"], "papers": ["MV-a c"],
        "hydrogen_sulphide": 1e-5,
    },
    "allowed": ["running"],
    "looks": [
        {"slot": "nameplate", "character": "generation", "states": ["moldrevane_d"], "how": "plate", "source": "plate"},
        {"slot": "speed_controller", "character": "label", "label": "M.2?..6", "by": "S. Ondry",
         "time": "2032-07-08T10:32-06:00", "note": "behind the door"},
        {"slot": "temperature_inputs", "character": "count", "states": [3]},
        {"slot": "traces", "answer": "not_there"},
    ],
    "truth": {"build": "moldrevane", "places": {"coil": "x"}},
}  # fmt: skip
WRONG = [None, True, -1, 3.5, "x", "", [], [[1]], {"a": 1}, [None]]


def paths(value, path=()):
    if path:
        yield path
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, one in inside:
        yield from paths(one, (*path, name))


def changed(path, wrong):
    whole = json.loads(json.dumps(WHOLE))
    at = whole
    for name in path[:-1]:
        at = at[name]
    at[path[-1]] = wrong
    return json.dumps(whole)


@settings(max_examples=120, deadline=None)
@given(st.sampled_from(list(paths(WHOLE))), st.sampled_from(WRONG))
def test_a_value_of_the_wrong_kind_is_pointed_at_or_harmless(path, wrong):
    try:
        read = parse_observations(changed(path, wrong), file="a2.json")
    except KnowledgeError as refused:
        said = str(refused)
    else:
        said = ""
        with suppress(InputError):  # a word that the catalogue does not know, said as such
            identify(load_catalogue(), read.engine, read.looks, allowed=read.allowed)
    assert not said or re.match(r"a2\.json:1:\d+: ", said)


@pytest.mark.parametrize(
    "path",
    [("engine", "family"), ("engine", "catalyst"), ("looks", 1, "by"), ("looks", 1, "time"), ("looks", 2, "states", 0)],
    ids=str,
)
def test_a_list_where_one_value_belongs_is_pointed_at(path):
    with pytest.raises(KnowledgeError, match="wanted here, not a list"):
        parse_observations(changed(path, ["a"]))


def test_a_number_where_a_label_belongs_asks_for_quotes():
    with pytest.raises(KnowledgeError, match="quotes round it: '7'"):
        parse_observations(changed(("looks", 1, "label"), 7))


def test_null_means_not_known_where_that_can_be():
    read = parse_observations(changed(("engine", "turbochargers"), None))
    assert read.engine.turbochargers is None
    assert read.engine.bearings_measured is None
