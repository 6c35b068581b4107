"""Engines by site on one ruler: what is believed, what is due, what is open. And the empty home."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.records.summary import known_summaries, work_out_summary
from asfound.records.upkeep_of_engine import READ_BY_UPKEEP, upkeep_of
from asfound.report.content_due_words import hours_text
from asfound.report.content_home import on_ruler
from asfound.web import words
from asfound.web.forms import acting
from asfound.web.pages import go, house_of, page

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.summary import Summary
    from asfound.records.things import EngineRecord, VisitRecord
    from asfound.upkeep.engine_due import EngineDue
    from asfound.web.house import House

DAYS = 90
A_PAGE = 24
LAST_VISITS = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineRow:
    """One engine on the home page."""

    engine: EngineRecord
    base: str
    visit: VisitRecord | None
    summary: Summary | None
    """Of the newest visit; None where there is none, or while it is being worked out."""
    due: tuple[Any, ...]
    """`report.svg.Due`: stops, work that needs none, open points."""
    hours: str
    told: str
    """Generation on the nameplate, in words."""

    @property
    def drawing(self) -> Any:
        """What its small plan is drawn from; None where its layout is not known."""
        from asfound.report.of_visit import drawing_of_engine

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
    def waits(self) -> bool:
        """Whether its newest visit is being worked out."""
        return self.visit is not None and self.summary is None

    @property
    def counts(self) -> list[tuple[str, int]]:
        """Open findings by severity, the most urgent first."""
        found = dict(self.summary.findings) if self.summary else {}
        return [(severity, found[severity]) for severity in words.SEVERITIES if found.get(severity)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Going:
    """The newest visit that is open."""

    engine: EngineRecord
    visit: VisitRecord
    base: str
    next: str


def show_home(request: Request) -> Response:
    """Show the engines, or three ways to begin where there is none."""
    house = house_of(request)
    engines = house.engine_list()
    if not engines:
        return page(request, "home_empty.html", title="Engines", folder=str(house.records.home.folder))
    asked = request.query_params.get("find", "").strip()[:100]
    known = _found(engines, asked) if asked else engines
    pages = max(-(-len(known) // A_PAGE), 1)
    typed = request.query_params.get("page", "1")
    at = min(max(int(typed), 1), pages) if typed.isdigit() and len(typed) < 7 else 1
    here = known[(at - 1) * A_PAGE : at * A_PAGE]
    today = house.records.clock.now().date()
    recent = house.records.recent()
    house.records.ready_for(here, READ_BY_UPKEEP)
    rows = _rows(house, here, today)
    return page(
        request,
        "home.html",
        title="Engines",
        sites=[(site, list(ones)) for site, ones in groupby(rows, key=lambda row: row.engine.site)],
        rows=rows,
        count=len(known),
        site_count=len({one.site.id if one.site else "" for one in known}),
        asked=asked,
        at=at,
        pages=pages,
        today=today,
        days=DAYS,
        going=_going(house, recent),
        last=[(one, engine, house.visit_base(one, engine)) for one, engine in recent[:LAST_VISITS]],
        more=len(recent) > LAST_VISITS,
        waiting=sum(row.waits for row in rows),
        here_again=request.url.path + (f"?{request.url.query}" if request.url.query else ""),
    )


def _found(engines: Sequence[EngineRecord], asked: str) -> list[EngineRecord]:
    """Return the engines whose tag, site, family or works number bears every word."""
    wanted = asked.casefold().split()
    return [
        one
        for one in engines
        if all(
            word
            in f"{one.tag} {one.site.name if one.site else ''} {one.content.get('family', '')} "
            f"{one.content.get('works_number', '')}".casefold()
            for word in wanted
        )
    ]


def _going(house: House, recent: Sequence[tuple[VisitRecord, EngineRecord]]) -> Going | None:
    """Return the newest visit that is open: there the work goes on."""
    visit, engine = next(((one, whose) for one, whose in recent if not one.sealed), (None, None))
    if visit is None or engine is None:
        return None
    summary = _summaries(house, [visit]).get(visit.id)
    return Going(engine=engine, visit=visit, base=house.visit_base(visit, engine), next=summary.next if summary else "")


def _summaries(house: House, visits: Sequence[VisitRecord]) -> dict[str, Summary]:
    """Return the summaries of visits; what is not known is worked out now, or by who does it ahead of being asked."""
    known = known_summaries(house.records, visits)
    new = [one for one in visits if one.id not in known]
    if house.ahead is not None:
        house.ahead.want([one.id for one in new])
        return known
    return known | {one.id: work_out_summary(house.records, one) for one in new}


def _rows(house: House, engines: Sequence[EngineRecord], today: date) -> list[EngineRow]:
    """Return what the home page says of engines: the newest visit of each decides."""
    newest = {one.id: visits[-1] for one in engines if (visits := house.records.visits(one.id))}
    summaries = _summaries(house, list(newest.values()))
    return [_row(house, one, newest.get(one.id), summaries, today) for one in engines]


def _row(
    house: House, engine: EngineRecord, newest: VisitRecord | None, summaries: Mapping[str, Summary], today: date
) -> EngineRow:
    summary = summaries.get(newest.id) if newest else None
    due = upkeep_of(house.records, engine)
    return EngineRow(
        engine=engine,
        base=house.engine_base(engine),
        visit=newest,
        summary=summary,
        due=on_ruler(due, summary.points if summary else (), today, days=DAYS),
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
