"""The reliability engineer: failures coded in the terms of ISO 14224, with what is left open said as open."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from asfound.report.content_due_words import hours_text, minutes_text
from asfound.report.readers.blocks import Cell, Data, Document, Head, Lack, Lines, Pairs, Row, Rows, Says
from asfound.report.readers.making import Reader
from asfound.report.readers.said import count, minutes_between, short_day
from asfound.upkeep.failure_records import check_failure, means, of_entry, says
from asfound.upkeep.failure_words import propose

if TYPE_CHECKING:
    from collections.abc import Mapping

    from asfound.report.readers.blocks import Block
    from asfound.report.readers.ground import Ground

COLUMNS = (
    "engine", "site", "failure", "detected", "hours_shown", "subunit", "item", "mode", "mode_means", "mechanism",
    "mechanism_means", "cause", "cause_means", "detection", "impact", "operating", "category", "activities",
    "down_from", "down_until", "down_hours", "active_hours", "parts", "work_order", "visit", "text", "language", "open",
)  # fmt: skip
MOST = 8
OPEN = "open"


def make(ground: Ground) -> Document:
    """Return the coded failures of the engine, the newest first, and what was closed on this visit."""
    failures = list(ground.failures)
    blocks: list[Block] = [Pairs(rows=_figures(ground))]
    if failures:
        blocks += [
            Head(text="Failures on record"),
            Rows(
                columns=("Detected", "What failed", "Mode", "Mechanism, cause", "Stood"),
                rows=tuple(_row(one) for one in failures[:MOST]),
                shares=(0.75, 1.6, 1.2, 1.4, 0.8),
            ),
        ]
        if len(failures) > MOST:
            blocks.append(Says(text=f"{len(failures) - MOST} older ones stand in the table.", weight="quiet"))
    if closed := tuple(_closed(ground)):
        blocks += [Head(text="Closed on this visit"), Lines(rows=closed)]
    if orders := tuple(_orders(ground)):
        blocks += [
            Head(text="Orders without a code"),
            Lines(rows=orders),
            Says(
                text="Proposed by the order's own words; nothing is filled in until a person codes it.", weight="quiet"
            ),
        ]
    return Document(
        headline=f"{ground.view.engine.tag}: {count(len(failures), 'failure') if failures else 'none'} on record.",
        lead="Coded in the terms of ISO 14224:2016 as public texts quote it. What nobody judged stays open.",
        blocks=tuple(blocks),
        lacks=tuple(_lacks(ground)),
        data=Data(columns=COLUMNS, rows=tuple(_data(ground, one) for one in failures)),
    )


def _figures(ground: Ground) -> tuple[tuple[str, str], ...]:
    due = ground.due
    hours = f"{due.hours}{f' ({due.hours_interval})' if due.hours_interval else ''}" if due.hours else "not known"
    down = [minutes for one in ground.failures if (minutes := _down(one))]
    rows = [
        ("Running hours on the day", hours),
        ("Pace", due.pace or "not known"),
        ("Time down by failures on record", minutes_text(sum(down)) if down else "none written down"),
    ]
    exchanged = ground.view.due.exchanges
    if exchanged:
        told = "; ".join(f"{short_day(one.day.isoformat())} at {hours_text(one.last_of_old)}" for one in exchanged)
        rows.append(("Hour meter exchanged", told))
    return tuple(rows)


def _down(one: Mapping[str, Any]) -> float:
    return minutes_between(str(one.get("down_from") or ""), str(one.get("down_until") or ""))


def _coded(field: str, code: Any) -> str:
    """Return a code with its meaning; an empty one is open, a code of no table stands as it is."""
    if not code:
        return OPEN
    told = means(field, str(code))
    return f"{code} {told}" if told and told != code else str(code)


def _row(one: Mapping[str, Any]) -> Row:
    hours = f"{hours_text(float(one['hours']))} on the meter" if one.get("hours") is not None else "hours not noted"
    item = ", ".join(str(one[name]) for name in ("subunit", "item") if one.get(name)) or "item open"
    down, active = _down(one), float(one.get("minutes_active") or 0.0)
    work = f"{minutes_text(active)} of work" if active else "work not noted"
    did = ", ".join(str(each) for each in one.get("activities") or ())
    how = ", ".join(str(one[name]).replace("_", " ") for name in ("impact", "operating", "detection") if one.get(name))
    return (
        (short_day(str(one["date"])), hours),
        (item, str(one["text"])),
        (_coded("mode", one.get("mode")), how),
        (_coded("mechanism", one.get("mechanism")), f"cause: {_coded('cause', one.get('cause'))}"),
        (minutes_text(down) if down else "not noted", f"{work}{f'; {did}' if did else ''}"),
    )


def _closed(ground: Ground) -> Iterator[Cell]:
    """Yield the trouble that ended on this visit: what was found, by what, in words; it has no code yet."""
    from asfound.report.content_trouble_paper import trouble

    told = trouble(ground.view)
    closed = told["closed"] if told else None
    if not closed:
        return
    yield (f"{closed['how']}: {closed['part'] or 'no part named'}.", str(closed.get("note") or ""))
    for one in told["steps"] if told else ():
        if one["what"] == "repair":
            yield f"{one['title']}: {one['word'].lower()}."
    yield ("Not coded yet.", "A person writes the failure with its codes; the case above names no code by itself.")


def _orders(ground: Ground) -> Iterator[Cell]:
    coded = {str(one.get("work_order")) for one in ground.failures}
    for one in ground.orders:
        if one.get("mode") or str(one["number"]) in coded:
            continue
        found = {each.field: each for each in reversed(propose(str(one["text"]), str(one.get("language") or "")))}
        said = [
            f"{name} {found[name].code} ({found[name].title}, {100 * found[name].confidence:.0f} in 100)"
            for name in ("mode", "mechanism")
            if name in found
        ]
        if said:
            yield (
                f"{one['number']}, {short_day(str(one['date']))}: {one['text']}",
                f"Its words suggest {'; '.join(said)}.",
            )


def _lacks(ground: Ground) -> Iterator[Lack]:
    failures = list(ground.failures)
    if not failures:
        yield Lack(what="A failure: none is on the record of this engine.", fill="Page Due and upgrade, A failure.")
    for one in failures[:MOST]:
        failure, _ = of_entry(one, ground.view.engine.tag)
        wanted = [says(code, failure) for code in check_failure(failure) if not code.startswith("advise:")]
        for said in wanted[:3]:
            yield Lack(what=f"{short_day(str(one['date']))}: {said}")
        if one.get("hours") is None:
            yield Lack(what=f"{short_day(str(one['date']))}: hours at the failure.", fill="The meter on that day.")
    if failures:
        yield Lack(
            what="Parts used for each failure: the record names none beside its words.", fill="The order's text."
        )


def _data(ground: Ground, one: Mapping[str, Any]) -> tuple[Any, ...]:
    view = ground.view
    down, active = _down(one), one.get("minutes_active")
    failure, _ = of_entry(one, view.engine.tag)
    wanted = " ".join(code for code in check_failure(failure))
    return (
        view.engine.tag,
        view.site.name if view.site else "",
        one.get("entry", ""),
        one["date"],
        one.get("hours"),
        one.get("subunit", ""),
        one.get("item", ""),
        one.get("mode", ""),
        means("mode", str(one.get("mode") or "")),
        one.get("mechanism", ""),
        means("mechanism", str(one.get("mechanism") or "")),
        one.get("cause", ""),
        means("cause", str(one.get("cause") or "")),
        one.get("detection", ""),
        one.get("impact", ""),
        one.get("operating", ""),
        one.get("category", ""),
        " ".join(one.get("activities") or ()),
        one.get("down_from", ""),
        one.get("down_until", ""),
        down / 60.0 if down else None,
        float(active) / 60.0 if active is not None else None,
        "",
        one.get("work_order") or "",
        one.get("visit") or "",
        one["text"],
        one.get("language", ""),
        wanted,
    )


READER = Reader(
    name="reliability",
    title="Reliability engineer",
    to="the reliability engineer",
    wants="Failure mode, cause, hours, downtime, parts; coded",
    form="one page, and the record by ISO 14224 as a table",
    advice="Codes are those that a person gave; what the program proposes is advice until somebody agrees.",
    make=make,
    sheet="page",
    table="one row for each failure, codes beside their meaning",
)
