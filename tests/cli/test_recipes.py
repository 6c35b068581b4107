"""The recipes of docs/recipes, followed: what they promise happens, with no edit to any door."""

from __future__ import annotations

import json
import sys
import textwrap

import pytest

import asfound as package
from asfound.quantities import worksheets

FORMULA = '''
"""How far the charge is compressed."""

from __future__ import annotations

import numpy as np


def compression_of_charge(manifold_pressure, ambient_pressure):
    """Return the absolute manifold pressure over the absolute ambient pressure. [1]"""
    return np.divide(manifold_pressure, ambient_pressure)
'''
DECLARATION = '''
from __future__ import annotations

from asfound.quantities.words import Method
from asfound.quantities.worksheets import Take, worksheet
from asfound.chargeroom.charge import compression_of_charge


@worksheet(
    title="Compression of the charge",
    takes=("manifold_pressure", Take(quantity="barometric_pressure", place="site")),
    gives="excess_air_ratio",
    method=Method("ratio of absolute pressures", "own_calculation"),
    cautions=("local",),
    valid={"manifold_pressure": (50e3, 600e3, "0.5 to 6 bar absolute")},
)
def charge_compression(manifold_pressure, barometric_pressure):
    """Return how far the charge is compressed above ambient. [1]"""
    return compression_of_charge(manifold_pressure, barometric_pressure)
'''


@pytest.fixture
def new_worksheet(tmp_path, monkeypatch):
    """A room of its own beside the others, with the files that the recipe asks for; gone again afterwards."""
    room = tmp_path / "chargeroom"
    room.mkdir()
    (room / "__init__.py").write_text('"""A room for this test."""\n', encoding="utf-8")
    (room / "charge.py").write_text(textwrap.dedent(FORMULA), encoding="utf-8")
    (room / "worksheets.py").write_text(textwrap.dedent(DECLARATION), encoding="utf-8")
    monkeypatch.setattr(package, "__path__", [*package.__path__, str(tmp_path)])
    worksheets.load.cache_clear()
    yield "charge_compression"
    worksheets.WORKSHEETS.pop("charge_compression", None)
    for name in [name for name in sys.modules if name.startswith("asfound.chargeroom")]:
        del sys.modules[name]
    if hasattr(package, "chargeroom"):
        del package.chargeroom
    monkeypatch.undo()
    worksheets.load.cache_clear()


def test_a_new_worksheet_is_in_the_library(new_worksheet):
    assert worksheets.find(new_worksheet).title == "Compression of the charge"


def test_a_new_worksheet_is_at_the_command_line(new_worksheet, asfound):
    assert new_worksheet in asfound("calc").out
    assert "manifold_pressure" in asfound("calc", new_worksheet, "--help").out
    words = ("calc", new_worksheet, "manifold_pressure=2 bar g", "barometric_pressure=1 bar", "--json")
    result = asfound(*words).data["results"][0]
    assert result["value"] == pytest.approx(3.0), "gauge became absolute with the barometer"
    assert result["method"] == "ratio of absolute pressures"


def test_a_new_worksheet_says_where_it_does_not_hold(new_worksheet, asfound):
    words = ("calc", new_worksheet, "manifold_pressure=9 bar a", "barometric_pressure=1 bar", "--json")
    assert asfound(*words).data["results"][0]["outside"]


@pytest.fixture
def pages(demo):
    from starlette.testclient import TestClient

    from asfound.records.store import Records
    from asfound.web.app import create_app

    records = Records.open(demo)
    with TestClient(create_app(records), base_url="http://127.0.0.1") as client:
        yield client
    records.close()


def test_a_new_worksheet_is_in_the_api(new_worksheet, pages):
    described = pages.get("/api/openapi.json").json()
    assert new_worksheet in json.dumps(described)


def test_a_new_worksheet_is_on_the_page_that_lists_them(new_worksheet, pages):
    from asfound.web.app import create_app  # noqa: F401  (the pages are made by the same register)

    listed = pages.get("/worksheets")
    assert listed.status_code == 200
    assert "Compression of the charge" in listed.text
