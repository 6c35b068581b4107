"""A document for each reader of a visit: one definition each, registered here; every door asks the register."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from asfound.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.records.store import Records
    from asfound.records.visit import VisitView
    from asfound.report.readers.making import Made, Reader
    from asfound.report.wording import System

NAMES = (
    "operator", "site_manager", "compliance", "reliability", "parts", "planning", "engineering", "office",
    "next_engineer", "accountant",
)  # fmt: skip
"""Modules of this folder, in the order in which they are listed; each has its ``READER``."""


@cache
def readers() -> Mapping[str, Reader]:
    """Return all readers by name, in order."""
    from importlib import import_module

    found = (import_module(f"asfound.report.readers.{name}").READER for name in NAMES)
    return {one.name: one for one in found}


def reader(name: str) -> Reader:
    """Return a reader; a hyphen or blank in its name may stand for the line.

    Raises
    ------
    InputError
        No such reader; names those there are.
    """
    plain = name.strip().casefold().replace("-", "_").replace(" ", "_")
    if plain not in readers():
        raise InputError("reader", name[:80], "is no reader of a visit", allowed=", ".join(readers()))
    return readers()[plain]


def document(records: Records | None, view: VisitView, name: str, *, system: System | None = None) -> Made:
    """Return the document of a reader from a visit.

    Parameters
    ----------
    name : str
        Of `NAMES`.
    system : {'si', 'us'}, optional
        Units of the reader; those of the site when None.
    """
    from asfound.report.readers.ground import Ground
    from asfound.report.readers.making import made

    units: System = system or ("us" if view.system == "us" else "si")
    return made(reader(name), Ground(kept=records, view=view, system=units))
