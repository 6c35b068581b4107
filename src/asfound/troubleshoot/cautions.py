"""The cautions that stand before a step, from the one register of cautions.

The register's table lies with what is fitted; it is read here as a table, since rooms of one floor do not use each
other's code.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from asfound.sources.tables import load_yaml

if TYPE_CHECKING:
    from asfound.troubleshoot.knowledge import Step

DEFER = "The engine's own manual, the rules of the site, its permit and the law of the place come first."
LICENSED = "Work that is kept for licensed people is left to them."


@dataclass(frozen=True, slots=True, kw_only=True)
class StepCaution:
    """A hazard of a step, what to do about it, and the text it rests on."""

    id: str
    tag: str
    hazard: str
    do: tuple[str, ...]
    rests_on: str


@cache
def register() -> tuple[StepCaution, ...]:
    """Return all cautions, in the order of the register."""
    rows = load_yaml("asfound.fitout", "data/cautions.yaml")["cautions"]
    return tuple(
        StepCaution(
            id=row["id"],
            tag=row["tag"],
            hazard=row["hazard"],
            do=tuple(row["do"]),
            rests_on=row["cited"] if row["cited_as"] == "none" else f"{row['cited']} ({row['cited_as']})",
        )
        for row in rows
    )


def tags() -> frozenset[str]:
    """Return the words that steps may use for their hazards."""
    return frozenset(one.tag for one in register())


def cautions_before(*steps: Step, also: Iterable[str] = ()) -> tuple[StepCaution, ...]:
    """Return the cautions of these steps, each once; a step on the isolated engine brings those of isolation."""
    wanted = {tag for one in steps for tag in one.hazards} | set(also)
    wanted |= {"loto" for one in steps if one.state == "isolated"}
    return tuple(one for one in register() if one.tag in wanted)
