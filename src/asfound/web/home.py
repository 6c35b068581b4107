"""Engines by site on one ruler: what is believed, what is due, what is open. And the empty home."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.records.upkeep_of_engine import upkeep_of
from asfound.report.content_due_words import hours_text
from asfound.report.content_home import on_ruler
from asfound.web import words
from asfound.web.forms import acting
from asfound.web.pages import go, house_of, page

if TYPE_CHECKING:
    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.things import EngineRecord, VisitRecord
    from asfound.records.visit import VisitView
    from asfound.upkeep.engine_due import EngineDue
    from asfound.web.house import House

DAYS = 90
LAST_VISITS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineRow:
    """One engine on the home page."""

    engine: EngineRecord
    base: str
    visit: VisitRecord | None
    view: VisitView | None
    due: tuple[Any, ...]
    """`report.svg.Due`: stops, work that needs none, open points."""
    hours: str
    told: str
    """Generation on the nameplate, in words."""

    @property
    def drawing(self) -> Any:
        """What its small plan is drawn from; None where its layout is not known."""
        from asfound.report.svg import drawing_of_engine

        return drawing_of_engine(self.engine.content)

    @property
    def says(self) -> str:
        """What the plate says beside what is believed, and the hours."""
        plate = self.told
        said = f"plate says {plate}" if plate else ""
        return "; ".join(part for part in (said, self.hours) if part)

    @property
    def due_label(self) -> str:
        """The due dates as a sentence."""
        return "; ".join(f"{one.text}: {words.day(one.middle)}" for one in self.due) or "nothing due"

    @property
    def counts(self) -> list[tuple[str, int]]:
        """Open findings by severity, the most urgent first."""
        findings = self.view.findings if self.view else ()
        found = [(severity, sum(one.severity == severity for one in findings)) for severity in words.SEVERITIES]
        return [(severity, count) for severity, count in found if count]


def show_home(request: Request) -> Response:
    """Show the engines, or three ways to begin where there is none."""
    house = house_of(request)
    engines = house.engine_list()
    if not engines:
        return page(request, "home_empty.html", title="Engines", folder=str(house.records.home.folder))
    today = house.records.clock.now().date()
    rows = [_row(house, one, today) for one in engines]
    sites = [(site, list(ones)) for site, ones in groupby(rows, key=lambda row: row.engine.site)]
    visits = sorted(house.records.visits(), key=lambda one: (one.began, one.id), reverse=True)
    going = next((row for row in _newest_first(rows) if row.visit and not row.visit.sealed), None)
    tags = {row.engine.id: row for row in rows}
    return page(
        request,
        "home.html",
        title="Engines",
        sites=sites,
        rows=rows,
        today=today,
        days=DAYS,
        going=going,
        last=[(one, tags[one.engine], house.visit_base(one, tags[one.engine].engine)) for one in visits[:LAST_VISITS]],
        more=max(0, len(visits) - LAST_VISITS),
        any_due=any(row.due for row in rows),
    )


def _newest_first(rows: list[EngineRow]) -> list[EngineRow]:
    return sorted(rows, key=lambda row: row.visit.began if row.visit else "", reverse=True)


def _row(house: House, engine: EngineRecord, today: date) -> EngineRow:
    """Return what the home page says of one engine: its newest visit decides."""
    visits = house.records.visits(engine.id)
    newest = visits[-1] if visits else None
    view = house.view(newest.id) if newest else None
    due = upkeep_of(house.records, engine)
    return EngineRow(
        engine=engine,
        base=house.engine_base(engine),
        visit=newest,
        view=view,
        due=on_ruler(
            due,
            [one.content for one in view.open_points] if view else (),
            today,
            days=DAYS,
        ),
        hours=_hours(due),
        told=house.told(engine.content.get("plate", {}).get("generation", "")),
    )


def _hours(due: EngineDue) -> str:
    """Return the true running hours of today."""
    if due.hours is None:
        return ""
    said = hours_text(due.hours.value).replace(" h", "\N{NO-BREAK SPACE}h")
    return said if round(due.hours.low) == round(due.hours.high) else f"about {said}"


def enter_demo(request: Request, _form: FormData) -> Response:
    """Show the demo world; it lies beside the home's own record and goes away with one touch."""
    house_of(request).show_demo()
    return go("/")


def leave_demo(request: Request, _form: FormData) -> Response:
    """Show the home's own record again."""
    house_of(request).leave_demo()
    return go("/")


ROUTES = [
    Route("/", show_home),
    Route("/demo", acting(enter_demo), methods=["POST"]),
    Route("/demo/leave", acting(leave_demo), methods=["POST"]),
]
