"""A question kept as proposed, and back: the setting itself is kept, its answer is worked out anew."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from asfound.quantities.register import quantity
from asfound.report.content_whatif import LackingShown, WhatIfShown, whatif_shown
from asfound.report.whatif_question import PARTS, Question
from asfound.report.wording import clock, day_words

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.quantities.words import State
    from asfound.records.entries import Entry
    from asfound.records.visit import VisitView
    from asfound.report.whatif_question import Asked
    from asfound.report.wording import System

KIND = "proposed_setting"


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """A setting that was kept as proposed."""

    entry: str
    """Identifier."""
    state: State
    question: Question
    gas: Mapping[str, float]
    words: str
    why: str
    who: str
    time: str
    day: str


def content_of(asked: Asked, state: State, gas: str, *, system: System, why: str, time: str) -> dict[str, Any]:
    """Return the content of the entry that keeps a question."""
    return {
        "state": state,
        "changes": {
            name: {"as_typed": typed(name, value, system), "value": value} for name, value in asked.targets.items()
        },
        "gas": dict(asked.fuel or {}),
        "gas_as_typed": gas if asked.fuel else "",
        "why": why,
        "time": time,
    }


def typed(name: str, value: float, system: System) -> str:
    """Return a value of a part as it can be typed, with its unit.

    >>> typed("timing", 0.28798, "si"), typed("mixture", 1.74, "us")
    ('16.5 deg', '1.74')
    """
    about = quantity(PARTS[name].quantity)  # type: ignore[index]
    symbol = about.display(system)
    number = f"{float(about.to_unit(value, symbol)):.5g}"
    return number if symbol == "1" else f"{number} {symbol}"


def proposed_of(view: VisitView) -> tuple[Proposed, ...]:
    """Return the settings that a visit keeps as proposed, the newest last."""
    system: System = "us" if view.system == "us" else "si"
    return tuple(_proposed(one, system) for one in view.entries if one.kind == KIND)


def _proposed(entry: Entry, system: System) -> Proposed:
    content = entry.content
    parts = {name: float(one["value"]) for name, one in content.get("changes", {}).items() if name in PARTS}
    gas = {str(name): float(share) for name, share in content.get("gas", {}).items()}
    texts = {name: typed(name, value, system) for name, value in parts.items()}
    words = [f"{PARTS[name].title} {texts[name]}" for name in PARTS if name in parts]
    if gas:
        texts["gas"] = str(content.get("gas_as_typed") or "the gas that was asked")
        words.append(f"gas: {texts['gas']}")
    return Proposed(
        entry=entry.id, state=content["state"], question=Question(typed=texts), gas=gas, words="; ".join(words),
        why=str(content.get("why", "")), who=entry.who, time=clock(str(content["time"])),
        day=day_words(str(content["time"])),
    )  # fmt: skip


def shown_of(view: VisitView, one: Proposed, system: System) -> WhatIfShown | LackingShown:
    """Return the answer to a proposed setting, worked out from the visit as it stands; what paper lacks left out."""
    gases = {one.question.of("gas"): one.gas} if one.gas else {}
    return whatif_shown(view, one.state, one.question, system, gases=gases, decimal=".", whole=False, maps=False)
