"""What is worked out of something that never changes is kept in it, and goes with it.

A memory of its own would hold the last few sheets with all their draws long after everybody else let them go.
"""

from __future__ import annotations

from functools import wraps
from typing import TYPE_CHECKING, Concatenate, ParamSpec, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

Whole = TypeVar("Whole")
More = ParamSpec("More")
Made = TypeVar("Made")


def kept_with(
    function: Callable[Concatenate[Whole, More], Made],
) -> Callable[Concatenate[Whole, More], Made]:
    """Make a function keep what it gives in its first argument, an object with attributes, for each of the others.

    >>> class Sheet: ...
    >>> @kept_with
    ... def answer(sheet: Sheet, name: str) -> list[str]:
    ...     return [name]
    >>> sheet = Sheet()
    >>> answer(sheet, "power") is answer(sheet, "power"), answer(sheet, "power") is answer(Sheet(), "power")
    (True, False)
    """
    name = f"{function.__module__}.{function.__qualname__}"

    @wraps(function)
    def asked(whole: Whole, /, *more: More.args, **named: More.kwargs) -> Made:
        kept = whole.__dict__.setdefault(name, {})
        key = (more, tuple(named.items()))
        if key not in kept:
            kept[key] = function(whole, *more, **named)
        found: Made = kept[key]
        return found

    return asked
