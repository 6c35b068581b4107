"""What the HTTP door takes of a gas analysis."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from pydantic import StringConstraints

from asfound.errors import InputError
from asfound.web.api_bodies import Body, State, Typed

Report = Annotated[str, StringConstraints(max_length=100_000)]
Day = Annotated[str, StringConstraints(pattern=r"^(\d{4}-\d{2}-\d{2})?$")]


class GasBody(Body):
    """A gas analysis as text, and what the report leaves open."""

    text: Report
    """A component with its number in each line, as a laboratory writes it."""
    basis: Literal["mole", "volume", "mass"] | None = None
    heavier: Typed = ""
    """Split of C6+: ``60/30/10``."""
    plus_minus: Literal["standard", "k2"] | None = None
    decimal: Literal["point", "comma"] | None = None
    volume_at: Typed = ""
    """State of the cubic metres of traces: ``0 C, 101.325 kPa``."""
    uncertain: Literal["report", "astm_d1945"] = "report"
    sampled: Day = ""
    reference: Typed = "15/15"
    """Combustion and metering temperature of the numbers answered."""
    scale: bool = False
    without_air: bool = False
    leave_refused: bool = False


class KeepGasBody(GasBody):
    """A gas analysis to be kept in a visit, all of it or nothing."""

    state: State = "as_found"
    laboratory: Typed = ""
    report: Typed = ""
    correct: bool = False
    """Puts right the analysis that was taken last in this state."""


def sampled_on(typed: str) -> date | None:
    """Return the day of a sample; None where none was given, InputError for the 31st of June."""
    if not typed:
        return None
    try:
        return date.fromisoformat(typed)
    except ValueError:
        raise InputError("sampled", typed, "is no day", allowed="2032-05-02") from None
