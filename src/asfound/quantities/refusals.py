"""What a worksheet says to a person whose number cannot be."""

from __future__ import annotations

from asfound.errors import InputError
from asfound.quantities.display import show
from asfound.quantities.words import Reading, Result
from asfound.quantities.worksheets import Refusal


def impossible(given: Reading | Result, says: str, *, allowed: str, try_next: str) -> InputError:
    """Return the error to raise for a number that cannot be, quoted as it was typed.

    Parameters
    ----------
    given : Reading or Result
        A result, which nobody typed, is quoted as it is shown.
    says : str
        What it is not: ``is no relative humidity``.
    allowed : str
        The range in words.
    try_next : str
        What to do at the engine.
    """
    typed = given.as_typed if isinstance(given, Reading) else str(show(given.value, given.quantity))
    return InputError(given.key, typed, says, allowed=allowed, try_next=try_next)


def between(low: float, high: float, allowed: str, try_next: str, says: str = "cannot be") -> Refusal:
    """Return a refusal of what lies outside a range that nothing real leaves; its ends are allowed. [SI]"""

    def refuse(given: Reading | Result) -> None:
        if not low <= given.value <= high:
            raise impossible(given, says, allowed=allowed, try_next=try_next)

    return refuse
