"""The frame around the pages of one visit: path, spine, state of the steps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal

from markupsafe import Markup

from asfound.language import Written, reader
from asfound.language.forms import behind_day
from asfound.records.standing import standing
from asfound.web import words
from asfound.web.pages import Crumb, environment, house_of, page, prefs_of

if TYPE_CHECKING:
    from starlette.requests import Request
    from starlette.responses import HTMLResponse

    from asfound.quantities.findings import Case
    from asfound.records.view_parts import StepProgress
    from asfound.records.visit import VisitView
    from asfound.web.preferences import Preferences


CONTRADICTIONS = ("CC-02", "CC-03", "CC-04", "CC-05")
"""Findings that say that the readings contradict each other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpineItem:
    """One line of the spine."""

    name: str
    href: str
    title: str
    short: str
    progress: Markup | str = ""
    count: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpineGroup:
    """Lines that belong together."""

    title: str
    entries: tuple[SpineItem, ...]


@dataclass(frozen=True, kw_only=True)
class AtVisit:
    """What a page of a visit starts from."""

    id: str
    base: str
    prefs: Preferences
    work_out: Callable[[str], VisitView]
    case_of: Callable[[str], Case]

    @cached_property
    def view(self) -> VisitView:
        """What the visit says, worked out when a page shows it: what is typed is kept without waiting for that."""
        return self.work_out(self.id)

    def before(self) -> Case | None:
        """Return the visit before this one as the rooms take it, worked out when asked for; None where there is none.

        What it was itself compared with is in it.
        """
        return self.case_of(self.view.previous.visit.id) if self.view.previous else None

    @property
    def system(self) -> Literal["si", "us"]:
        """Units that numbers are shown in."""
        return self.prefs.system(self.view.engine.units)


def at_visit(request: Request) -> AtVisit:
    """Return the visit that an address names, as it stands now."""
    house = house_of(request)
    engine, visit = house.visit(request.path_params["engine"], request.path_params["day"])
    return AtVisit(
        id=visit.id,
        base=house.visit_base(visit, engine),
        prefs=prefs_of(request),
        work_out=house.view,
        case_of=house.case,
    )


def spine(view: VisitView, base: str) -> tuple[SpineGroup, ...]:
    """Return the spine of a visit; only pages that exist are on it."""
    steps = tuple(_step_item(view.steps[name], base) for name in words.STEPS if name in view.steps)
    return (
        SpineGroup(
            title="",
            entries=(SpineItem(name="visit", href=base, title="The visit", short="Visit", progress=_whole(view)),),
        ),
        SpineGroup(title="Take", entries=steps),
        SpineGroup(
            title="Think",
            entries=(
                SpineItem(
                    name="crosscheck",
                    href=f"{base}/crosscheck",
                    title="Cross-check",
                    short="Cross-check",
                    progress=_contradiction(view),
                ),
                SpineItem(name="trouble", href=f"{base}/trouble", title="What is wrong", short="Wrong"),
                SpineItem(name="whatif", href=f"{base}/whatif", title="What if", short="What if"),
                SpineItem(name="history", href=f"{base}/history", title="History", short="History"),
                SpineItem(name="due", href=f"{base}/due", title="Due and upgrade", short="Due", count=_pressing(view)),
            ),
        ),
        SpineGroup(
            title="Hand over",
            entries=(
                SpineItem(
                    name="findings",
                    href=f"{base}/findings",
                    title="Findings",
                    short="Findings",
                    count=str(sum(one.severity != "note" for one in standing(view)) or ""),
                ),
                SpineItem(name="report", href=f"{base}/report", title="Report", short="Report"),
            ),
        ),
    )


def _sign(found: float | None, left: float | None, label: str) -> Markup:
    draw = environment().globals["draw"]
    drawn: Markup = draw.ring_disc(found, left, label=label)  # type: ignore[attr-defined]
    return drawn


def _contradiction(view: VisitView) -> Markup | str:
    """Return the sign of what does not agree where a finding says so; the check itself is not made for it."""
    if not any(one.subject == "crosscheck" and one.code in CONTRADICTIONS for one in view.findings):
        return ""
    draw = environment().globals["draw"]
    drawn: Markup = draw.severity_sign("clash", size=24, label="does not agree")  # type: ignore[attr-defined]
    return drawn


def _pressing(view: VisitView) -> str:
    """Return how many tasks are due or overdue; empty where none is."""
    return str(len(view.due.in_state("overdue", "due")) or "")


def _step_item(step: StepProgress, base: str) -> SpineItem:
    title, short = words.STEPS[step.step]
    label = f"as found {step.found} of {step.found_of}, as left {step.left} of {step.left_of}"
    return SpineItem(
        name=step.step,
        href=f"{base}/{step.step}",
        title=title,
        short=short,
        progress=_sign(step.found_share, step.left_share, label),
        count=f"{step.found}/{step.found_of}" if step.found_of else "",
    )


def _whole(view: VisitView) -> Markup:
    """Draw the progress of the whole visit."""
    steps = view.steps.values()
    found, found_of = sum(one.found for one in steps), sum(one.found_of for one in steps)
    left, left_of = sum(one.left for one in steps), sum(one.left_of for one in steps)
    label = f"as found {found} of {found_of}, as left {left} of {left_of}"
    return _sign(found / found_of if found_of else None, left / left_of if left_of else None, label)


def visit_page(
    request: Request, template: str, here: AtVisit, *, step: str, title: str, status: int = 200, **context: Any
) -> HTMLResponse:
    """Render a page of a visit with its frame."""
    view, base = here.view, here.base
    house = house_of(request)
    crumbs = []
    if view.site:
        crumbs.append(Crumb("/", view.site.name))
    crumbs.append(Crumb(house.engine_base(view.engine), view.engine.tag))
    year = words.day(view.visit.began).rsplit(" ", 1)[-1]
    after = Written(behind_day(year, reader().language))
    crumbs.append(Crumb(base, words.day_short(view.visit.began), long="Visit of ", after=after))
    newest = view.entries_all[-1].at if view.entries_all else view.visit.began
    return page(
        request,
        template,
        title=f"{title}, {view.engine.tag}",
        crumbs=crumbs,
        status=status,
        page_name=f"{base}/{step}",
        view=view,
        base=base,
        spine=spine(view, base),
        step_name=step,
        steps_to_take=tuple(words.STEPS),
        system=here.system,
        kept_at=words.clock(newest),
        heading=title,
        **context,
    )
