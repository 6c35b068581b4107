"""Options that many commands share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal

from cyclopts import Parameter

Paper = Literal["home", "a4", "letter"]
"""Sheet that a PDF is set on; ``home``: the one that is set there."""


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class Out:
    """How the answer is written."""

    json: bool = False
    """Answer in JSON."""


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class Home(Out):
    """Which record is read."""

    home: Annotated[str, Parameter(env_var="ASFOUND_HOME")] = ""
    """Folder where the record lies, or address of a database; else that of this user."""


@Parameter(name="*")
@dataclass(frozen=True, kw_only=True)
class Hand(Home):
    """Who writes into the record."""

    who: Annotated[str, Parameter(env_var="ASFOUND_WHO")] = ""
    """Name under which it is kept; else the person set in this home, or this user."""
