"""What is wrong, on paper: what shows and what does not, causes, tests and repairs with their outcome, what is next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.bars import belief_row
from asfound.report.belief_steps import belief_steps
from asfound.report.content_crosscheck_words import lower
from asfound.report.content_paper import paper
from asfound.report.content_trouble import lead, trouble_shown
from asfound.report.content_trouble_codes import codes_shown
from asfound.report.content_trouble_rows import all_said, steps_of
from asfound.report.content_trouble_words import CONFIRMED, PROTECTION_SAYS, chance, first_up
from asfound.report.wording import clean, clock

if TYPE_CHECKING:
    from asfound.records.visit import VisitView
    from asfound.report.content_trouble_codes import MessageShown
    from asfound.report.content_trouble_next import NextStep
    from asfound.report.content_trouble_rows import SaidShown
    from asfound.troubleshoot.shown import Trouble

BAR, LINES = 260.0, 672.0
"""Widths of the pictures. [px]"""
IN_100 = " in 100"


def trouble(view: VisitView) -> dict[str, Any] | None:
    """Return the section; None where nobody said anything of a trouble."""
    found = view.trouble
    if found.phase == "nothing_told" and not found.fault_messages and not found.protections:
        return None
    shown = trouble_shown(found)
    said = all_said(found, {one.code: f"{one.says.rstrip('.')}." for one in reversed(view.findings)})
    told = found.phase != "nothing_told"
    return {
        "title": "What is wrong",
        "says": lead(found),
        "urgent": found.before_all if found.urgent and found.phase == "open" else "",
        "causes": [
            {
                "title": one.title,
                "chance": chance(one.p),
                "svg": belief_row(one.p, rank=one.rank, width=BAR, height=14, label=chance(one.p), paper=True),
                "alt": chance(one.p),
            }
            for one in shown.causes
        ]
        if told
        else [],
        "rest": _rest(shown.rest),
        "symptoms": [_row(one) for one in said if one.what == "symptom"],
        "steps": [_row(one) for one in said if one.what != "symptom"],
        "disagree": [one.says for one in found.contradictions] + [one.says for one in found.tests_disagree],
        "lines": paper(belief_steps, shown.lines, LINES) if shown.lines and len(found.history) > 2 else None,
        "steps_key": "; ".join(f"{i} {lower(one.label)}" for i, one in enumerate(steps_of(found), 1)),
        "next": _next(shown.next) if told and not view.seal else None,
        "call": found.call_says if found.phase == "open" else "",
        "closed": _closed(found),
        "codes": [
            {"head": f"{message.head}, read {clock(read.time)}; {message.lamps}", "rows": _codes(message)}
            for read in codes_shown(found)
            for message in read.messages
        ],
        "protections": [
            {
                "title": one.title,
                "says": PROTECTION_SAYS[one.says],
                "where": ", ".join(part for part in (one.place, one.note) if part),
                "time": clock(one.time) if one.time else "",
            }
            for one in found.protections
        ],
        "rests": _rests(found),
        "moved": [
            {
                "title": first_up(one.title),
                "cases": f"{one.cases} of {one.of}",
                "before": f"{100 * one.before:.1f} %",
                "after": f"{100 * one.after:.1f} %",
            }
            for one in found.priors_moved
        ]
        if told
        else [],
    }


def _rest(rest: tuple[int, float, float]) -> str:
    count, together, most = rest
    if not count:
        return ""
    noun = "other cause" if count == 1 else "other causes"
    each = "each of them too" if most < 0.005 else f"none above {chance(most)}"
    return f"{count} {noun} together {chance(together)}, {each}."


def _row(one: SaidShown) -> dict[str, Any]:
    aside = [part for part in (one.place, one.note.rstrip("."), f"finding {one.code}" if one.code else "") if part]
    weighs = "" if one.weighs in ("yes", "undecided") else one.weighs_word
    return {
        "title": first_up(one.title),
        "word": one.word,
        "what": one.what,
        "time": clock(one.time) if one.time else "",
        "by": one.by,
        "aside": "; ".join([*aside, weighs] if weighs else aside),
        "again": one.weighs == "already told",
    }


def _next(step: NextStep | None) -> dict[str, Any] | None:
    if step is None or step.does == "begin":
        return None
    return {
        "title": first_up(step.title),
        "costs": ", ".join(step.costs),
        "why": step.why,
        "cautions": [
            {"hazard": one.hazard, "do": ". ".join(one.do) + ".", "rests_on": one.rests_on} for one in step.cautions
        ],
    }


def _closed(found: Trouble) -> dict[str, str] | None:
    if found.phase != "closed" or found.closed is None:
        return None
    said = found.closed
    return {
        "cause": first_up(found.titles.get(said.cause, said.cause)),
        "how": CONFIRMED[said.confirmed],
        "part": said.part,
        "note": said.note.rstrip("."),
        "time": clock(said.time) if said.time else "",
        "by": said.by,
    }


def _codes(message: MessageShown) -> list[dict[str, str]]:
    return [
        {
            "number": f"SPN {one.spn}, FMI {one.fmi}",
            "title": one.title or one.aside,
            "means": one.means,
            "times": one.times,
            "first": one.first,
        }
        for one in message.codes
    ]


def _rests(found: Trouble) -> str:
    known = found.knowledge
    said = (
        f"{first_up(known.title)}, edition {known.edition}, digest {known.digest[:16]}: {len(known.causes)} causes "
        "that apply to this engine. Every chance in it is engineering judgement. One cause is taken to be present; "
        "something else, or more than one, is never ruled out."
    )
    if found.closed_cases and not found.counted:
        said += " Closed cases of this home are left out."
    return clean(said)
