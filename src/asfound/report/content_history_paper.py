"""The section 'History' of the report: what changed since when, where it goes, what tripped. Only where a log is."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.report.content_history import looked_row, worst_first
from asfound.report.content_history_tables import tables_of
from asfound.report.history_logs import zone_of
from asfound.report.history_row import history_row
from asfound.report.time_axis import microseconds, span_said
from asfound.report.wording import System, clean

if TYPE_CHECKING:
    from asfound.history.look_parts import EngineLook
    from asfound.records.visit import VisitView

WIDE = 672.0
ROWS, CHANGES, EVENTS = 3, 10, 6


def history(view: VisitView, system: System) -> dict[str, Any] | None:
    """Return the section; None where the engine has no log that has been worked out."""
    from datetime import datetime

    look: EngineLook | None = view.case.engine.get("history")
    if look is None or not look.rows:
        return None
    zone = zone_of(view.engine)
    tables = tables_of(look, system, zone)
    began = microseconds(datetime.fromisoformat(view.visit.began))
    return {
        "says": " ".join(tables.headline) or "Too little was logged to say what moves.",
        "rests": f"{tables.worked_out} The log goes from {span_said(look.start, look.end, zone)}.",
        "pictures": [_picture(one, look, system, zone, began) for one in worst_first(look)[:ROWS]],
        "changes": [
            {
                "kind": one.kind,
                "title": one.title,
                "when": one.when[:1].upper() + one.when[1:],
                "interval": one.interval,
                "how_much": one.how_much,
                "sure": one.sure,
                "look_at": one.looks_at or one.says,
                "forecast": one.forecast,
            }
            for one in tables.changes[:CHANGES]
        ],
        "more_changes": max(len(tables.changes) - CHANGES, 0),
        "trips": [{"when": when, "first": first, "down": down} for when, first, _, down in tables.trips[:EVENTS]],
        "more_trips": max(len(tables.trips) - EVENTS, 0),
        "floods": [{"when": when, "says": says} for when, says in tables.floods[:EVENTS]],
        "hours": [{"title": title, "says": says} for title, says in tables.hours],
        "faults": [
            {"kind": one.kind, "title": one.title, "when": one.when[:1].upper() + one.when[1:], "says": one.says}
            for one in tables.faults
            if one.open
        ][:CHANGES],
        "effects": [
            {"visit": name.rpartition("/")[2], "title": title, "much": much, "verdict": verdict}
            for name, rows in tables.effects[:3]
            for title, much, verdict, _ in rows
        ][:CHANGES],
    }


def _picture(one: Any, look: EngineLook, system: System, zone: Any, began: int) -> dict[str, str]:
    """Draw one watched reading at like load, with its level, its wall and its forecast."""
    row = looked_row(one, look, system)
    end = look.end + int(0.16 * (look.end - look.start))
    svg = history_row(row, start=look.start, end=end, width=WIDE, zone=zone, visits=[began], paper=True)
    return {"title": clean(row.title), "svg": clean(svg), "alt": clean(row.label)}
