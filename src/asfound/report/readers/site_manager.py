"""The site manager: what it costs, how long it stands, when the next stop is; one page with dates."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from asfound.report import content_judged
from asfound.report.content_due_words import day_text, minutes_text
from asfound.report.readers.blocks import Document, Head, Lack, Lines, Pairs, Row, Rows
from asfound.report.readers.making import Reader
from asfound.report.readers.said import asked_lines, count, minutes_between, risk_lines, since, span_minutes
from asfound.report.wording import day_words

if TYPE_CHECKING:
    from asfound.report.readers.blocks import Block
    from asfound.report.readers.ground import Ground

MOST_DATES = 10
YEAR = 365


def make(ground: Ground) -> Document:
    """Return the page of the site manager."""
    view = ground.view
    answers = content_judged.answers(view, ground.system)
    dates = _dates(ground)
    needs = asked_lines(view, "stop", "visit", "clash", most=5)
    blocks: list[Block] = [Pairs(rows=tuple((one["question"], one["answer"]) for one in answers))]
    blocks.append(Head(text="Dates"))
    if dates:
        blocks.append(
            Rows(columns=("Day", "What", "Engine", "Work"), rows=tuple(dates[:MOST_DATES]), shares=(1, 3.2, 0.8, 0.7))
        )
    else:
        blocks.append(Lines(rows=("No stop, check or open point has a day on this record.",)))
    if len(dates) > MOST_DATES:
        blocks.append(Lines(rows=(f"{len(dates) - MOST_DATES} later dates stand in the list for planning.",)))
    blocks += [Head(text="Cost and downtime"), Pairs(rows=_cost(ground))]
    if risks := risk_lines(view, ground.system):
        blocks += [Head(text="Limits"), Lines(rows=risks)]
    if needs:
        blocks += [Head(text="Needs a hand"), Lines(rows=needs)]
    return Document(
        headline=content_judged.headline(view),
        lead=content_judged.lead(view, ground.system),
        blocks=tuple(blocks),
        lacks=_lacks(ground, dates),
        tags=("loto",) if ground.due.stops else (),
    )


def _dates(ground: Ground) -> list[Row]:
    """Return what has a day, in order: stops, open points, work that a permit asks for, work that is late."""
    due = ground.due
    found: list[tuple[str, Row]] = []
    for stop in due.stops:
        tasks = ", ".join(title for title, _, _ in stop.tasks)
        found.append((stop.iso, (_day(stop.iso), (f"Stop {stop.number}", tasks), stop.needs, stop.minutes)))
    served = {title for stop in due.stops for title, _, _ in stop.tasks}
    for shown, one in zip(due.tasks, ground.view.due.tasks, strict=True):
        permit = one.interval is not None and one.interval.permit
        if one.day is None or one.title in served or not (permit or one.state in ("overdue", "due")):
            continue
        why = "asked for by a permit" if permit else shown.state_words.lower()
        found.append((one.day.isoformat(), (_day(one.day.isoformat()), (one.title, why), shown.needs, shown.minutes)))
    for point in ground.view.open_points:
        if point.content.get("due") and not point.content.get("done"):
            day, who = str(point.content["due"]), str(point.content.get("who") or "nobody named")
            found.append((day, (day_words(day), (str(point.content["says"]), f"open point, {who}"), "", "")))
    return [row for _, row in sorted(found, key=lambda pair: pair[0])]


def _day(iso: str) -> str:
    return day_text(date.fromisoformat(iso), year=True)


def _cost(ground: Ground) -> tuple[tuple[str, str], ...]:
    view, due = ground.view, ground.due
    stood = span_minutes(view.day.spans, "stopped")
    rows = [
        ("On this visit", f"the engine stood {minutes_text(stood)}" if stood else "the engine did not stand for it")
    ]
    if due.stops:
        first = due.stops[0]
        rows.append(("Next stop", f"{first.minutes} of work on {_day(first.iso)}, and {due.setup} to set up"))
        if due.saved:
            rows.append(("Work put together", f"saves {due.saved} against a stop for each task"))
    late = [one for one in ground.failures if since(str(one["date"]), ground.day) <= YEAR]
    down = sum(minutes_between(str(one.get("down_from") or ""), str(one.get("down_until") or "")) for one in late)
    if late:
        told = f"stood {minutes_text(down)} by what was written down" if down else "no time down was written down"
        rows.append(("Failures in the year before", f"{count(len(late), 'failure')} on record; {told}"))
    if ground.upgrade.case is not None and ground.upgrade.chosen is not None:
        case = ground.upgrade.case
        rows.append(
            (
                f"Upgrade to {ground.upgrade.chosen.title}",
                f"{case.headline} ({case.money}); chance of a loss {dict(case.figures)['Chance of a loss']}",
            )
        )
    return tuple(rows)


def _lacks(ground: Ground, dates: list[Row]) -> tuple[Lack, ...]:
    view = ground.view
    found = [
        Lack(
            what="The price of parts and work: the record holds none.",
            fill="The list for the parts desk names what to ask a price for.",
        )
    ]
    if not dates:
        found.append(
            Lack(
                what="A date: no stop can be planned.",
                fill="The hour meter, and when each task was last done (page Due and upgrade).",
            )
        )
    undated = [one for one in view.open_points if not one.content.get("done") and not one.content.get("due")]
    if undated:
        found.append(Lack(what=f"A date for {count(len(undated), 'open point')}.", fill="A day and a name for each."))
    if ground.upgrade.case is None:
        found.append(Lack(what="A case for an upgrade.", fill=ground.upgrade.problem))
    return tuple(found)


READER = Reader(
    name="site_manager",
    title="Site manager",
    to="the site manager",
    wants="Cost, downtime, next stop",
    form="one page with dates",
    advice="Dates and stops are proposed from the hours run; the site decides when the engine stands.",
    make=make,
    studies=True,
    sheet="page",
)
