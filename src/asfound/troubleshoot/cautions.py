"""The cautions that stand before a step of troubleshooting, from the one register of cautions."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from asfound.sources.cautions import Caution, cautions

if TYPE_CHECKING:
    from asfound.troubleshoot.knowledge import Step

LICENSED = "Work that is kept for licensed people is left to them."


def cautions_before(*steps: Step, also: Iterable[str] = ()) -> tuple[Caution, ...]:
    """Return the cautions of these steps, each once; a step on the isolated engine brings those of isolation."""
    wanted = {tag for one in steps for tag in one.hazards} | set(also)
    wanted |= {"loto" for one in steps if one.state == "isolated"}
    return tuple(one for one in cautions().values() if one.tag in wanted)
