"""Finding of the cross-check: what the model of the cycle, as one more witness, says of the readings."""

from __future__ import annotations

import math
from collections.abc import Iterator

from asfound.crosscheck.findings_words import listed, lower
from asfound.crosscheck.model_witness import WORDS
from asfound.crosscheck.of_case import cross_check_of
from asfound.crosscheck.outcome import Checked, CheckedBalance, CrossCheck
from asfound.quantities.findings import Case
from asfound.quantities.words import STATES, Finding, State

MODEL = "model_"
"""Begins the name of a balance, and of an assumption, of the model."""
UNTOLD = {"rad": math.radians(20.0), "K": 250.0, "Pa": 6e6}
"""Smallest error that would be noticed from which on it is none worth telling; SI."""
DOES_NOT_DECIDE = (
    "A witness with a doubt of its own decides nothing: read again what is suspected with another instrument. What "
    "such a model cannot say stands on the page What if."
)


def find(case: Case) -> Iterator[Finding]:
    """Yield what the model says of each state whose setting it knows."""
    for state in STATES:
        found = cross_check_of(case, state)
        if found is not None and of_model(found):
            yield _said(state, found)


def of_model(found: CrossCheck) -> tuple[CheckedBalance, ...]:
    """Return the balances of the model."""
    return tuple(one for one in found.balances if one.name.startswith(MODEL))


def by_model_alone(found: CrossCheck) -> tuple[Checked, ...]:
    """Return the readings that stand in no balance but those of the model."""
    others = {name for one in found.balances if not one.name.startswith(MODEL) for name in one.takes}
    model = {name for one in of_model(found) for name in one.takes}
    return tuple(one for one in found.readings if not one.assumed and one.name in model - others)


def against(found: CrossCheck) -> tuple[CheckedBalance, ...]:
    """Return the balances of the model that do not close."""
    return tuple(one for one in of_model(found) if one.closes is False)


def _said(state: State, found: CrossCheck) -> Finding:
    open_ones = against(found)
    names = listed([WORDS[one.name.removeprefix(MODEL)] for one in open_ones or of_model(found)])
    says = (
        f"The cycle model, as one more witness, speaks against the readings: {names}"
        if open_ones
        else f"The cycle model, as one more witness, agrees with the readings within its own doubt: {names}"
    )
    alone = [one for one in by_model_alone(found) if one.smallest_error <= UNTOLD.get(one.unit, math.inf)]
    if alone:
        says = f"{says}. It alone checks {listed([_weakly(one) for one in alone])}"
    return Finding(
        code="CC-20",
        subject="crosscheck",
        says=says,
        severity="note",
        next_step=DOES_NOT_DECIDE,
        compared_with="cycle model, source of this witness; fitted to no reading of this state",
        because=tuple(one.key for one in alone if one.key),
        state=state,
    )


def _weakly(one: Checked) -> str:
    factor, unit = {"rad": (180.0 / math.pi, " deg"), "Pa": (1e-5, " bar"), "K": (1.0, " K")}.get(
        one.unit, (100.0 / abs(one.value) if one.value else math.nan, " %")
    )
    return f"{lower(one.title)} (an error below {factor * one.smallest_error:.0f}{unit} would not be noticed)"
