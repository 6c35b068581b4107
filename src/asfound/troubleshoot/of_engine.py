"""Which knowledge is for this engine: its kind and what is fitted, each with where that is taken from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from asfound.quantities.findings import Case
from asfound.troubleshoot.generic import NONE, for_engine
from asfound.troubleshoot.knowledge import Knowledge

SURE = 0.9
"""From here on what is believed to be fitted drops causes, where nobody looked (own setting)."""
SEEN = 0.75
"""The same where somebody looked (own setting)."""
EMPTY = (*NONE, "not_there")
BURNS = {"lean": "lean", "rich": "stoich"}
"""How the rules' words for the mixture name the kinds of the knowledge."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Dropped:
    """A cause, test or repair that does not apply to this engine."""

    id: str
    title: str
    what: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class OfEngine:
    """The knowledge for one engine, and what it was chosen by."""

    knowledge: Knowledge
    kinds: Mapping[str, bool]
    kinds_say: Mapping[str, str]
    fitted: Mapping[str, str]
    dropped: tuple[Dropped, ...]

    @property
    def generic(self) -> bool:
        """Whether nothing is known of the engine that would choose among the knowledge."""
        return not self.kinds and not self.fitted

    @property
    def why_generic(self) -> str:
        """Say why nothing was left out."""
        return "Neither its kind nor what is fitted is known: all causes are kept." if self.generic else ""


def of_engine(knowledge: Knowledge, case: Case) -> OfEngine:
    """Return what of the knowledge applies to the engine of a case."""
    kinds, say = kinds_of(case)
    fitted = fitted_of(case.identification)
    part = for_engine(knowledge, kinds=kinds, fitted=fitted)
    return OfEngine(
        knowledge=part, kinds=kinds, kinds_say=say, fitted=fitted, dropped=_dropped(knowledge, part.dropped)
    )


def kinds_of(case: Case) -> tuple[dict[str, bool], dict[str, str]]:
    """Return which kinds the engine is and is not, and where each is taken from; what is not known is left out."""
    engine = case.engine
    kinds: dict[str, bool] = {}
    say: dict[str, str] = {}

    def take(kind: str, value: bool, because: str) -> None:
        if kind not in kinds:
            kinds[kind], say[kind] = value, because

    if isinstance(engine.get("catalyst"), bool):
        take("catalyst", engine["catalyst"], "the engine's entry")
    turbochargers = (engine.get("turbochargers") or {}).get("count")
    if turbochargers is not None:
        take("turbo", turbochargers > 0, "the engine's entry")
    burn = str((engine.get("rules") or {}).get("burn", ""))
    if burn in BURNS:
        take(BURNS[burn], True, "what was said for the rules")
    _of_family(case, take)
    if kinds.get("lean"):
        take("stoich", False, "it burns lean")
    elif kinds.get("stoich"):
        take("lean", False, "it burns stoichiometric")
    return kinds, say


def _of_family(case: Case, take: Any) -> None:
    """Take what the catalogue's words for the family say of how it burns."""
    words = str(case.engine.get("combustion", "")).lower()
    if not words:
        return
    because = f"its family: {words}"
    if "lean" in words:
        take("lean", True, because)
    elif "stoich" in words:
        take("stoich", True, because)
    if "turbocharged" in words:
        take("turbo", True, because)
    if "open chamber" in words:
        take("prechamber", False, because)
    elif "prechamber" in words:
        take("prechamber", True, because)


def fitted_of(identification: Any) -> dict[str, str]:
    """Return what sits in each slot where that is sure enough, ``none`` for an empty one.

    Parameters
    ----------
    identification : Identification or None
        As the room of what is fitted gives it; None: nobody has looked.
    """
    found: dict[str, str] = {}
    for place in getattr(identification, "places", ()):
        if place.evidence_only:
            continue
        if place.looked == "not_there" and place.agrees:
            found[place.slot] = "none"
        elif place.variant and place.probability >= (SEEN if place.looked == "seen" else SURE):
            found[place.slot] = "none" if place.variant in EMPTY else place.variant
    return found


def _dropped(knowledge: Knowledge, why: Mapping[str, str]) -> tuple[Dropped, ...]:
    parts = (("cause", knowledge.causes), ("test", knowledge.tests), ("repair", knowledge.repairs))
    return tuple(
        Dropped(id=name, title=known[name].title, what=what, why=why[name])
        for what, known in parts
        for name in known
        if name in why
    )
