"""Due list and stop plan on paper: content of ``due.typ``, and of the section 'Due' in the report of a visit."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.content_due import DAYS, DueShown, due_shown
from asfound.report.content_due_words import SET_BY_WORDS, count, day_text
from asfound.report.due_lane import due_head, due_lane
from asfound.report.icons import severity_sign
from asfound.report.marks import house_sign, state_sign
from asfound.report.oil_trend import oil_trend
from asfound.report.wording import plain
from asfound.sources.cautions import DEFER, cautions_for

if TYPE_CHECKING:
    from asfound.records.things import EngineRecord
    from asfound.records.visit import VisitView
    from asfound.upkeep.engine_due import EngineDue

LANE, TREND = 250.0, 318.0
"""Widths on paper. [px]"""
NEAR = ("overdue", "due", "soon", "ok")


def due_content(due: EngineDue, engine: EngineRecord) -> dict[str, Any]:
    """Return what the sheets of due list and stop plan say; JSON-ready."""
    shown = due_shown(due)
    site = engine.site
    where = f", {site.name}" if site else ""
    today = due.today
    tags = {"local", *(tag for stop in (due.stops.stops if due.stops else ()) for tag in stop.tags)}
    content = {
        "tag": due.tag,
        "owner": str(site.content.get("owner") or site.name) if site else "",
        "works": f"tag {due.tag}",
        "people": "",
        "title": f"Due and stops, {due.tag}{where}, {day_text(today, year=True)}",
        "visit_line": f"{due.tag}{where}, due on {day_text(today, year=True)}",
        "visit_day": day_text(today, year=True),
        "date": [today.year, today.month, today.day],
        "signs": {
            "house_svg": house_sign(size=26, paper=True),
            "left_svg": state_sign("as_left", size=11, paper=True),
        },
        "cautions": [
            {"hazard": one.hazard, "do": ". ".join(one.do), "rests_on": one.rests_on} for one in cautions_for(tags)
        ],
        "defers": DEFER,
        **due_section(due, shown),
    }
    checked: dict[str, Any] = plain(content)
    return checked


def of_visit(view: VisitView) -> dict[str, Any] | None:
    """Return the section 'Due' of a visit's report, without pictures of the oil; None where nothing is known."""
    due = view.due
    if not due.readings and not any(one.last for one in due.tasks):
        return None
    return due_section(due) | {"trends": []}


def due_section(due: EngineDue, shown: DueShown | None = None) -> dict[str, Any]:
    """Return the due list, the stops and the oil as a section of any paper."""
    shown = shown or due_shown(due)
    near = [one for one in shown.tasks if one.near and one.state in NEAR]
    running = [one for one in shown.running if one.stop is None]
    return {
        "head": f"{shown.head[:1].upper()}{shown.head[1:]}.",
        "hours": _hours(shown),
        "next": f"Next: {shown.next_says}. {shown.next_why}" if shown.next_says else "",
        "days": DAYS,
        "head_svg": due_head(due.today, shown.stop_days, days=DAYS, width=LANE, paper=True),
        "head_alt": f"the next {DAYS} days with {count(len(shown.stops), 'stop')}",
        "rows": [
            {
                "title": one.title,
                "state": one.state_words,
                "sign_svg": severity_sign(one.sign, size=13, paper=True),
                "svg": due_lane(
                    one.lane, due.today, shown.stop_days, days=DAYS, label=one.label, width=LANE, paper=True
                ),
                "alt": one.label,
                "when": f"{one.when[:1].upper()}{one.when[1:]}",
                "span": one.span,
                "why": ", ".join(part for part in (one.left, one.because) if part),
                "interval": one.interval + ("" if one.set_by != SET_BY_WORDS["generic"] else f" ({one.set_by})"),
                "stop": "" if one.stop is None else str(one.stop + 1),
            }
            for one in near
        ],
        "stops": [
            {
                "number": str(one.number),
                "day": one.day,
                "says": f"{one.minutes} of work, engine {one.needs}. {one.says}",
                "tasks": [list(row) for row in one.tasks],
                "parts": [[number or "?", what] for number, what in one.parts],
            }
            for one in shown.stops
        ],
        "saved": _saved(shown),
        "running": [[one.title, one.when, one.minutes] for one in running],
        "unknown": [one.title for one in shown.tasks if one.state == "unknown"],
        "oil_says": list(shown.oil_says),
        "oil": [
            {
                "title": one.title,
                "value": f"{one.value} {one.unit}",
                "limit": f"{one.limit} ({one.rule})" if one.rule else one.limit,
                "says": f"{one.says[:1].upper()}{one.says[1:]}",
                "source": one.source + ("" if one.own else " (outer mark, not this engine's own)"),
            }
            for one in shown.oil
        ],
        "trends": [
            {"svg": oil_trend(width=TREND, paper=True, **one.picture), "alt": one.picture["label"], "title": one.title}
            for one in shown.oil
            if one.picture is not None
        ],
        "faults": [one.says for one in due.faults],
        "problems": list(due.problems),
    }


def _hours(shown: DueShown) -> str:
    parts = []
    if shown.hours:
        doubt = f" ({shown.hours_interval})" if shown.hours_interval else ""
        parts.append(f"{shown.hours} run{doubt} on {day_text(shown.due.today, year=True)}")
    if shown.pace:
        parts.append(shown.pace)
    said = "; ".join(parts)
    return " ".join(part for part in (f"{said}." if said else "", shown.meter) if part)


def _saved(shown: DueShown) -> str:
    if not shown.stops:
        return ""
    number = len(shown.stops)
    saved = f" Saved against a stop for each task: {shown.saved}." if shown.saved else ""
    return (
        f"{number} {'stop' if number == 1 else 'stops'}, each counted with {shown.setup} beside its work. Nobody is "
        f"late; early work costs the life that it throws away.{saved}"
    )
