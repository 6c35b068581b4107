"""What the visit comes to: headline, the three answers, findings, open points, the day.

The sentences are put together from the record; the program advises, the people on site and their permit decide.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.fitout.identification import short_title
from asfound.quantities.display import chance
from asfound.quantities.words import SEVERITIES, Finding
from asfound.records.standing import standing
from asfound.records.visit import decision_key
from asfound.report.icons import SEVERITY_WORDS, severity_sign
from asfound.report.wording import System, clock, day_words, say, sentence, title_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from asfound.quantities.words import Reading, Result
    from asfound.records.view_parts import LimitState
    from asfound.records.visit import VisitView

SURE, POSSIBLE = 0.95, 0.05
"""Chance from which a number is said to be beyond its limit, and below which it is said to be inside."""
LEAD_LENGTH = 140
"""Longer words about the work stand in the day only."""
LIKELY = 0.5
"""From this probability on the headline says that an engine is part-converted."""


def _latest(state: LimitState) -> tuple[Result | Reading, ...]:
    """Return the numbers a limit is judged by now: as left where they were taken, else as found."""
    again = {number.place for number in state.left}
    return _counting((*state.left, *(number for number in state.found if number.place not in again)))


def _counting(numbers: Iterable[Result | Reading]) -> tuple[Result | Reading, ...]:
    """Return numbers without the single runs of a formal test: their mean lies at the engine, the runs in a table."""
    return tuple(one for one in numbers if not one.place.startswith("run_"))


def headline(view: VisitView) -> str:
    """Return the outcome in one or two short sentences."""
    tag = view.engine.tag
    stands = standing(view)
    worst = [state.beyond.get(n.key, 0.0) for state in view.limit_states for n in _latest(state)]
    before = [state.beyond.get(n.key, 0.0) for state in view.limit_states for n in _counting(state.found)]
    if any(one.severity == "stop" for one in stands):
        first = f"{tag} needs a hand before it runs on."
    elif any(risk >= SURE for risk in worst):
        first = f"{tag} is over its limit."
    elif any(risk > POSSIBLE for risk in worst):
        first = f"{tag} stands too close to its limit to be sure."
    elif worst and any(risk > POSSIBLE for risk in before):
        first = f"{tag} is inside its limits again."
    elif worst:
        first = f"{tag} is inside its limits."
    elif any(one.severity == "visit" for one in stands):
        first = f"{tag} needs a hand on this visit."
    elif view.readings or view.looks:
        first = f"{tag} was looked at; no limit was judged."
    else:
        first = f"{tag}: nothing was recorded yet."
    second = _identity(view)
    return f"{first} {second}" if second else first


def _identity(view: VisitView) -> str:
    found = view.identification
    if found is None or not view.looks:
        return ""
    if not found.weighed:
        return "It is in no catalogue."
    if found.words == "not in the catalogue":
        return "Its controls are not in the catalogue."
    clashes = [one for one in found.contradictions if len(one.says) <= 90]
    if clashes:
        return clashes[0].says.rstrip(".") + "."
    if found.headline == "Part-converted" and found.builds[0].probability >= LIKELY:
        return f"It is part-converted: {short_title(found)}."
    return ""


def lead(view: VisitView, system: System) -> str:
    """Return how the outcome came about: what stood out as found, what was done, how it was left."""
    said = []
    for state in view.limit_states:
        for number in _counting(state.found):
            risk = state.beyond.get(number.key, 0.0)
            if risk > POSSIBLE:
                said.append(
                    f"As found, {title_of(number.quantity)} was {say(number, system).whole} beside a "
                    f"{state.limit.name} "
                    f"of {state.limit.as_typed}, {chance(risk)} to be beyond it."
                )
    done = [e.says.rstrip(".") for e in view.day.events if e.kind == "changed" and 0 < len(e.says) <= LEAD_LENGTH]
    said += [f"{sentence(one)}." for one in done[:2]]
    left = [(s, n) for s in view.limit_states for n in _counting(s.left)]
    if left and all(s.beyond.get(n.key, 1.0) <= POSSIBLE for s, n in left):
        said.append("As left, all numbers taken are inside their limits.")
    said += [f"{p.rstrip('.')}." for p in view.problems[:1]]
    return " ".join(said[:4]) or str(view.visit.content.get("purpose") or "")


def answers(view: VisitView, system: System) -> list[dict[str, str]]:
    """Return the three answers: safe to run, inside the permit, what to decide."""
    return [
        {"question": "Safe to run?", "answer": safe(view)},
        {"question": "Inside the permit?", "answer": _permit(view, system)},
        {"question": "Decide:", "answer": _decide(view)},
    ]


def safe(view: VisitView) -> str:
    """Return whether a finding asks for a stop, in words."""
    stops = [one for one in standing(view) if one.severity == "stop"]
    if stops:
        return f"No. {stops[0].says.rstrip('.')}. {stops[0].next_step}"
    if not view.readings:
        return "Not judged: no reading was taken."
    state = "" if view.engine_state == "running" else f" The engine was left {view.engine_state}."
    return f"Yes. No finding of this visit asks for a stop.{state}{_gas(view)}"


def _gas(view: VisitView) -> str:
    """Return that the gas can kill where it leaks; empty where it cannot, or nobody analysed it."""
    deadly = [one for one in standing(view) if one.code == "FU-16" and one.severity == "visit"]
    return f" {deadly[0].says}." if deadly else ""


def _permit(view: VisitView, system: System) -> str:
    permits = [s for s in view.limit_states if s.limit.name == "permit"] or list(view.limit_states)
    if not permits:
        return "No permit value is on record for this engine."
    said = []
    for state in permits:
        numbers = _latest(state)
        if not numbers:
            said.append(f"{title_of(state.limit.quantity)}: not taken.")
        for number in numbers[:2]:
            risk = state.beyond.get(number.key, 0.0)
            verdict = "no" if risk >= SURE else "yes" if risk <= POSSIBLE else "not sure"
            words = "As left" if number.state == "as_left" else "As found"
            tail = f", {chance(risk)} to be beyond" if risk >= 0.001 else ""
            said.append(
                f"{words} {verdict}: {title_of(number.quantity)} {say(number, system).value} of "
                f"{state.limit.as_typed}{tail}."
            )
    return " ".join(said[:3])


def _decide(view: VisitView) -> str:
    points = [
        str(p.content["says"])
        for p in view.open_points
        if not p.content.get("done") and p.content["severity"] in ("stop", "clash")
    ]
    clashes = [c.next_step for c in view.identification.contradictions] if view.identification else []
    said = points or clashes
    return " ".join(f"{one.rstrip('.')}." for one in said[:2]) or "Nothing stands open that needs a decision."


def findings(view: VisitView) -> list[dict[str, Any]]:
    """Return all findings by when a hand is needed, with what was decided about them."""
    groups = []
    for severity in SEVERITIES:
        rows = [_finding(view, one) for one in view.findings if one.severity == severity]
        if rows:
            groups.append(
                {
                    "severity": severity,
                    "word": SEVERITY_WORDS[severity],
                    "svg": severity_sign(severity, size=15, label="", paper=True),
                    "rows": rows,
                }
            )
    return groups


def _finding(view: VisitView, one: Finding) -> dict[str, str]:
    decided = view.decisions.get(decision_key(one))
    words = {"agreed": "agreed", "set_aside": "set aside", "done": "done", "handed_on": "handed on"}
    decision = ""
    if decided is not None:
        content = decided.content
        decision = ", ".join(
            p
            for p in (
                words.get(str(content["decision"]), ""),
                str(content.get("to_whom") or ""),
                str(content.get("why") or ""),
            )
            if p
        )
        decision += f" ({decided.who}, {day_words(decided.at)})"
    return {
        "code": one.code,
        "says": sentence(one.says),
        "compared": f"beside {one.compared_with}"
        if one.compared_with and one.subject != "fitted"
        else one.compared_with,
        "next": sentence(one.next_step),
        "decision": decision,
        "state": "as found" if one.state == "as_found" else "as left",
    }


def open_points(view: VisitView) -> list[dict[str, str]]:
    """Return what is still to be done: what, who, by when."""
    rows = []
    for point in view.open_points:
        content = point.content
        if content.get("done"):
            continue
        due = content.get("due")
        cost = (
            f" ({content['minutes']:g} min, {content.get('state_needed', 'running')})" if content.get("minutes") else ""
        )
        rows.append(
            {
                "svg": severity_sign(str(content["severity"]), size=15, label="", paper=True),
                "word": SEVERITY_WORDS[str(content["severity"])],
                "what": f"{content['says']}{cost}",
                "who": str(content.get("who") or "not said"),
                "by": day_words(str(due)) if due else "next visit",
                "order": str(SEVERITIES.index(content["severity"])),
            }
        )
    return sorted(rows, key=lambda r: r["order"])


def day(view: VisitView) -> list[dict[str, str]]:
    """Return the day in order: when, what, who."""
    return [{"time": clock(e.time), "says": e.says, "who": e.who, "kind": e.kind} for e in view.day.events]
