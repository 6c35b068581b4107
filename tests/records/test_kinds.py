"""What the record keeps fits what the rooms below take."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import get_args

import pytest

from asfound.errors import InputError
from asfound.fitout.looks import ANSWERS, HOWS, SeenLook
from asfound.quantities.instruments import Spec
from asfound.quantities.words import SEVERITIES, STATES
from asfound.records import kind_base, kinds, kinds_home, kinds_visit


def test_looks_can_hold_all_that_identification_takes():
    assert get_args(kind_base.How) == HOWS
    assert set(get_args(kinds_visit.Look.model_fields["answer"].annotation)) == set(ANSWERS)
    assert {one.name for one in fields(SeenLook)} - {"entry", "age"} <= set(kinds_visit.Look.model_fields)


def test_specifications_can_hold_all_that_an_instrument_states():
    assert {one.name for one in fields(Spec)} == set(kinds_home.Specification.model_fields)
    kept = kinds.check(
        "instrument", {"name": "A", "specs": {"exhaust_nox_dry": {"percent_of_reading": 5, "combine": "larger"}}}
    )
    assert Spec(**kept["specs"]["exhaust_nox_dry"]).combine == "larger"


def test_words_are_those_of_the_house():
    assert get_args(kind_base.State) == STATES
    assert get_args(kinds_visit.OpenPoint.model_fields["severity"].annotation) == SEVERITIES


def test_what_nobody_means_is_refused_when_it_is_typed_and_read_when_it_was_kept():
    seven = {"tag": "A9", "layout": {"form": "vee", "cylinders": 7}}
    with pytest.raises(InputError, match="two like rows"):
        kinds.check("engine", seven)
    reading = {"quantity": "exhaust_nox_dry", "place": "cylinder_", "state": "as_found", "as_typed": "1 ppm",
               "time": "2032-07-08T15:00:00Z", "value": 1e-6}  # fmt: skip
    with pytest.raises(InputError, match="which one"):
        kinds.check("reading", reading)
    assert kinds.readable("engine", seven)
    assert kinds.readable("reading", reading)
    with pytest.raises(InputError, match="a sign that cannot stand there"):
        kinds.check("reading", reading | {"place": "Cylinder 3"})


def test_every_kind_and_its_fields_are_in_the_docs_and_schema():
    page = (Path(__file__).parents[2] / "docs" / "records.md").read_text(encoding="utf-8")
    for kind, model in kinds.KINDS.items():
        assert f"`{kind}`" in page, kind
        assert model.__doc__, kind


def test_several_complaints_are_counted():
    with pytest.raises(InputError, match="2 more in this entry"):
        kinds.check(
            "reading",
            {
                "quantity": "x",
                "place": "y",
                "state": "as_found",
                "time": "now",
                "value": "a",
                "colour": 1,
                "as_typed": "",
            },
        )


def test_what_is_kept_once_is_kept_again_unchanged():
    content = kinds.check("note", {"text": "x", "time": "2032-07-08T15:00:00Z"})
    assert kinds.check("note", content) == content
