"""The register of worksheets: what every door can offer, without knowing any of them by name.

A worksheet is one calculation of the trade: typed inputs, typed results. The room that owns it writes a plain formula
and says what it takes and gives, by which method, with which cautions, ranges and refusals. How it is shown, and how
its uncertainty comes about, is nobody's business there: the formula works on the draws of the visit as on one number.
"""

from __future__ import annotations

import importlib
import inspect
import pkgutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from types import MappingProxyType
from typing import Any, Literal, TypeVar

from asfound.errors import UnknownNameError
from asfound.quantities.words import Method, Reading, Result

SAME = "same"
"""A take with this place is looked for where the worksheet runs."""

ROOMS_WITHOUT = frozenset({"quantities", "sources", "evidence", "records", "report", "web", "cli"})
"""Rooms that have no worksheets of their own; a door may call a page of its own ``worksheets``."""

Formula = Callable[..., Any]
Refusal = Callable[[Reading | Result], None]
F = TypeVar("F", bound=Formula)


@dataclass(frozen=True, slots=True, kw_only=True)
class Assumption:
    """What a worksheet takes for granted when nobody read it: a value with a wide interval and its source."""

    value: float
    """In the SI unit of the quantity."""
    standard_uncertainty: float
    """In the same unit: as wide as not knowing is."""
    says: str
    """What is assumed, in words: 'natural gas of pipeline quality'."""
    source: str
    """Key in the register of sources."""
    distribution: Literal["normal", "rectangular", "triangular", "arcsine"] = "normal"


@dataclass(frozen=True, slots=True, kw_only=True)
class Take:
    """One input of a worksheet: which quantity, from where, and what if nobody read it.

    Parameters
    ----------
    quantity : str
        Its name in the register of quantities.
    place : str
        ``same`` (where the worksheet runs, or a wider place) or a fixed place; with ``each`` a pattern: ``stage_*``.
    each : bool
        All the places of the pattern at once. The formula gets an array of shape (places, draws), or (places, 1) where
        every one is exact, places in their order by number; it works along axis 0. A place of the pattern that holds
        any reading must hold this quantity too, else it is missing: a sum of some stages is no sum.
    some : bool
        With ``each``: the places that hold the quantity are enough, as for cylinders with a sensor.
    optional : bool
        The worksheet runs without it; the formula then gets ``default``.
    default : float or None
        What the formula gets for an optional input that nobody read. [SI]
    assume : Assumption or None
        Used, and marked as assumed, when nobody read it.
    """

    quantity: str
    place: str = SAME
    optional: bool = False
    default: float | None = None
    assume: Assumption | None = None
    each: bool = False
    some: bool = False

    def place_of(self, number: int) -> str:
        """Return the place of one of several values, counted from 1: ``stage_2`` of ``stage_*``."""
        return self.place.replace("*", str(number))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Worksheet:
    """One calculation of the trade, as the doors see it. Two are the same only if they are one object."""

    name: str
    title: str
    room: str
    takes: tuple[Take, ...]
    """In the order of the formula's arguments."""
    gives: tuple[str, ...]
    """Quantities, in the order of the formula's answers."""
    method: Method
    formula: Formula
    at: str = "engine"
    """Where its results lie when no take is looked for at the same place."""
    cautions: tuple[str, ...] = ()
    """Tags of the register of cautions."""
    valid: Mapping[str, tuple[float, float, str]] = field(default_factory=dict)
    """Quantity to (low, high, the range in words): outside it the result stands, and says so. [SI]"""
    refuses: Mapping[str, Refusal] = field(default_factory=dict)
    """Quantity to a function that raises `InputError` when no answer can be given from this input."""
    draws: int | None = None
    """Most draws it takes, for a heavy formula; None: all draws of the visit."""
    draws_because: str = ""
    """Why it takes no more."""

    @property
    def help(self) -> str:
        """First paragraph of the formula's docstring."""
        return (inspect.getdoc(self.formula) or "").split("\n\n")[0].replace("\n", " ")


WORKSHEETS: dict[str, Worksheet] = {}


def worksheet(
    *,
    title: str,
    takes: Sequence[Take | str],
    gives: str | Sequence[str],
    method: Method,
    at: str = "engine",
    cautions: Sequence[str] = (),
    valid: Mapping[str, tuple[float, float, str]] | None = None,
    refuses: Mapping[str, Refusal] | None = None,
    draws: int | None = None,
    draws_because: str = "",
) -> Callable[[F], F]:
    """Register the decorated formula as a worksheet under its own name; the formula stays a plain function.

    The formula takes SI floats or arrays of equal length, positionally, in the order of ``takes``; it answers one
    number or array, or a tuple of them in the order of ``gives``; nan where there is no answer. It must work draw by
    draw: no draw of the answer may depend on another draw of the inputs.

    Parameters
    ----------
    title : str
        What the doors call it.
    takes : sequence of Take or str
        A bare quantity stands for ``Take(quantity=...)``.
    gives : str or sequence of str
        Quantities that it gives.
    method : Method
        Name of the method, its source and clause.
    at, cautions, valid, refuses, draws, draws_because
        As in `Worksheet`.

    Raises
    ------
    ValueError
        The declaration does not fit the formula, or another formula bears the name.
    """

    def register(formula: F) -> F:
        wanted = tuple(Take(quantity=one) if isinstance(one, str) else one for one in takes)
        sheet = Worksheet(
            name=formula.__name__,
            title=title,
            room=_room_of(formula.__module__),
            takes=wanted,
            gives=(gives,) if isinstance(gives, str) else tuple(gives),
            method=method,
            formula=formula,
            at=at,
            cautions=tuple(cautions),
            valid=MappingProxyType(dict(valid or {})),
            refuses=MappingProxyType(dict(refuses or {})),
            draws=draws,
            draws_because=draws_because,
        )
        _check(sheet)
        before = WORKSHEETS.get(sheet.name)
        if before is not None and before.formula.__module__ != formula.__module__:
            raise ValueError(f"worksheet '{sheet.name}' is already registered by {before.formula.__module__}")
        WORKSHEETS[sheet.name] = sheet
        return formula

    return register


@cache
def load() -> Mapping[str, Worksheet]:
    """Import the worksheets of every room and return the register: by room, by its ``SUBJECTS``, then as written.

    The order decides which method is taken where several give one quantity, so it must not hang on who imported what
    first. Worksheets registered later, or by a module that no room lists, are not in the answer.
    """
    import asfound

    order: dict[str, int] = {}
    for found in pkgutil.iter_modules(asfound.__path__):
        if found.ispkg and found.name not in ROOMS_WITHOUT:
            for subject in _subjects(f"asfound.{found.name}.worksheets"):
                order[subject] = len(order)
    listed = (one for one in WORKSHEETS.values() if one.formula.__module__ in order)
    ordered = sorted(listed, key=lambda one: order[one.formula.__module__])  # stable: as written inside a module
    return MappingProxyType({sheet.name: sheet for sheet in ordered})


def find(name: str) -> Worksheet:
    """Return the worksheet of that name.

    Raises
    ------
    UnknownNameError
        No room has registered it; the error names the nearest.
    """
    known = load()
    if name not in known:
        raise UnknownNameError("worksheet", name, known)
    return known[name]


def _subjects(name: str) -> list[str]:
    """Import a room's worksheets and return the names of the modules that hold them, in the order of preference.

    A room without the module has none; an error inside it is an error.
    """
    try:
        module = importlib.import_module(name)
    except ModuleNotFoundError as error:
        if error.name != name:
            raise
        return []
    return [name, *(one.__name__ for one in getattr(module, "SUBJECTS", ()))]


def _room_of(module: str) -> str:
    """Return the room of a module: ``asfound.exhaust.worksheets`` is of ``exhaust``."""
    parts = module.split(".")
    return parts[1] if parts[0] == "asfound" and len(parts) > 1 else parts[0]


def _check(sheet: Worksheet) -> None:
    """Refuse a declaration that does not fit its formula."""
    positional = [
        one
        for one in inspect.signature(sheet.formula).parameters.values()
        if one.kind in (one.POSITIONAL_ONLY, one.POSITIONAL_OR_KEYWORD)
    ]
    if len(positional) != len(sheet.takes):
        raise ValueError(f"worksheet '{sheet.name}' takes {len(sheet.takes)} quantities, its formula {len(positional)}")
    if not sheet.gives or len(set(sheet.gives)) != len(sheet.gives):
        raise ValueError(f"worksheet '{sheet.name}' must give at least one quantity, and each once")
    if len({(one.quantity, one.place) for one in sheet.takes}) != len(sheet.takes):
        raise ValueError(f"worksheet '{sheet.name}' takes one quantity twice from the same place")
    if any((one.some or "*" in one.place) and not one.each for one in sheet.takes):
        raise ValueError(f"worksheet '{sheet.name}' has a take of several places that does not say `each`")
    if any(one.each and one.assume for one in sheet.takes):
        raise ValueError(f"worksheet '{sheet.name}' assumes a quantity at each of several places; let it be optional")
    taken = {one.quantity for one in sheet.takes}
    for quantity in (*sheet.valid, *sheet.refuses):
        if quantity not in taken | set(sheet.gives):
            raise ValueError(
                f"worksheet '{sheet.name}' has a range or refusal for '{quantity}', which it does not take"
            )
    if sheet.draws is not None and (sheet.draws < 1 or not sheet.draws_because):
        raise ValueError(f"worksheet '{sheet.name}' must say how many draws it takes at most, and why")
