"""Words for verdicts on cylinders: chances, sides, what a witness said."""

from __future__ import annotations

from asfound.cylinders.inference_knowledge import Witness
from asfound.cylinders.inference_model import Statement

SIDE_WORDS = {
    "nothing": "Nothing is wrong with cylinder or sensor",
    "sensor": "The sensor, not the cylinder",
    "cylinder": "The cylinder",
    "other": "Something else, or more than one thing",
}


def in_hundred(probability: float) -> str:
    """Return a probability as people say it; never 0 or 100 in 100.

    >>> in_hundred(0.973), in_hundred(0.9996), in_hundred(0.001)
    ('97 in 100', 'more than 99 in 100', 'fewer than 1 in 100')
    """
    percent = 100 * probability
    if percent < 0.5:
        return "fewer than 1 in 100"
    if percent > 99.5:
        return "more than 99 in 100"
    return f"{percent:.0f} in 100"


def side_words(side: str) -> str:
    """Return a side as the beginning of a sentence."""
    return SIDE_WORDS[side]


def stated(witness: Witness, statement: Statement) -> str:
    """Return what was said: the words that came with it, else those of the states."""
    if statement.could_not_tell:
        return "looked, could not tell"
    if statement.says:
        return statement.says
    if statement.value is not None:
        doubt = f" ± {statement.u:.2g}" if statement.u else ""
        return f"{statement.value:+.3g}{doubt} ({witness.unit})"
    return " or ".join(witness.states[state].says for state in statement.states)
