"""The parts desk: the exact part for this build, how many, by when, what else fits, what must not be sent."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import TYPE_CHECKING, Any

from asfound.fitout.identification import short_title
from asfound.quantities.display import chance
from asfound.report.content_due_words import day_text
from asfound.report.icons import LOOK_WORDS
from asfound.report.readers.blocks import Cell, Data, Document, Head, Lack, Lines, Row, Rows, Says, Shot, Shots
from asfound.report.readers.making import Reader
from asfound.report.readers.said import count

if TYPE_CHECKING:
    from asfound.fitout.identification import Identification, PlaceBelief
    from asfound.fitout.identification_follows import SpareFollows
    from asfound.report.readers.blocks import Block
    from asfound.report.readers.ground import Ground

COLUMNS = (
    "engine", "site", "works_number", "build", "build_chance", "kind", "part", "part_id", "quantity", "needed_by",
    "urgency", "place", "certainty", "fits", "in_store", "condition", "alternatives", "evidence", "photos",
)  # fmt: skip
WORTH_NAMING = 0.05
"""Chance from which another part for the same place is named as what it may be instead."""
DIRECTIONS = {
    "both": "either may stand in for the other",
    "one_way": "may stand in for it, not the reverse",
    "no": "must not stand in for it",
}


def make(ground: Ground) -> Document:
    """Return what to order, what to hold for this build, what to send back."""
    view, found = ground.view, ground.view.identification
    stops, right, wrong = list(_stops(ground)), list(_right(found)), list(_wrong(found))
    photos = tuple(_photos(ground))
    blocks: list[Block] = []
    if stops:
        blocks += [
            Head(text="Must lie ready for a stop"),
            Rows(
                columns=("Number", "Part", "For", "By"),
                rows=tuple(_stop_row(one) for one in stops),
                shares=(0.5, 2, 1.7, 1),
                right=(0,),
            ),
        ]
    if right and found is not None:
        blocks += [
            Head(text="Parts for this build"),
            Rows(
                columns=("Number", "Part", "Certain", "Alternatives, conditions", "Evidence"),
                rows=tuple(_part_row(found, one) for one in right),
                shares=(0.45, 1.5, 0.8, 1.7, 1.5),
                right=(0,),
            ),
            Says(
                text="The number is what one engine carries. No part here is late by itself: order for a stop, "
                "a finding or an open point.",
                weight="quiet",
            ),
        ]
    if wrong:
        blocks += [Head(text="In the store and not for this engine"), Lines(rows=tuple(wrong))]
    if rules := tuple(_interchange(found)):
        blocks += [Head(text="Interchange"), Lines(rows=rules)]
    if points := tuple(_points(ground)):
        blocks += [Head(text="Open points"), Lines(rows=points)]
    if photos:
        blocks += [Head(text="Evidence"), Shots(rows=photos)]
    tag = view.engine.tag
    headline = f"{tag}: {count(len(stops), 'part')} for the next stops." if stops else f"{tag}: no part has a date."
    return Document(
        headline=headline,
        lead=_lead(ground),
        blocks=tuple(blocks),
        lacks=tuple(_lacks(ground, found, right)),
        data=Data(columns=COLUMNS, rows=tuple(_data(ground, stops, found))),
    )


def _lead(ground: Ground) -> str:
    engine, found = ground.view.engine.content, ground.view.identification
    works = str(engine.get("works_number") or "")
    said = f"Works number {works} on the record." if works else "The works number is not on the record."
    if found is None or not any(place.looks for place in found.places):
        return f"{said} Nothing was looked at: parts follow from what such an engine usually has."
    if not found.weighed:
        return f"{said} Fitted: {short_title(found)}. No catalogue knows it, so no part follows from it."
    if found.builds[0].kind == "other":
        return f"{said} {chance(found.builds[0].probability)} that its controls are in no catalogue."
    before = "" if ground.view.looks else " Nothing was looked at on this visit; what an earlier one saw counts on."
    return f"{said} Build: {short_title(found)}, {chance(found.builds[0].probability)}.{before}"


def _stops(ground: Ground) -> Iterator[tuple[str, str, str, date]]:
    """Yield number, part, task and day of what a stop needs."""
    titles = {one.id: one.title for one in ground.view.due.tasks}
    for stop in ground.view.due.stops.stops if ground.view.due.stops else ():
        for part in stop.parts:
            yield (
                "" if part.number is None else str(part.number),
                part.what,
                titles.get(part.task, part.task),
                stop.day,
            )


def _stop_row(one: tuple[str, str, str, date]) -> Row:
    number, what, task, day = one
    return (
        number or "not known",
        (what[:1].upper() + what[1:], "type by the engine's own document"),
        task,
        day_text(day, year=True),
    )


def _right(found: Identification | None) -> Iterator[SpareFollows]:
    """Yield the parts that fit; none where nothing was weighed."""
    if found is not None and found.weighed:
        yield from (one for one in found.follows.spares if one.fits)


def _wrong(found: Identification | None) -> Iterator[Cell]:
    for one in found.follows.spares if found is not None else ():
        if one.in_store and not one.fits:
            yield (f"{one.title}: {chance(1.0 - one.probability)} that it does not fit.", one.condition)


def _part_row(found: Identification, one: SpareFollows) -> Row:
    others = "; ".join(_alternatives(found, one))
    store = "lies in the store" if one.in_store else ""
    return (
        str(one.quantity),
        (one.title, store),
        chance(one.probability),
        (others or "none", one.condition),
        _evidence(found, one.slot),
    )


def _alternatives(found: Identification, one: SpareFollows) -> Iterator[str]:
    """Yield what it may be instead, for the same place."""
    for other in found.follows.spares:
        if other.slot == one.slot and other.id != one.id and other.probability >= WORTH_NAMING:
            word = "also for this place" if other.fits and one.fits else "if it is otherwise"
            yield f"{other.title}, {word}, {chance(other.probability)}"


def _place(found: Identification, slot: str) -> PlaceBelief | None:
    return next((one for one in found.places if one.slot == slot), None)


def _evidence(found: Identification, slot: str) -> Cell:
    """Return what was seen of the place that the part belongs to."""
    place = _place(found, slot)
    if place is None:
        return "no place of this engine"
    if not place.looks:
        return ("not looked at", place.title)
    labels = [look.label for look in place.looks if look.label]
    label = f"; label {labels[-1]}" if labels else ""
    return (f"{place.title}: {place.title_of_variant}", f"{LOOK_WORDS[place.looked].lower()}{label}")


def _interchange(found: Identification | None) -> Iterator[Cell]:
    for one in found.follows.interchange if found is not None else ():
        if one.concerns:
            setting = f"; setting: {one.setting}" if one.setting else ""
            yield (f"{one.part} for {one.other}: {DIRECTIONS[one.direction]}.", f"{one.condition}{setting}")


def _points(ground: Ground) -> Iterator[Cell]:
    """Yield the open points that name a place, for they may ask for a part."""
    for one in ground.view.open_points:
        content = one.content
        if content.get("done") or not content.get("place"):
            continue
        by = content.get("due")
        when = day_text(date.fromisoformat(str(by)), year=True) if by else "no day named"
        yield (str(content["says"]), f"{str(content['place']).replace('_', ' ')}; {when}")


def _photos(ground: Ground) -> Iterator[Shot]:
    found = ground.view.identification
    for one in ground.view.photos:
        slot = str(one.content.get("place") or "")
        place = _place(found, slot) if found is not None and slot else None
        if place is None or not str(one.content["media_type"]).startswith("image/"):
            continue
        sure = "evidence only" if place.evidence_only else f"{place.title_of_variant}, {chance(place.probability)}"
        yield Shot(
            digest=str(one.content["digest"]),
            filename=str(one.content["filename"]),
            caption=str(one.content.get("caption") or place.title),
            says=f"{place.title}: {sure}",
        )


def _lacks(ground: Ground, found: Identification | None, right: list[SpareFollows]) -> Iterator[Lack]:
    view = ground.view
    if found is None or not found.weighed or found.builds[0].kind == "other":
        yield Lack(
            what="The exact part: no catalogue knows this build.",
            fill="A catalogue entry, drafted from the visit: asfound catalogue draft; until then by sample and photo.",
        )
    elif not any(place.looks for place in found.places):
        yield Lack(what="A look at the engine: what fits is only what is usual.", fill="Page What is fitted.")
    if not view.engine.content.get("works_number"):
        yield Lack(what="The works number.", fill="Stamped in the block; the plate may be another's.")
    pictured = {str(one.content.get("place")) for one in view.photos}
    bare = [one.title for one in right if one.slot not in pictured]
    if bare:
        yield Lack(what=f"A photo of the place for {count(len(bare), 'part')}.", fill="A photo put to its component.")
    if view.due.stops is None or not view.due.stops.stops:
        yield Lack(what="A day by which parts are needed: no stop is planned.", fill="Page Due and upgrade.")
    yield Lack(what="Numbers of the maker, prices, time of delivery: the record holds none.", fill="The supplier.")


def _data(ground: Ground, stops: list[tuple[str, str, str, date]], found: Identification | None) -> Iterator[Any]:
    view = ground.view
    weighed = found is not None and found.weighed
    head = (
        view.engine.tag,
        view.site.name if view.site else "",
        str(view.engine.content.get("works_number") or ""),
        short_title(found) if found is not None else "",
        found.builds[0].probability if found and weighed else None,
    )
    for number, what, task, day in stops:
        yield (
            *head,
            "for a stop",
            what,
            "",
            int(number) if number else None,
            day.isoformat(),
            task,
            "",
            None,
            None,
            None,
            "type by the engine's own document",
            "",
            "",
            "",
        )
    if found is None:
        return
    pictured: dict[str, list[str]] = {}
    for one in view.photos:
        pictured.setdefault(str(one.content.get("place") or ""), []).append(str(one.content["filename"]))
    for spare in found.follows.spares:
        kind = "for this build" if spare.fits else "in the store, does not fit" if spare.in_store else "if otherwise"
        evidence = _evidence(found, spare.slot)
        yield (
            *head,
            kind,
            spare.title,
            spare.id,
            spare.quantity,
            "",
            "",
            spare.slot,
            spare.probability,
            spare.fits,
            spare.in_store,
            spare.condition,
            "; ".join(_alternatives(found, spare)),
            evidence if isinstance(evidence, str) else "; ".join(evidence),
            " ".join(pictured.get(spare.slot, ())),
        )


READER = Reader(
    name="parts",
    title="Parts desk",
    to="the parts desk",
    wants="The exact part for this build, how many, by when, alternatives",
    form="a list with evidence and certainty, and a table",
    advice="A part follows from what is believed to be fitted; hold it against the old part before it goes in.",
    make=make,
    table="one row for each part: for a stop, for this build, or in the store and wrong",
)
