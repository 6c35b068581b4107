"""Numbers of a sheet as plain data, the same at every door: SI for programs, ``shown`` for people."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from asfound.quantities.display import interval_text, show
from asfound.quantities.register import quantity
from asfound.quantities.words import Reading, Result
from asfound.sources.register import cite

if TYPE_CHECKING:
    from asfound.quantities.register import System
    from asfound.quantities.worked import Worked


def finite(value: float) -> float | None:
    """Return a number that JSON can hold; None for one without answer."""
    return float(value) if math.isfinite(value) else None


def result_as_data(result: Result, worked: Worked, system: System = "si") -> dict[str, Any]:
    """Return a result with all that stands behind it, JSON-ready.

    Parameters
    ----------
    result : Result
    worked : Worked
        The sheet that it is of: knows the shares of its readings.
    system : str
        Units of ``shown``; all other numbers are SI.
    """
    text = show(result.value, result.quantity, system=system, interval=result.interval)
    interval = interval_text(text.value, text.low, text.high)
    return {
        "key": result.key,
        "quantity": result.quantity,
        "title": quantity(result.quantity).title,
        "state": result.state,
        "place": result.place,
        "value": finite(result.value),
        "unit": result.unit,
        "interval": [finite(one) for one in result.interval],
        "standard_uncertainty": finite(result.standard_uncertainty),
        "shown": {"value": text.value, "unit": text.unit, "low": text.low, "high": text.high, "interval": interval},
        "worksheet": result.worksheet,
        "method": result.method.name,
        "source": cite(result.method.source, result.method.clause),
        "source_key": result.method.source,
        "clause": result.method.clause,
        "cautions": list(result.cautions),
        "outside": list(result.outside),
        "assumed": [one.key for one in result.assumed],
        "inputs": [_input(one) for one in result.inputs],
        "shares": {key: finite(share) for key, share in worked.shares(result)},
    }


def _input(one: Reading | Result) -> dict[str, Any]:
    """Return what a result was made from."""
    common = {
        "key": one.key,
        "value": finite(one.value),
        "unit": one.unit,
        "standard_uncertainty": finite(one.standard_uncertainty),
    }
    if isinstance(one, Result):
        return common | {"worksheet": one.worksheet}
    return common | {"as_typed": one.as_typed, "origin": one.origin, "said_by": one.said_by}
