"""An engine that no catalogue knows: described place by place, nothing weighed, nothing pretended.

Its places are the generic slots. Looks are proposed by one rule (common practice for the groups, engineering judgement
for the minutes): those allowed now; of these those without a stop; of these the plate, then control, then protection,
then the rest; the quickest first.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations
from typing import TYPE_CHECKING

from asfound.errors import InputError
from asfound.evidence.model import OTHER
from asfound.fitout.catalogue import CatalogueLook, Slot
from asfound.fitout.channels import ChannelPlan, plan
from asfound.fitout.channels_follow import count_seen, counted_only
from asfound.fitout.contradictions import plate_clashes
from asfound.fitout.generic import STATES, book_for, group_order, slot_of
from asfound.fitout.identification import (
    Build,
    Contradiction,
    Identification,
    NextLook,
    Place,
    PlaceBelief,
    StopLooking,
)
from asfound.fitout.identification_follows import ChannelsFollow, Follows
from asfound.fitout.looks import STATEMENT_SLOTS, SeenLook
from asfound.fitout.next_looks import MOST_LISTED, MOST_NOT_ALLOWED, ORDER, not_allowed_words
from asfound.fitout.places import TITLE_OF_OTHER, described, in_order
from asfound.fitout.plate import plate_facts
from asfound.fitout.words import look_says

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.engine_facts import EngineFacts

RULE = (
    "looks without a stop first; of these the plate, then control, then protection, then the rest; the quickest first "
    "(engineering judgement)."
)
NEARER = ("read", "in_hand")
GROUP_WORDS = {"any": "traces", "instrument": "instruments"}
NO_PAPERS = (
    "No document, file, spare or limit of a catalogue is for this engine: ask its builder and its owner for the "
    "papers; own notes, photographs and a drawing of the wiring are its record. "
    "Mark every wire before one is taken off."
)


def described_only(
    catalogue: Catalogue, engine: EngineFacts, looks: Sequence[SeenLook], allowed: Sequence[str], why: str
) -> Identification:
    """Return the answer for an engine that no family of the catalogue can be.

    Parameters
    ----------
    catalogue : Catalogue
        The one that does not know it.
    why : str
        Sentence that says so.

    Raises
    ------
    InputError
        A look names a place that neither the generic list nor the catalogue has.
    """
    book = book_for(catalogue, engine)
    for look in looks:
        if slot_of(book, look.slot) is None and look.slot not in (*STATEMENT_SLOTS, *catalogue.slots):
            raise InputError("slot", look.slot, "is no place of the generic list", allowed=", ".join(book.slots))
    places = _places(book, looks)
    next_looks = tuple(_next_looks(book, places, allowed))
    seen = sum(one.looked in ("seen", "not_there") for one in places if not one.evidence_only)
    return Identification(
        builds=(Build(name=OTHER, title=TITLE_OF_OTHER, probability=1.0, kind="other", before=1.0),),
        words="not in the catalogue",
        headline="Not in the catalogue",
        says=f"{why} It is described place by place in the words of the trade; {seen} described so far.",
        part_converted=None,
        other=1.0,
        fit_z=None,
        fit_says="Not computed: there is no build of a catalogue to compare with.",
        places=places,
        contradictions=tuple(sorted(_contradictions(book, engine, looks, why), key=lambda one: one.code)),
        weights=(),
        weights_total=0.0,
        weights_prior=0.0,
        leader=OTHER,
        runner_up=OTHER,
        why_not=(),
        hangs_on=(),
        next_looks=next_looks,
        groups=(),
        stop=None
        if any(one.allowed for one in next_looks)
        else StopLooking(reason="all_described", says="Every place that can be seen now has been looked at."),
        follows=Follows(channels=_channels(engine, looks), notes=tuple(_notes(places))),
        short="Not in the catalogue",
        catalogue=catalogue.name,
        catalogue_digest=catalogue.digest,
    )


def _places(book: Catalogue, looks: Sequence[SeenLook]) -> tuple[PlaceBelief, ...]:
    """Return the generic places in the order of their tags, then others that somebody looked at."""
    by_slot: dict[str, list[SeenLook]] = {}
    for look in looks:
        by_slot.setdefault(look.slot, []).append(look)
    spots = {name: _spot(one) for name, one in book.slots.items() if name != "word"}
    for name in by_slot:  # kept from a time when the engine was held to be of the catalogue
        if name not in spots and name != "word":
            spots[name] = Place(side="right", along=0.5, kind="unknown")
    return tuple(
        described(book.slots.get(name), name, number, spots[name], tuple(by_slot.get(name, ())), "unlisted")
        for number, name in enumerate(in_order(spots), 1)
    )


def _spot(slot: Slot) -> Place:
    return Place(side=slot.side, along=slot.along or 0.0, kind=slot.drawn_as, words=slot.where)


# ---------------------------------------------------------------------- next looks


def _next_looks(book: Catalogue, places: Sequence[PlaceBelief], allowed: Sequence[str]) -> Iterator[NextLook]:
    """Yield the looks still to be made, in the order of `RULE`: the first of those allowed now, and of those not."""
    rank = group_order()
    open_ways = [
        (place, book.slots[place.slot], way)
        for place in places
        if place.slot in book.slots
        for way in book.slots[place.slot].looks
        if not _made(way, book.slots[place.slot], place.looks)
    ]
    open_ways.sort(
        key=lambda one: (
            one[2].state not in allowed,
            ORDER.index(one[2].state),
            rank.get(one[0].group, len(rank)),
            one[2].minutes,
        )
    )
    may = [one for one in open_ways if one[2].state in allowed][:MOST_LISTED]
    later = [one for one in open_ways if one[2].state not in allowed][:MOST_NOT_ALLOWED]
    for place, slot, way in (*may, *later):
        yield _next_look(place, slot, way, allowed=way.state in allowed)


def _made(way: CatalogueLook, slot: Slot, looks: Sequence[SeenLook]) -> bool:
    """Return whether a way of looking has given its answer already."""
    told = [one for one in looks if one.answer != "not_judged"]
    if any(one.answer == "not_there" for one in told):
        return True
    if way is slot.looks[0]:
        return bool(told)
    if "label" in way.sees and any(one.label or one.character == "label" for one in told):
        return True
    return any(one.how in NEARER for one in told)


def _next_look(place: PlaceBelief, slot: Slot, way: CatalogueLook, *, allowed: bool) -> NextLook:
    stop = {"running": "no stop", "stopped": "needs a stop", "isolated": "needs isolation"}[way.state]
    return NextLook(
        id=f"{slot.id}.{way.id}",
        slot=slot.id,
        character=way.sees[0] if way.sees else "",
        number=place.number,
        title=slot.title,
        says=f"{way.says[0].upper()}{way.says[1:]}{'' if way.says.endswith('?') else '.'} Where: {slot.where}.",
        minutes=way.minutes,
        state_needed=next(one for one in STATES if one == way.state),
        allowed=allowed,
        why_not="" if allowed else not_allowed_words(way.state),
        bits=0.0,
        share_of_doubt=0.0,
        outcomes=(),
        hazards=slot.hazards,
        order=f"{stop}; {GROUP_WORDS.get(slot.group, slot.group)}",
    )


# ---------------------------------------------------------------------- what does not agree, what follows


def _contradictions(
    book: Catalogue, engine: EngineFacts, looks: Sequence[SeenLook], why: str
) -> Iterator[Contradiction]:
    yield Contradiction(
        code="FT-04",
        says=why,
        because=("Nothing can be weighed: there is no build to compare with.",),
        next_step=(
            "Describe each place with the generic slots, photograph and draw the wiring, "
            "and draft a first catalogue entry from this visit."
        ),
        severity="note",
        cautions=("loto", "protect"),
    )
    yield from plate_clashes(plate_facts(engine, looks))
    told = [one for one in looks if one.answer != "not_judged" and one.slot not in STATEMENT_SLOTS]
    for one, other in combinations(told, 2):
        if one.slot != other.slot or not _disagree(one, other):
            continue
        slot = slot_of(book, one.slot)
        yield Contradiction(
            code="FT-14",
            says=f"Two witnesses disagree about {(slot.title if slot else one.slot).lower()}.",
            because=tuple(f"{look_says(book, each)} ({each.by or each.source or each.how})." for each in (one, other)),
            next_step="Look once more, nearer than both; keep both statements.",
            places=(one.slot,),
            entries=tuple(each.entry for each in (one, other) if each.entry),
        )


def _disagree(one: SeenLook, other: SeenLook) -> bool:
    """Return whether two looks exclude each other: there and not there, or two counts without a number in common."""
    if "not_there" in (one.answer, other.answer):
        return one.answer != other.answer and not {one.character, other.character} - {""}
    counts = one.character == other.character == "count"
    return counts and bool(one.states) and bool(other.states) and not set(one.states) & set(other.states)


def _channels(engine: EngineFacts, looks: Sequence[SeenLook]) -> ChannelsFollow | None:
    """Return the thermocouple channels by the usual count; what is not known is taken as said. None without layout."""
    if not engine.layout or engine.cylinders < 1 or (engine.layout == "vee" and engine.cylinders % 2):
        return None
    known = _known(engine, looks)
    taken = []
    if known["turbochargers"] is None:
        taken.append("no turbocharger (add 2 for each)")
    if known["catalyst"] is None:
        taken.append("no catalyst (add 2)")
    if known["bearings"] is None:
        taken.append("main bearings measured")
    measured = known["bearings"] is not False
    planned: ChannelPlan = plan(
        layout=engine.layout,
        cylinders=engine.cylinders,
        turbochargers=known["turbochargers"] or 0,
        bearings=None if measured else 0,
        catalyst=bool(known["catalyst"]),
    )
    says = f"{planned.formula} thermocouple channels by the usual count; count the entries in use and compare."
    if taken:
        says += f" Not known yet, taken as: {', '.join(taken)}."
    return counted_only(planned, count_seen(looks), says)


def _known(engine: EngineFacts, looks: Sequence[SeenLook]) -> Mapping[str, int | bool | None]:
    """Return turbochargers, catalyst and whether bearings are measured: from the record, else from what was seen."""

    def there(slot: str) -> bool | None:
        told = [one.answer for one in looks if one.slot == slot and one.answer != "not_judged"]
        return None if not told else told[-1] == "seen"

    counted = count_seen(looks, "turbocharger")
    none = 0 if there("turbocharger") is False else None
    return {
        "turbochargers": next((n for n in (engine.turbochargers, counted, none) if n is not None), None),
        "catalyst": engine.catalyst if engine.catalyst is not None else there("catalyst"),
        "bearings": engine.bearings_measured if engine.bearings_measured is not None else there("tc_bearing"),
    }


def _notes(places: Sequence[PlaceBelief]) -> Iterator[str]:
    yield NO_PAPERS
    yield f"Next looks: {RULE}"
    if any(one.slot == "traces" and one.looked == "seen" for one in places):
        yield "Traces of former equipment were seen: the engine may be part-converted, which is not computed here."
