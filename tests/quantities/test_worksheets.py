"""The register of worksheets, and the order of dependence among them."""

import subprocess
import sys

import pytest

from asfound.errors import UnknownNameError
from asfound.quantities import worksheets as register
from asfound.quantities.order import groups_in_order
from asfound.quantities.register import quantities
from asfound.quantities.worksheets import Take, find, load, worksheet
from asfound.sources.register import source

from .sheet_world import METHOD, World, reading, total


def test_every_worksheet_speaks_the_register_of_quantities_and_cites_a_registered_source():
    assert load()
    for sheet in load().values():
        for name in (*(take.quantity for take in sheet.takes), *sheet.gives):
            assert name in quantities(), f"{sheet.name}: {name}"
        assert source(sheet.method.source)
        assert sheet.title
        assert sheet.help.endswith((".", "]")), sheet.name
        for take in sheet.takes:
            assert take.assume is None or source(take.assume.source)


def test_the_order_does_not_hang_on_who_imported_what_first():
    script = "import {first}; from asfound.quantities.worksheets import load; print(*load())"
    answers = {
        subprocess.run(
            [sys.executable, "-c", script.format(first=first)], capture_output=True, text=True, check=True
        ).stdout
        for first in ("asfound.power.worksheets", "asfound.exhaust.worksheets", "asfound")
    }
    assert len(answers) == 1


def test_the_formula_stays_a_plain_function():
    world = World().add(total, takes=("a", "b"), gives="total")
    assert world.sheets["total"].formula is total
    assert total(1.0, 2.0) == 5.0
    assert world.sheets["total"].help == "Return a sum."


def test_an_unknown_worksheet_names_the_nearest():
    with pytest.raises(UnknownNameError, match="nox_at_reference_oxygen"):
        find("nox_at_reference_oxigen")


@pytest.mark.parametrize(
    "how",
    [
        {"takes": ("a",), "gives": "total"},
        {"takes": ("a", "a"), "gives": "total"},
        {"takes": ("a", "b"), "gives": ()},
        {"takes": ("a", "b"), "gives": ("total", "total")},
        {"takes": ("a", "b"), "gives": "total", "valid": {"c": (0, 1, "0 to 1")}},
        {"takes": ("a", "b"), "gives": "total", "refuses": {"c": lambda _: None}},
        {"takes": ("a", "b"), "gives": "total", "draws": 100},
    ],
)
def test_a_declaration_that_does_not_fit_its_formula_is_refused_when_written(how):
    with pytest.raises(ValueError, match="total"):
        worksheet(title="", method=METHOD, **how)(total)
    assert "total" not in register.WORKSHEETS


def test_two_rooms_cannot_give_one_name_to_two_formulas():
    first = next(iter(load()))

    def other(a):
        return a

    other.__name__ = first
    with pytest.raises(ValueError, match="already registered"):
        worksheet(title="", takes=("a",), gives="b", method=METHOD)(other)


def test_one_quantity_may_be_taken_from_two_places():
    def conversion(before, after):
        return 1.0 - after / before

    takes = (Take(quantity="a", place="before"), Take(quantity="a", place="after"))
    worked = (
        World()
        .add(conversion, takes=takes, gives="left", at="engine")
        .work_out(reading("a", 4, place="before"), reading("a", 1, place="after"))
    )
    assert worked.result("as_found/engine/left").value == 0.75


def test_a_long_chain_written_backwards_is_put_in_order():
    world = World()
    for at in range(40, 0, -1):
        _add_link(world, at)
    groups = list(groups_in_order(tuple(world.sheets.values())))
    assert [group[0].name for group, _ in groups] == [f"link_{at}" for at in range(1, 41)]
    assert not any(circular for _, circular in groups)


def _add_link(world, at):
    def link(x):
        return x

    link.__name__ = f"link_{at}"
    world.add(link, takes=(f"q{at - 1}",), gives=f"q{at}")


def test_nothing_heavy_is_fetched_to_know_what_there_is():
    """A start on a laptop is felt: libraries that take a second to load come in when something needs them."""
    script = (
        "import sys; from asfound.quantities import findings, worksheets; worksheets.load(); findings.load();"
        "heavy = {'scipy', 'sqlalchemy', 'starlette', 'typst', 'PIL'};"
        "print(sorted({name.split('.')[0] for name in sys.modules} & heavy))"
    )
    said = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True).stdout
    assert said.strip() == "[]"
