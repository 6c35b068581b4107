"""The own office: a time sheet proposed from the visit's entries; travel and warranty are typed, never made up."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from asfound.report.content_due_words import minutes_text
from asfound.report.readers.blocks import Cell, Data, Document, Head, Lack, Lines, Pairs, Row, Rows, Says
from asfound.report.readers.making import Reader
from asfound.report.readers.said import minutes_between, on_day, span_minutes
from asfound.report.wording import clock, day_words

if TYPE_CHECKING:
    from asfound.report.readers.blocks import Block
    from asfound.report.readers.ground import Ground

COLUMNS = (
    "engine", "site", "visit", "date", "who", "what", "from", "until", "minutes", "warranty", "how_known", "note",
    "entry",
)  # fmt: skip
WHAT = {
    "travel": "Travel", "on_site": "On site", "waiting": "Waiting", "preparation": "Preparation", "writing": "Writing",
    "other": "Other",
}  # fmt: skip
WARRANTY = {"": "not said", "no": "no", "asked": "asked for", "agreed": "agreed", "refused": "refused"}
Time = tuple[str, str, str, str, str, float, str, str, str, str]
"""Day, who, what, from, until, minutes, warranty, how known, note, entry."""


def make(ground: Ground) -> Document:
    """Return the time sheet."""
    view = ground.view
    times = list(_times(ground))
    total = sum(one[5] for one in times)
    blocks: list[Block] = [Pairs(rows=tuple(_facts(ground)))]
    if times:
        blocks += [
            Head(text="Hours"),
            Rows(
                columns=("Day", "Who", "What", "From, until", "Time", "Warranty"),
                rows=tuple(_row(one) for one in times),
                shares=(0.9, 1.1, 1.6, 0.9, 0.7, 0.7),
                right=(4,),
            ),
            Says(text=f"Together {minutes_text(total)}.", weight="strong"),
        ]
    if work := tuple(_work(ground)):
        blocks += [Head(text="Work and parts of the day"), Lines(rows=work)]
    people = view.visit.content.get("people", ())
    return Document(
        headline=f"{view.engine.tag}: {minutes_text(total) if times else 'no hours'} for this visit.",
        lead=str(view.visit.content.get("purpose") or ""),
        blocks=tuple(blocks),
        signed=(("for the service", str(people[0]) if people else ""), ("for the site", "")),
        lacks=tuple(_lacks(ground, times)),
        data=Data(columns=COLUMNS, rows=tuple(_data(ground, times))),
    )


def _facts(ground: Ground) -> Iterator[tuple[str, str]]:
    view = ground.view
    yield "Visit", view.visit.name
    yield "Site", view.site.name if view.site else "not on record"
    yield "People", ", ".join(str(one) for one in view.visit.content.get("people", ())) or "nobody named"
    numbers = [str(one["number"]) for one in ground.orders if one.get("visit") == view.id]
    yield "Order", ", ".join(numbers) or "none names this visit"
    stood = span_minutes(view.day.spans, "stopped")
    yield "Engine stood", minutes_text(stood) if stood else "it did not"


def _times(ground: Ground) -> Iterator[Time]:
    """Yield what the visit's own entries propose, then what people typed; typed time on site takes the place of it."""
    view = ground.view
    typed = [one.content for one in ground.time_spent]
    if not any(one["what"] == "on_site" for one in typed):
        for span in view.day.spans:
            if span.kind != "on_site":
                continue
            arrived = [one for one in view.day.events if one.kind == "arrived"]
            left = any(one.kind == "visit_state" and one.content["event"] == "left" for one in view.entries)
            who = arrived[0].who if arrived else view.visit.entry.who
            ends = "now" if view.day.now else clock(span.end)
            known = (
                "signed in and out" if arrived and left else "signed in, not out" if arrived else "first and last entry"
            )
            minutes = minutes_between(span.start, span.end)
            if minutes > 0:
                yield (
                    span.start[:10],
                    who,
                    WHAT["on_site"],
                    clock(span.start),
                    ends,
                    minutes,
                    "",
                    f"proposed: {known}",
                    "",
                    "",
                )
    for entry in ground.time_spent:
        one = entry.content
        yield (
            str(one["date"]),
            str(one["who"]),
            WHAT[one["what"]],
            "",
            "",
            float(one["minutes"]),
            str(one.get("warranty") or ""),
            f"typed by {entry.who}",
            str(one.get("note") or ""),
            entry.id,
        )


def _row(one: Time) -> Row:
    day, who, what, begin, end, minutes, warranty, known, note, _ = one
    return (
        day_words(day),
        who,
        (what, "; ".join(part for part in (known, note) if part)),
        f"{begin} to {end}" if begin else "not said",
        minutes_text(minutes),
        WARRANTY[warranty],
    )


def _work(ground: Ground) -> Iterator[Cell]:
    day = ground.view.visit.date
    for one in ground.view.day.events:
        if one.kind in ("changed", "stopped", "isolated") and one.says:
            took = f"took {minutes_text(one.minutes)}" if one.minutes else "time not noted"
            yield (one.says, f"{on_day(one.time, day)}, {one.who}; {took}")


def _lacks(ground: Ground, times: list[Time]) -> Iterator[Lack]:
    view = ground.view
    travel = f'asfound time {view.engine.tag} travel "2 h 30 min"'
    if not any(one[2] == WHAT["travel"] for one in times):
        yield Lack(what="Travel: nobody typed it.", fill=travel)
    if not any(one.kind == "arrived" for one in view.day.events):
        yield Lack(what="When people signed in.", fill="An event: arrived. Until then the first entry stands.")
    if view.day.now:
        yield Lack(what="The end: the visit is still open.", fill="Sign out, then close the visit.")
    if not any(one[6] for one in times):
        yield Lack(what="Whether the warranty bears it: not said.", fill="asfound time ... --warranty asked")
    if not any(one.get("visit") == view.id for one in ground.orders):
        yield Lack(what="An order that names this visit.", fill="asfound due order")
    yield Lack(what="Rates and prices: the record holds none.")


def _data(ground: Ground, times: list[Time]) -> Iterator[tuple[Any, ...]]:
    view = ground.view
    for day, who, what, begin, end, minutes, warranty, known, note, entry in times:
        yield (
            view.engine.tag,
            view.site.name if view.site else "",
            view.visit.name,
            day,
            who,
            what,
            begin,
            end,
            minutes,
            warranty or "not said",
            known,
            note,
            entry,
        )


READER = Reader(
    name="office",
    title="Own office",
    to="the own office",
    wants="Hours, travel, warranty",
    form="a time sheet to sign, and a table",
    advice="Hours on site are proposed from the visit's entries; whoever was there says what counts.",
    make=make,
    table="one row for each stretch of time",
)
