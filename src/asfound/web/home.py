"""Engines by site on one ruler: what is believed, what is due, what is open. And the empty home."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from textwrap import shorten
from typing import TYPE_CHECKING, Any

from starlette.routing import Route

from asfound.web import words
from asfound.web.forms import acting
from asfound.web.held_pages import unfinished
from asfound.web.home_rows import due_rows, summaries
from asfound.web.pages import go, house_of, page

if TYPE_CHECKING:
    from collections.abc import Sequence

    from starlette.datastructures import FormData
    from starlette.requests import Request
    from starlette.responses import Response

    from asfound.records.summary import Summary
    from asfound.records.things import EngineRecord, VisitRecord
    from asfound.report.engine_plan import EngineDrawing
    from asfound.web.house import House

DAYS = 90
A_PAGE = 24
LAST_VISITS = 8
SHORT, LONG = 15, 120
"""Letters that a finding has at least before its numbers are left away, and at most."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineRow:
    """One engine on the home page."""

    engine: EngineRecord
    base: str
    at: str
    """Address of the newest visit."""
    visit: VisitRecord | None
    summary: Summary | None
    """Of the newest visit; None where there is none, or while it is being worked out."""
    due: tuple[Any, ...]
    """`report.svg.Due`: stops, work that needs none, open points."""
    hours: str
    drawing: EngineDrawing | None
    """What its small plan is drawn from; None where its layout is not known."""
    told: str
    """Generation on the nameplate, in words."""

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
        """Open findings that ask for a hand, by severity, the most urgent first; what is only noted stands inside."""
        return [one for one in self.summary.counts if one[0] != "note"] if self.summary else []

    @property
    def first(self) -> str:
        """The most urgent open finding in a few words; the numbers behind it stand on its page."""
        says = self.summary.first if self.summary else ""
        head, _, _ = says.partition(": ")
        return shorten(head if len(head) >= SHORT else says, LONG, placeholder=" …").rstrip(".")


@dataclass(frozen=True, slots=True, kw_only=True)
class Going:
    """The newest visit that is open."""

    engine: EngineRecord
    visit: VisitRecord
    base: str
    next: str | None
    """What to do next there; None while that is being worked out."""


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
    rows = _rows(house, here, today)
    waiting = sum(row.waits for row in rows)
    going = _going(house, recent)
    if waiting or (going is not None and going.next is None):
        unfinished(request)
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
        going=going,
        last=[(one, engine, house.visit_base(one, engine)) for one, engine in recent[:LAST_VISITS]],
        more=len(recent) > LAST_VISITS,
        waiting=waiting,
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
    summary = summaries(house, [visit]).get(visit.id)
    return Going(
        engine=engine, visit=visit, base=house.visit_base(visit, engine), next=summary.next if summary else None
    )


def _rows(house: House, engines: Sequence[EngineRecord], today: date) -> list[EngineRow]:
    """Return what the home page says of engines: the newest visit of each decides."""
    house.records.read_ahead([one.id for one in engines])
    newest = {one.id: visits[-1] for one in engines if (visits := house.records.visits(one.id))}
    known = summaries(house, list(newest.values()))
    due = due_rows(house, engines, newest, known, today, DAYS)
    made = []
    for one in engines:
        visit = newest.get(one.id)
        row = due[one.id]
        made.append(
            EngineRow(
                engine=one,
                base=house.engine_base(one),
                at=house.visit_base(visit, one) if visit else "",
                visit=visit,
                summary=known.get(visit.id) if visit else None,
                due=row.bars,
                hours=row.hours,
                drawing=row.drawing,
                told=house.told(one.content.get("plate", {}).get("generation", "")),
            )
        )
    return made


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
