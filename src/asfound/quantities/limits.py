"""Judge numbers beside their limits: one way for all rooms, each with codes and advice of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from asfound.errors import InputError
from asfound.quantities.display import chance, show
from asfound.quantities.findings import Case
from asfound.quantities.parse import Amount
from asfound.quantities.register import quantity
from asfound.quantities.words import Finding, Limit, Reading, Result, Severity

SURE, UNSURE = 0.95, 0.05
"""Beyond from the first chance on, undecided down to the second. Engineering judgement: a permit may say otherwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """What a room says where a number stands so beside its limit."""

    code: str
    says: str
    """Reads on after the title of the quantity: 'is over the {limit}'."""
    severity: Severity
    next_step: str
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdicts:
    """A room's three verdicts."""

    beyond: Verdict
    undecided: Verdict
    inside: Verdict

    def at(self, probability: float) -> Verdict:
        """Return the verdict for a chance of being beyond. [0 to 1]"""
        if probability >= SURE:
            return self.beyond
        return self.undecided if probability > UNSURE else self.inside


def limit_value(read: Amount, name: str, field: str) -> float:
    """Return the value of a limit as it was typed. [SI]

    Raises
    ------
    InputError
        It is not one value, or below nought where nothing of this kind is.
    """
    if read.value is None or read.censored:
        raise InputError(
            field, read.as_typed, "is no value that can be a limit", try_next="Write one number with its unit."
        )
    least, _ = quantity(name).plausible
    if read.value < 0.0 <= least:
        raise InputError(
            field, read.as_typed, "is below nought; no such number is", allowed="0 or more",
            try_next="Read the text of the limit again.",
        )  # fmt: skip
    return read.value


def beside_limits(case: Case, step: str, verdicts: Verdicts) -> Iterator[Finding]:
    """Yield a finding for each number of a step of the visit that a limit is set for.

    Of several ways to one number the one that the sheet goes on with is judged. The chance of being beyond the limit
    is counted on the draws of the visit (JCGM 106:2012, 7).

    Parameters
    ----------
    case : Case
        The visit as it stands.
    step : str
        Step whose quantities are judged: ``exhaust``, ``load``.
    verdicts : Verdicts
        Codes, words and advice of the room.
    """
    for limit in case.limits:
        if quantity(limit.quantity).step != step:
            continue
        numbers: tuple[Result | Reading, ...] = (*case.worked.results, *case.readings)
        for key in dict.fromkeys(one.key for one in numbers):
            number = case.worked.taken(key)
            if number is not None and number.quantity == limit.quantity and limit.place in ("", number.place):
                yield _finding(case, number, limit, step, verdicts)


def _finding(case: Case, number: Result | Reading, limit: Limit, step: str, verdicts: Verdicts) -> Finding:
    """Return the finding of one number beside one limit."""
    beyond = case.worked.probability_beyond(number, limit)
    verdict = verdicts.at(beyond)
    system: Literal["si", "us"] = "us" if case.visit.get("system") == "us" else "si"
    said = show(number.value, number.quantity, system=system, interval=case.worked.interval(number))
    stands = f"{said.value} {said.unit} ({said.low} to {said.high}) of {limit.as_typed}"
    side = "over" if limit.side == "upper" else "under"
    return Finding(
        code=verdict.code,
        subject=step,
        says=f"{quantity(number.quantity).title} {verdict.says.format(limit=limit.name, side=side)}: {stands}",
        severity=verdict.severity,
        next_step=f"{chance(beyond)} to be {side}. {verdict.next_step}",
        compared_with=f"{limit.name} {limit.as_typed}" + (f", {limit.text}" if limit.text else ""),
        probability=beyond,
        because=(number.key,),
        cautions=verdict.cautions,
        state=number.state,
    )
