"""Cases beside one another in one call of the model, and taken apart again: a call costs the same for few and many."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from asfound.quantities.typing import Array, Values
from asfound.whatif.engine import Outcome, Setting, Unknowns

Part = TypeVar("Part", Setting, Unknowns)


def beside(parts: Sequence[Part], cases: int) -> Part:
    """Return settings (or unknowns) of so many cases each as one of all their cases."""
    first = parts[0]
    if len(parts) == 1:
        return first
    joined = {
        one.name: np.concatenate([np.broadcast_to(np.asarray(getattr(part, one.name)), cases) for part in parts])
        for one in fields(first)
    }
    return type(first)(**joined)


def gases_beside(gases: Sequence[Mapping[str, Values]], cases: int) -> Mapping[str, Values]:
    """Return gases of so many cases each as one of all their cases; a component that one has not has no share there."""
    if all(one is gases[0] or _same(one, gases[0]) for one in gases[1:]):
        return gases[0]
    names = dict.fromkeys(name for one in gases for name in one)
    return {
        name: np.concatenate([np.broadcast_to(np.asarray(one.get(name, 0.0)), cases) for one in gases])
        for name in names
    }


def _same(one: Mapping[str, Values], other: Mapping[str, Values]) -> bool:
    """Tell whether two gases are the same numbers for all cases."""
    return one.keys() == other.keys() and all(np.ndim(one[name]) == 0 and one[name] == other[name] for name in one)


def taken(one: Outcome, at: Array | NDArray[np.intp] | slice, cases: int) -> Outcome:
    """Return an outcome with some of its cases.

    Parameters
    ----------
    one : Outcome
    at : array of int, or slice
        Which.
    cases : int
        Of the outcome.
    """
    return _cut(one, at, cases)  # type: ignore[no-any-return]


def _cut(one: Any, at: Any, cases: int) -> Any:
    if isinstance(one, np.ndarray):
        return one[..., at] if one.shape[-1:] == (cases,) else one
    if is_dataclass(one) and not isinstance(one, type):
        return type(one)(**{f.name: _cut(getattr(one, f.name), at, cases) for f in fields(one) if f.init})
    return one
