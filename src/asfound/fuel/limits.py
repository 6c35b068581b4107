"""Limits on gas quality as documents print them, and what a gas violates.

The limits are data with their source and how it was seen; those from memory are to be checked before anybody relies on
them. What the engine's own document, the contract or the permit says overrides all of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

from asfound.errors import InputError, UnknownNameError
from asfound.fuel.methane_number import UNDECIDED
from asfound.quantities.conformity import probability_conforming
from asfound.sources.tables import load_csv

DECIDED = 0.95  # probability from which on a gas meets or violates a limit
_ORDER = ("violates", "undecided", "not read", "meets")


@dataclass(frozen=True, slots=True, kw_only=True)
class QualityLimit:
    """One limit of one document."""

    document: str
    group: str
    """Which gas or which point it is for, where the document tells them apart: ``biogas and similar``."""
    quantity: str
    unit: str
    """As the document prints it; m3 at the state that ``condition`` names."""
    least: float | None
    most: float | None
    condition: str
    found: Literal["read", "secondary", "memory"]
    source: str
    clause: str

    @property
    def says(self) -> str:
        """The limit in words: 'carbon dioxide at most 0.025 mol/mol'."""
        name = self.quantity.replace("_", " ")
        unit = "" if self.unit == "1" else f" {self.unit}"
        ends = (("at least", self.least), ("at most", self.most))
        ranges = " and ".join(f"{word} {value:g}{unit}" for word, value in ends if value is not None)
        return f"{name} {ranges}" + (f" ({self.condition})" if self.condition else "")


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """How a gas stands to a limit."""

    limit: QualityLimit
    value: float
    """In the unit of the limit; nan where nothing was read."""
    standard_uncertainty: float
    verdict: Literal["meets", "violates", "undecided", "not read"]
    probability_beyond: float
    """That the true value lies outside the limit; nan where nothing was read."""


@cache
def quality_limits() -> tuple[QualityLimit, ...]:
    """Return all packaged limits, in the order of the table."""
    rows = load_csv("asfound.fuel", "data/fuel_quality_limits.csv")
    return tuple(
        QualityLimit(
            document=row["document"],
            group=row["group"],
            quantity=row["quantity"],
            unit=row["unit"],
            least=float(row["least"]) if row["least"] else None,
            most=float(row["most"]) if row["most"] else None,
            condition=row["condition"],
            found=row["found"],  # type: ignore[arg-type]
            source=row["source"],
            clause=row["clause"],
        )
        for row in rows
    )


def documents() -> tuple[str, ...]:
    """Return the documents that limits are packaged of."""
    return tuple(dict.fromkeys(one.document for one in quality_limits()))


def judge(
    values: Mapping[str, tuple[float, float]],
    document: str,
    *,
    groups: Iterable[str] = (),
) -> tuple[Judgement, ...]:
    """Return how a gas stands to each limit of a document, what is violated first.

    Parameters
    ----------
    values : mapping of str to (float, float)
        Value and standard uncertainty by quantity, in the unit of the limit and at the state that it names. What is
        not there is answered 'not read'.
    document : str
        One of `documents`.
    groups : iterable of str
        Groups of limits that apply beside those for every gas.

    Returns
    -------
    tuple of Judgement
        'meets' or 'violates' where that is at least 95 % probable (JCGM 106), 'undecided' between. A methane number
        is also undecided within 2 of its limit, whatever its uncertainty, since the method itself is no better.

    Raises
    ------
    UnknownNameError
        No document, group or quantity is called so.
    InputError
        A negative uncertainty, or a value that is no number.
    """
    if document not in documents():
        raise UnknownNameError("document of gas quality", document, documents())
    wanted = set(groups)
    rows = [one for one in quality_limits() if one.document == document]
    for group in wanted - {one.group for one in rows}:
        raise UnknownNameError(f"group of limits of {document}", group, sorted({one.group for one in rows} - {""}))
    known = {one.quantity for one in quality_limits()}
    for name, (value, u) in values.items():
        if name not in known:
            raise UnknownNameError("quantity of gas quality", name, sorted(known))
        if not (math.isfinite(value) and math.isfinite(u) and u >= 0):
            raise InputError(
                name, f"{value:g} ± {u:g}", "is no value with its standard uncertainty",
                allowed="finite numbers, the uncertainty not below 0", try_next="Leave out what was not analysed.",
            )  # fmt: skip
    found = [_judged(one, values.get(one.quantity)) for one in rows if one.group == "" or one.group in wanted]
    return tuple(sorted(found, key=lambda one: _ORDER.index(one.verdict)))


def violations(
    values: Mapping[str, tuple[float, float]], document: str, *, groups: Iterable[str] = ()
) -> tuple[Judgement, ...]:
    """Return what a gas violates for certain or perhaps ('undecided'); see `judge`.

    Examples
    --------
    >>> [(one.limit.quantity, one.verdict)
    ...  for one in violations({"carbon_dioxide": (0.031, 0.001), "methane_number": (66.0, 0.3)}, "EN 16726 group H",
    ...                        groups=["sensitive point"])]
    [('carbon_dioxide', 'violates'), ('methane_number', 'undecided')]
    """
    return tuple(one for one in judge(values, document, groups=groups) if one.verdict in ("violates", "undecided"))


def _judged(limit: QualityLimit, given: tuple[float, float] | None) -> Judgement:
    if given is None:
        nan = math.nan
        return Judgement(limit=limit, value=nan, standard_uncertainty=nan, verdict="not read", probability_beyond=nan)
    value, u = given
    beyond = 1 - probability_conforming(value, u, lower=limit.least, upper=limit.most)
    verdict: Literal["meets", "violates", "undecided"] = (
        "violates" if beyond >= DECIDED else "meets" if beyond <= 1 - DECIDED else "undecided"
    )
    ends = [end for end in (limit.least, limit.most) if end is not None]
    if limit.quantity == "methane_number" and min(abs(value - end) for end in ends) <= UNDECIDED:
        verdict = "undecided"
    return Judgement(limit=limit, value=value, standard_uncertainty=u, verdict=verdict, probability_beyond=beyond)
