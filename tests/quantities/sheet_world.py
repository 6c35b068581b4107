"""A small world for tests of the sheet: its own quantities and worksheets, nothing of an engine."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from asfound.errors import InputError
from asfound.quantities import worksheets as register
from asfound.quantities.sheet import work_out
from asfound.quantities.words import Method, Reading
from asfound.quantities.worksheets import Assumption, Take, worksheet

METHOD = Method("test", "common_practice")


@dataclass(frozen=True)
class Kind:
    """What the sheet must know of a quantity."""

    title: str
    si_unit: str = "1"
    carries: bool = False


NAMES = (
    "a", "b", "c", "d", "total", "product", "root", "pressure", "density", "heavy", "heavier", "left", "right", "chain",
)  # fmt: skip
KINDS = {name: Kind(name) for name in NAMES} | {
    "barometric_pressure": Kind("barometer", "Pa"),
    "height": Kind("height", "m", carries=True),
    "barred": Kind("barred", carries=True),
}


class World:
    """Worksheets registered in a test, apart from those of the program."""

    def __init__(self):
        self.sheets = {}

    def add(self, formula, **how):
        """Register a formula as a worksheet of this world only."""
        before = dict(register.WORKSHEETS)
        register.WORKSHEETS.pop(formula.__name__, None)
        try:
            worksheet(**({"title": formula.__name__, "method": METHOD} | how))(formula)
            self.sheets[formula.__name__] = register.WORKSHEETS[formula.__name__]
        finally:
            register.WORKSHEETS.clear()
            register.WORKSHEETS.update(before)
        return self

    def work_out(self, *readings, **how):
        """Work out with the worksheets of this world."""
        return work_out(readings, worksheets=self.sheets, quantities=KINDS, **({"number": 2_000} | how))


def reading(quantity, value, u=0.1, place="stack", state="as_found", **more):
    """Return a reading."""
    return Reading(
        quantity=quantity, place=place, state=state, time="2032-07-08T10:00:00-06:00", value=float(value),
        unit=KINDS[quantity].si_unit, as_typed=f"{value:g}", standard_uncertainty=u, **more,
    )  # fmt: skip


def total(a, b):
    """Return a sum."""
    return a + 2.0 * b


def product(total, c):
    """Return a product."""
    return total * c


def root(a):
    """Return a root; nan below zero."""
    return np.sqrt(a)


def density(pressure, c):
    """Return something of an absolute pressure."""
    return pressure / c


def not_negative(given):
    """Refuse what is negative."""
    if given.value < 0:
        raise InputError(given.key, f"{given.value:g}", "is negative", allowed="0 or more", try_next="Read it again.")


ASSUMED_C = Take(
    quantity="c", assume=Assumption(value=3.0, standard_uncertainty=0.3, says="three", source="engineering_judgement")
)


def simple():
    """Return a world with a sum, a product on it, and a root."""
    return (
        World()
        .add(product, takes=("total", ASSUMED_C), gives="product")
        .add(total, takes=("a", "b"), gives="total")
        .add(root, takes=("a",), gives="root")
    )
