"""The next engineer: left undone, tried, doubted, looked for and not there; then the full record."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from asfound.quantities.display import chance
from asfound.records.standing import standing
from asfound.report.content_due_words import minutes_text
from asfound.report.content_judged import headline, lead
from asfound.report.icons import LOOK_WORDS, SEVERITY_WORDS
from asfound.report.readers.blocks import Cell, Data, Document, Head, Lack, Lines, Says
from asfound.report.readers.making import Reader
from asfound.report.readers.said import asked, count, on_day
from asfound.report.wording import day_words, named, sentence

if TYPE_CHECKING:
    from asfound.fitout.looks import SeenLook
    from asfound.report.readers.blocks import Block
    from asfound.report.readers.ground import Ground

COLUMNS = ("kind", "what", "says", "time", "who", "entry")
MOST = 14


def make(ground: Ground) -> Document:
    """Return what whoever comes next must know first."""
    was = tuple(_was(ground))
    parts = (
        *((("What it was", was, ""),) if was else ()),
        ("Left undone", tuple(_undone(ground)), "Nothing stands open."),
        ("Tried, and what came of it", tuple(_tried(ground)), "Nothing was tried or changed."),
        ("Doubted", tuple(_doubted(ground)), "Nothing contradicts, nothing was judged false."),
        (
            "Looked for, and not there; or it could not be told",
            tuple(_negative(ground)),
            "No negative finding was noted.",
        ),
        ("Notes", tuple(_notes(ground)), "Nobody wrote a note."),
    )
    blocks: list[Block] = []
    for title, rows, none in parts:
        blocks.append(Head(text=title))
        blocks.append(Lines(rows=rows[:MOST]) if rows else Says(text=none, weight="quiet"))
        if len(rows) > MOST:
            blocks.append(Says(text=f"{len(rows) - MOST} more stand in the record.", weight="quiet"))
    return Document(
        headline=headline(ground.view),
        lead=lead(ground.view, ground.system),
        blocks=tuple(blocks),
        lacks=tuple(_lacks(ground)),
        tags=tuple(dict.fromkeys(tag for one in ground.view.findings for tag in one.cautions)),
        data=Data(columns=COLUMNS, rows=tuple(_data(ground))),
    )


def _was(ground: Ground) -> Iterator[Cell]:
    """Yield how the case of this visit ended."""
    from asfound.report.content_trouble_paper import trouble

    told = trouble(ground.view)
    closed = told["closed"] if told else None
    if closed:
        aside = "; ".join(part for part in (closed["part"], closed["note"], closed["time"], closed["by"]) if part)
        yield (f"{closed['cause']}: {closed['how']}.", aside)


def _undone(ground: Ground) -> Iterator[Cell]:
    for point in ground.view.open_points:
        content = point.content
        if not content.get("done"):
            by = f"by {day_words(str(content['due']))}" if content.get("due") else "no day"
            who = str(content.get("who") or "nobody named")
            yield (str(content["says"]), f"{SEVERITY_WORDS[str(content['severity'])]}; {who}; {by}")
    for one in ground.view.still_open:
        if not one.entry:
            cost = f"{minutes_text(one.minutes)}, " if one.minutes else ""
            yield (sentence(one.says), f"{cost}engine {one.state_needed}{f'; {one.why}' if one.why else ''}")


def _tried(ground: Ground) -> Iterator[Cell]:
    from asfound.report.content_trouble_paper import trouble

    day = ground.view.visit.date
    for one in ground.view.day.events:
        if one.kind == "changed" and one.says:
            took = f", took {minutes_text(one.minutes)}" if one.minutes else ""
            yield (one.says, f"{on_day(one.time, day)}, {one.who}{took}")
    told = trouble(ground.view)
    for step in told["steps"] if told else ():
        if step["again"]:
            continue
        aside = "; ".join(part for part in (step["time"], step["by"], step["aside"]) if part)
        yield (f"{step['title']}: {step['word']}.", aside)


def _doubted(ground: Ground) -> Iterator[Cell]:
    from asfound.report.content_trouble_paper import trouble

    view = ground.view
    for finding in asked(view, "clash"):
        yield (f"{finding.says.rstrip('.')}.", f"{finding.code}; {finding.next_step}")
    for kept in view.readings.values():
        if kept.judged_false is not None:
            why = str(kept.judged_false.content.get("why") or "no reason noted")
            yield (f"{named(kept.quantity, kept.place)} was judged false.", f"{kept.judged_false.who}: {why}")
    found = view.identification
    if found is not None and view.looks and found.weighed and len(found.builds) > 1:
        second = found.builds[1]
        if second.probability >= 0.005:
            yield f"It may be {second.title} instead, {chance(second.probability)}."
    for one in standing(view):
        if one.code == "CC-16" or (one.subject == "cylinders" and one.severity in ("visit", "soon")):
            yield (f"{one.says.rstrip('.')}.", f"{one.code}; {one.next_step}")
    told = trouble(view)
    if told and told.get("disagree"):
        yield from (str(one) for one in told["disagree"])
    if view.conflicts:
        yield f"{count(len(view.conflicts), 'entry', 'entries')} corrected twice and not settled; both are kept."


def _look_words(ground: Ground, look: SeenLook) -> str:
    found = ground.view.identification
    place = next((one.title for one in found.places if one.slot == look.slot), "") if found is not None else ""
    character = f", {look.character.replace('_', ' ')}" if look.character else ""
    return f"{place or look.slot.replace('_', ' ')}{character}"


def _negative(ground: Ground) -> Iterator[Cell]:
    """Yield negative findings: not there, could not judge, could not be read, symptoms that are not there."""
    from asfound.report.content_trouble_paper import trouble

    view = ground.view
    for look in view.looks:
        if look.answer != "seen":
            yield (f"{_look_words(ground, look)}: {LOOK_WORDS[look.answer].lower()}.", look.note)
    for kept in view.readings.values():
        if kept.missing:
            yield (f"{named(kept.quantity, kept.place)}: could not be taken.", kept.note)
    told = trouble(view)
    for one in told["symptoms"] if told else ():
        if one["word"] != "Seen":
            yield (f"{one['title']}: {one['word'].lower()}.", "; ".join(p for p in (one["by"], one["aside"]) if p))
    for entry in view.entries:
        if entry.kind == "cylinder_look" and entry.content.get("could_not_tell"):
            witness = str(entry.content["witness"]).replace("_", " ")
            yield (
                f"Cylinder {entry.content['cylinder']}, {witness}: could not be told.",
                str(entry.content.get("note") or ""),
            )


def _notes(ground: Ground) -> Iterator[Cell]:
    day = ground.view.visit.date
    for one in ground.view.notes:
        yield (str(one.content["text"]), f"{on_day(str(one.content['time']), day)}, {one.who}")
    for one in ground.view.addenda:
        yield (str(one.content["says"]), f"added {day_words(str(one.content['time']))}, {one.who}")


def _lacks(ground: Ground) -> Iterator[Lack]:
    view, found = ground.view, ground.view.identification
    if not view.readings:
        yield Lack(what="Readings: none was taken.")
    elif not any(one.state == "as_left" for one in view.readings.values()):
        yield Lack(what="Readings as left: how the engine was left is not known by numbers.")
    if found is None or not view.looks:
        yield Lack(what="Looks: what is fitted was not looked at.")
    else:
        bare = [one.title for one in found.places if one.looked == "open" and not one.evidence_only]
        if bare:
            yield Lack(
                what=f"{count(len(bare), 'place')} nobody looked at: {', '.join(bare[:8]).lower()}"
                f"{' and others' if len(bare) > 8 else ''}."
            )
    if not view.photos:
        yield Lack(what="Photos: none was kept.")
    if not view.settings:
        yield Lack(what="Settings and the saved file of the controls.")


def _data(ground: Ground) -> Iterator[tuple[str, ...]]:
    for kind, rows in (
        ("what it was", _was(ground)),
        ("left undone", _undone(ground)),
        ("tried", _tried(ground)),
        ("doubted", _doubted(ground)),
        ("negative", _negative(ground)),
    ):
        for one in rows:
            what, says = (one, "") if isinstance(one, str) else one
            yield (kind, what, says, "", "", "")
    for note in ground.view.notes:
        yield ("note", str(note.content["text"]), "", str(note.content["time"]), note.who, note.id)


READER = Reader(
    name="next_engineer",
    title="Next engineer",
    to="the next engineer",
    wants="What was seen, tried, doubted, left undone",
    form="one sheet before the full record, negative findings with it",
    advice="Whoever comes next looks again: this is what one visit saw.",
    make=make,
    sheet="record",
    table="what it was, left undone, tried, doubted, negative findings, notes",
)
