"""What laboratories write, and what is asked back."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from asfound.errors import AmbiguousError, UnknownNameError
from asfound.fuel.components import table
from asfound.fuel.names import GROUPS, component_named, is_known, key, title
from asfound.sources.tables import load_csv

ROWS = load_csv("asfound.fuel", "data/component_names.csv")
WRITTEN = [(name, row["means"]) for row in ROWS for name in row["names"].split("|")]


def test_every_name_of_the_table_and_every_written_one_is_found():
    for name in (*table().names, *GROUPS):
        assert component_named(name) == name
    for name, means in WRITTEN:
        if "|" not in means:
            assert component_named(name) == means


@given(st.sampled_from([one for one in WRITTEN if "|" not in one[1]]), st.randoms(use_true_random=False))
def test_case_spaces_and_punctuation_do_not_matter(written, random):
    name, means = written
    noisy = "".join(
        (one.upper() if random.random() < 0.5 and one.upper().casefold() == one.casefold() else one)
        + random.choice(["", "", " ", "-", "."])
        for one in name
    )
    assert component_named(noisy) == means


def test_every_meaning_is_a_component():
    for _, means in WRITTEN:
        for one in means.split("|"):
            assert one in GROUPS or one in table().place


@pytest.mark.parametrize(
    ("text", "means"),
    [("CO₂", "carbon dioxide"), ("C O", "carbon monoxide"), ("Co2", "carbon dioxide"), ("iC5", "isopentane"),
     ("Hexanes & heavier", "hexanes_plus"), ("C6 +", "hexanes_plus"), ("Dióxido de Carbono", "carbon dioxide"),
     ("Метан", "methane"), ("Stickstoff", "nitrogen"), ("n - Butane", "n-butane")],
)  # fmt: skip
def test_as_reports_have_them(text, means):
    assert component_named(text) == means


def test_two_meanings_are_asked_about():
    with pytest.raises(AmbiguousError) as asked:
        component_named("C4H10", field="line 7")
    assert asked.value.field == "line 7"
    assert asked.value.choices == {"n-butane": "n-butane (C4H10)", "isobutane": "isobutane (C4H10)"}
    with pytest.raises(AmbiguousError):
        component_named("hexanes")  # of six carbons, or six and more


@pytest.mark.parametrize(
    ("text", "near"), [("Metane", "methane"), ("nitrgen", "nitrogen"), ("hydrogn sulfide", "hydrogen sulfide")]
)
def test_unknown_names_are_asked_with_near_ones(text, near):
    with pytest.raises(UnknownNameError) as unknown:
        component_named(text)
    assert near in unknown.value.near
    assert near in str(unknown.value)


def test_nothing_is_no_name():
    assert not is_known("")
    assert key(" -. ") == ""
    assert title("heptanes_plus") == "heptanes and heavier (C7+)"
