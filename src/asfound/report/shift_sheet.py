"""The half sheet for the shift: may it run on, what to watch, what to leave alone, what was done, whom to call."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from asfound.records.standing import standing
from asfound.report.content_crosscheck_words import lower
from asfound.report.content_judged import safe
from asfound.report.wording import System, day_words, named, say, sentence
from asfound.troubleshoot.cured import cylinder_of

if TYPE_CHECKING:
    from asfound.quantities.words import Finding
    from asfound.records.visit import VisitView

WATCHED = ("exhaust_oxygen_dry", "manifold_pressure", "jacket_water_outlet_temperature", "oil_pressure")
"""Readings that show the shift whether mixture and engine stay as they were left. Common practice, no source."""
DANGER = ("FU-16",)
"""Findings that are only noted, and yet must reach who opens a valve: a gas that must not be breathed."""
NOT_FOR_THE_SHIFT = ("PW-14", "PW-15")
"""Findings that only who measures next needs: a load too low for a fair test."""
STANDS_APART, VERDICTS = ("CY-10", "CY-11"), ("CY-30", "CY-31", "CY-35")
"""Findings that a cylinder reads cold or hot, and those that say whether it is the cylinder or its sensor."""
SHIFT = re.compile(r"\b(shift|operators?|control room)\b", re.I)
"""Whom an open point is given to, for it to stand on this sheet."""
SHORT = 130
"""Characters of a line on the half sheet; the whole text stands in the record."""
ROWS = 4


def operator(view: VisitView, system: System, *, whole: bool = False) -> dict[str, Any]:
    """Return what the shift needs, in lines of a half sheet, or ``whole`` to be read aloud."""
    tag = view.engine.tag
    cut = sentence if whole else _short
    works = f", works {view.engine.content['works_number']}" if view.engine.content.get("works_number") else ""
    basis = safe(view).removeprefix("Yes. ").removeprefix("No. ")
    done = [f"{e.says.rstrip('.')}{f' ({e.minutes:g} min)' if e.minutes else ''}." for e in view.day.events
            if e.kind == "changed" and e.says]  # fmt: skip
    return {
        "big": _big(view),
        "basis": f"{basis} The rules of the site and its permit come first.",
        "watch": [cut(one) for one in _watch(view, system)[:ROWS]] or ["Nothing beyond the usual rounds."],
        "alone": [cut(one) for one in _alone(view)[:3]] or ["Settings, as they stand in the record of this visit."],
        "done": [cut(one) for one in done[:2]] or ["Readings and looks only; nothing was changed."],
        "call": [f"The service. Say: {tag}{works}, visit of {day_words(view.visit.date)}."],
        "note": f"full record: {view.visit.name}",
    }


def _short(text: str) -> str:
    """Return a line for the half sheet: whole sentences while they fit, else cut at a word, saying so."""
    if len(text) <= SHORT:
        return sentence(text)
    ends = [met.end(1) for met in re.finditer(r"(?<=[a-z\d)])([.;])\s", text[:SHORT])]
    if ends and ends[-1] >= SHORT // 3:
        return sentence(f"{text[: ends[-1] - 1]}.")
    kept = text[:SHORT].rpartition(" ")[0] or text[:SHORT]
    return f"{sentence(kept)} … (more in the record)"


def _kept_at(view: VisitView, system: System) -> list[str]:
    """Return at what the readings that the shift can see were left, with their interval."""
    said = []
    for kept in view.readings.values():
        if kept.state == "as_left" and kept.quantity in WATCHED and kept.reading is not None:
            words = say(kept.reading, system)
            said.append(
                f"{named(kept.quantity, kept.place)}: left at {words.whole} ({words.interval}). If it moves away, call."
            )
    return said


def _big(view: VisitView) -> str:
    tag = view.engine.tag
    if any(one.severity == "stop" for one in standing(view)):
        return f"{tag} must not run on."
    if not view.readings:
        return f"{tag} was not judged."
    return f"{tag} may run on." if view.engine_state == "running" else f"{tag} was left {view.engine_state}."


def _watch(view: VisitView, system: System) -> list[str]:
    """Return what asks for a stop or harms people, what the shift was asked, at what readings were left, the rest."""
    stands = _for_the_shift(standing(view))
    first = [one for one in stands if one.severity == "stop" or one.code in DANGER]
    then = [one for one in stands if one.severity in ("visit", "soon") and one.subject != "fitted" and one not in first]
    asked = [
        f"{str(one.content['says']).rstrip('.')}."
        for one in view.open_points
        if not one.content.get("done") and SHIFT.search(str(one.content.get("who") or ""))
    ]
    cured = _cured(view)
    return [_whole(one) for one in first] + cured + asked + _kept_at(view, system) + [_whole(one) for one in then]


def _for_the_shift(found: list[Finding]) -> list[Finding]:
    """Return the findings that the shift needs; of a cylinder that is judged the verdict only."""
    judged = {cylinder_of(one) for one in found if one.code in VERDICTS}
    return [
        one for one in found
        if one.code not in NOT_FOR_THE_SHIFT and not (one.code in STANDS_APART and cylinder_of(one) in judged)
    ]  # fmt: skip


def _cured(view: VisitView) -> list[str]:
    """Return what was wrong and is cured: the shift is the first to see it come back."""
    if not any(one.kind == "trouble_closed" for one in view.entries):
        return []
    trouble = view.trouble
    if trouble.closed is None or trouble.closed.confirmed != "cured":
        return []
    cause = trouble.titles.get(trouble.closed.cause, trouble.closed.cause)
    return [f"Call if it comes back: {lower(cause)}."]


def _whole(finding: Finding) -> str:
    """Return finding and next step where both fit on the half sheet, else the finding."""
    says = finding.says.rstrip(".")
    both = f"{says}. {finding.next_step}"
    return both if len(both) <= SHORT else f"{says}."


def _alone(view: VisitView) -> list[str]:
    """Return what nobody should touch: what does not agree, parts and papers that are not for this engine, settings."""
    clashes = view.identification.contradictions[:1] if view.identification else ()
    said = [f"{one.says.rstrip('.')}." for one in clashes]
    said += [_whole(one) for one in standing(view) if one.subject == "fitted" and one.severity in ("visit", "soon")]
    for one in view.settings:
        if one.content["state"] == "as_left":
            said.append(f"{str(one.content['name']).replace('_', ' ')} left at {one.content['as_typed']}.")
    return list(dict.fromkeys(said))
