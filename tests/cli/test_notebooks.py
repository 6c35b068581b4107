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


def kept(name):
    return json.loads((FOLDER / f"{name}.ipynb").read_text(encoding="utf-8"))


def without_numbers(notebook):
    """Cells with the kinds of what they show; the demo world may grow, and its numbers with it."""
    shown = [[sorted(out.get("data", {})) for out in one.get("outputs", ())] for one in notebook["cells"]]
    return [(one["cell_type"], one["source"]) for one in notebook["cells"]], shown


def test_the_cells_of_the_sheet_give_what_its_notebook_shows():
    assert make.notebook(FOLDER / "a_sheet.py") == kept("a_sheet"), "make them again: python docs/notebooks/make.py"


def test_the_cells_of_the_visit_run_and_show_the_same_kinds():
    pytest.importorskip("pandas")
    made = make.notebook(FOLDER / "a_visit.py")
    assert without_numbers(made) == without_numbers(kept("a_visit")), "make them again: python docs/notebooks/make.py"


@pytest.mark.parametrize("name", make.SOURCES)
def test_a_notebook_is_one(name):
    nbformat = pytest.importorskip("nbformat")
    nbformat.validate(nbformat.read(FOLDER / f"{name}.ipynb", as_version=4))


@pytest.mark.parametrize("name", make.SOURCES)
def test_a_notebook_is_small_and_names_no_machine(name):
    text = (FOLDER / f"{name}.ipynb").read_text(encoding="utf-8")
    assert len(text) < make.LARGEST
    assert not re.search(r"(/tmp|/home/|/Users|/root|[A-Z]:\\\\|<script)", text)
