"""Everything that stands on the sheets of a visit, as plain values: made once, for typesetter and preview.

No template works out, rounds or words anything: it only places what this gives.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from asfound import __version__
from asfound.report import (
    content_crosscheck_paper,
    content_cylinder_paper,
    content_due_paper,
    content_fitted,
    content_history_paper,
    content_judged,
    content_numbers,
    content_results,
    content_rooms,
    content_sources,
    content_trouble_paper,
    content_whatif_paper,
)
from asfound.report.content_paper import since_last
from asfound.report.content_readings import readings
from asfound.report.content_trails import trails
from asfound.report.marks import house_sign, state_sign, trail_sign
from asfound.report.numbering import Sources
from asfound.report.wording import System, clock, day_words, plain

if TYPE_CHECKING:
    from asfound.records.visit import VisitView

SIGNS = {
    "house": house_sign(size=26, paper=True),
    "found": state_sign("as_found", size=11, paper=True),
    "left": state_sign("as_left", size=11, paper=True),
    **{kind: trail_sign(kind, size=13, paper=True) for kind in ("read", "assumed", "computed", "constant")},
}


def report_content(
    view: VisitView, *, system: System | None = None, proof: bool = True, full: bool = True
) -> dict[str, Any]:
    """Return what the sheets of a visit say.

    Parameters
    ----------
    view : VisitView
    system : {'si', 'us'}, optional
        Units of the reader; those of the site when None.
    proof : bool
        With the published values recomputed (takes some seconds the first time).
    full : bool
        Every result and trail; without it what the pages lead with, and the sources of that.

    Returns
    -------
    dict
        JSON-ready. Keys that end in ``svg`` hold pictures with their sentence under ``alt`` beside them.
    """
    units = _system(view, system)
    sources = Sources()
    assumed = content_results.Assumed(units)
    limits = content_numbers.limits(view, units, sources)
    rooms = content_rooms.rooms(view, units, sources, assumed, full=full)
    numbers = {
        "limits": limits,
        "rooms": rooms,
        "cylinders": content_cylinder_paper.cylinders(view, units),
        "crosscheck": content_crosscheck_paper.crosscheck(view, units),
        "trouble": content_trouble_paper.trouble(view),
        "whatif": content_whatif_paper.whatif(view, units),
        "history": content_history_paper.history(view, units),
        "since_last": since_last(view, units),
        "results": content_results.others(view, units, sources, assumed) if full else [],
        "assumed": assumed.rows,
        "trails": trails(view, units, sources) if full else [],
    }
    content: dict[str, Any] = {
        **_heading(view),
        "signs": {f"{name}_svg": markup for name, markup in SIGNS.items()},
        "headline": content_judged.headline(view),
        "lead": content_judged.lead(view, units),
        "answers": content_judged.answers(view, units),
        "found_at": _first_time(view, "as_found"),
        "left_at": _first_time(view, "as_left"),
        "ledger": content_numbers.ledger(view, units),
        "fitted": content_fitted.fitted(view),
        "plan": content_fitted.plan(view, width=690, tagged=False),
        "plan_tagged": content_fitted.plan(view, width=756, tagged=True) if view.identification else None,
        "belief": content_fitted.belief(view),
        "open_points": content_judged.open_points(view),
        "seal": content_sources.seal(view),
        "readings": readings(view, units),
        **numbers,
        "due": content_due_paper.of_visit(view),
        "no_answer": content_numbers.missing(view),
        "instruments": content_numbers.instruments(view),
        "findings": content_judged.findings(view),
        "day": content_judged.day(view),
        "notes": [
            {"time": clock(str(n.content["time"])), "text": str(n.content["text"]), "who": n.who} for n in view.notes
        ],
        "files": [_file(p) for p in view.photos],
        "settings": [_setting(s) for s in view.settings],
        "conflicts": len(view.conflicts),
        "problems": list(view.problems),
        "addenda": [
            {"says": str(a.content["says"]), "at": day_words(str(a.content["time"])), "who": a.who}
            for a in view.addenda
        ],
        "cautions": content_sources.cautions(view),
        "proof": content_sources.proof(view) if proof else None,
        "limits_of_use": list(content_sources.LIMITS_OF_USE),
        "draws": f"{view.worked.number:,}",
        "program": f"asfound {__version__}",
    }
    content["sources"] = list(sources.texts)
    checked: dict[str, Any] = plain(content)
    return checked


def _system(view: VisitView, wanted: System | None) -> System:
    return wanted or ("us" if view.system == "us" else "si")


def _heading(view: VisitView) -> dict[str, Any]:
    engine: Mapping[str, Any] = view.engine.content
    site = view.site
    works = f"works {engine['works_number']}, " if engine.get("works_number") else ""
    family = str(engine.get("family") or "")
    people = ", ".join(str(p) for p in view.visit.content.get("people", ()))
    year, month, day = (int(part) for part in view.visit.date.split("-"))
    where = f", {site.name}" if site else ""
    return {
        "tag": view.engine.tag,
        "name": view.visit.name,
        "owner": str(site.content.get("owner") or site.name) if site else "",
        "works": f"{works}tag {view.engine.tag}",
        "engine_line": ", ".join(
            p for p in (family, str(engine.get("driven_text") or engine.get("driven") or "")) if p
        ),
        "visit_line": f"{view.engine.tag}{where}, visit of {day_words(view.visit.date)}",
        "visit_day": day_words(view.visit.date),
        "date": [year, month, day],
        "people": people,
        "purpose": str(view.visit.content.get("purpose") or ""),
    }


def _first_time(view: VisitView, state: str) -> str:
    times = sorted(kept.time for kept in view.readings.values() if kept.state == state)
    return clock(times[0]) if times else ""


def _file(photo: Any) -> dict[str, str]:
    content = photo.content
    return {
        "name": str(content["filename"]),
        "caption": str(content.get("caption") or ""),
        "place": str(content.get("place") or "").replace("_", " "),
        "digest": str(content["digest"])[:16],
    }


def _setting(setting: Any) -> dict[str, str]:
    content = setting.content
    return {
        "name": str(content["name"]).replace("_", " "),
        "value": str(content["as_typed"]),
        "state": "as found" if content["state"] == "as_found" else "as left",
        "note": str(content.get("note") or ""),
    }
