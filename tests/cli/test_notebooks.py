"""The example notebooks: what they show is what their cells give now; nothing of the machine they were made on."""

from __future__ import annotations

import importlib.util
import json
import re
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[2] / "docs" / "notebooks"
spec = importlib.util.spec_from_file_location("make_notebooks", FOLDER / "make.py")
make = importlib.util.module_from_spec(spec)
spec.loader.exec_module(make)


@pytest.mark.parametrize("name", make.SOURCES)
def test_the_cells_give_what_the_notebook_shows(name):
    pytest.importorskip("pandas")
    kept = json.loads((FOLDER / f"{name}.ipynb").read_text(encoding="utf-8"))
    assert make.notebook(FOLDER / f"{name}.py") == kept, "make them again: python docs/notebooks/make.py"


@pytest.mark.parametrize("name", make.SOURCES)
def test_a_notebook_is_one(name):
    nbformat = pytest.importorskip("nbformat")
    nbformat.validate(nbformat.read(FOLDER / f"{name}.ipynb", as_version=4))


@pytest.mark.parametrize("name", make.SOURCES)
def test_a_notebook_is_small_and_names_no_machine(name):
    text = (FOLDER / f"{name}.ipynb").read_text(encoding="utf-8")
    assert len(text) < make.LARGEST
    assert not re.search(r"(/tmp|/home/|/Users|/root|[A-Z]:\\\\|<script)", text)
