"""Any slip in a catalogue is pointed at, or harmless: every key of the shipped files deleted, retyped, moved."""

from __future__ import annotations

import copy
import json
import re
from contextlib import suppress
from importlib.resources import files

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from asfound.errors import InputError, KnowledgeError
from asfound.fitout.check import check_catalogue
from asfound.fitout.identify import identify
from asfound.fitout.observations import story
from asfound.fitout.schema import read_catalogue

FOLDER = files("asfound.fitout") / "data" / "ebbingstoke"
TEXTS = {one.name: one.read_text(encoding="utf-8") for one in FOLDER.iterdir() if one.name.endswith(".yaml")}
WRONG = [None, True, -1, 3.5, 1e300, 10**30, "", "x", "A" * 2000, "[(", [], [1], [[]], {}, {"id": "x"}, [None]]


def paths(value, path=()):
    if path:
        yield path
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for name, one in inside:
        yield from paths(one, (*path, name))


@pytest.fixture(scope="module")
def plain():
    return {name: yaml.load(text, Loader=yaml.CSafeLoader) for name, text in TEXTS.items()}


@pytest.fixture(scope="module")
def places(plain):
    return [(name, path) for name, value in plain.items() for path in paths(value)]


def changed(value, path, how, wrong):
    whole = copy.deepcopy(value)
    at = whole
    for name in path[:-1]:
        at = at[name]
    last = path[-1]
    if how == "delete":
        del at[last]
    elif how == "rename" and isinstance(at, dict):
        at["zz"] = at.pop(last)
    elif how == "twice" and isinstance(at, list):
        at.insert(last, copy.deepcopy(at[last]))
    elif how == "wrap":
        at[last] = [at[last]]
    else:
        at[last] = wrong
    return whole


@pytest.mark.slow
@settings(max_examples=40, deadline=None)
@given(st.data())
def test_a_slip_is_pointed_at_or_harmless(plain, places, data):
    name, path = data.draw(st.sampled_from(places))
    how = data.draw(st.sampled_from(["delete", "retype", "rename", "twice", "wrap"]))
    whole = changed(plain[name], path, how, data.draw(st.sampled_from(WRONG)))
    texts = sorted((TEXTS | {name: json.dumps(whole)}).items())
    try:
        catalogue = read_catalogue(texts)
    except KnowledgeError as refused:
        said = str(refused)
    else:
        said = ""
        seen = story("a2")
        check_catalogue(catalogue)
        with suppress(InputError):  # a look of the story names what was taken away
            assert identify(catalogue, seen.engine, seen.looks).as_dict()
    assert not said or re.match(r"[\w.]+\.yaml:\d+:\d+: ", said)
