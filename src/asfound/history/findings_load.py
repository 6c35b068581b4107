"""Finding of a load that is held down, beside what the engine may give by the visit's own sheet."""

from __future__ import annotations

from collections.abc import Iterator

from asfound.history.channels import split_channel
from asfound.history.findings_trends import YEAR, finding
from asfound.history.load_parts import LoadHeld
from asfound.history.load_words import SETTING, THEN, held_says, load_text, why_held
from asfound.history.look_parts import EngineLook
from asfound.history.look_words import System
from asfound.quantities.words import Finding

CLOSE = 0.02
"""A level so near to the rating is held at it. [1]"""


def find(look: EngineLook, system: System = "si", may_give: float | None = None) -> Iterator[Finding]:
    """Yield the last level that holds, or that was left within a year; ``may_give`` is the rating on site in W."""
    recent = [one for one in look.loads if not one.end or one.end >= look.end - YEAR]
    if not recent:
        return
    one = recent[-1]
    why, _ = why_held(one)
    quantity, place = split_channel(one.channel)
    yield finding(
        look, "HI-44", f"{held_says(one, system)}{_beside(one, system, may_give)}",
        "note" if one.end or why in (SETTING, "unknown") else "soon", THEN[why], group="knock", quantity=quantity,
        place=place, held_by=why,
    )  # fmt: skip


def _beside(one: LoadHeld, system: System, may_give: float | None) -> str:
    if not may_give or may_give <= 0.0 or one.end:
        return ""
    rating, apart = load_text(may_give, one.channel, system), one.level / may_give - 1.0
    if abs(apart) <= CLOSE:
        return f" That is the rating on site worked out for this visit ({rating})."
    way = "below" if apart < 0 else "above"
    return f" That is {100.0 * abs(apart):.0f} % {way} the rating on site worked out for this visit ({rating})."
