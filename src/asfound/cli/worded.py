"""What is believed to be fitted, as lines and rows; for `fitted`, `identify` and `places`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.cli.answer import coloured, columns, wrapped
from asfound.errors import UnknownNameError
from asfound.quantities.display import chance

if TYPE_CHECKING:
    from collections.abc import Iterator

    from asfound.fitout.catalogue import Catalogue
    from asfound.fitout.identification import Identification, NextLook


LEAST = 0.05
"""Weights smaller than this are counted, not listed. [decibans]"""


def signed(value: float) -> str:
    """Return a number with its sign, as print has it."""
    return f"{value:+.1f}".replace("-", "\u2212")


def place_rows(identification: Identification | None) -> list[dict[str, Any]]:
    """Return one row per place of the engine, then the generic places for which the catalogue has none."""
    from asfound.fitout.generic import generic_slots

    slots = generic_slots() if identification and identification.generic else {}
    return [
        {
            "number": one.number,
            "slot": one.slot,
            "title": one.title,
            "looked": one.looked.replace("_", " "),
            "variant": one.title_of_variant,
            "probability": chance(one.probability) if one.variant else "",
            "belongs": one.belongs,
        }
        for one in (identification.places if identification else ())
    ] + [
        {"number": "", "slot": name, "title": slots[name].title, "looked": "open", "variant": "", "probability": "",
         "belongs": "generic place"}
        for name in (identification.generic if identification else ())
        if identification and name not in {one.slot for one in identification.places}
    ]  # fmt: skip


def character_rows(catalogue: Catalogue, slot: str) -> list[dict[str, Any]]:
    """Return the characters of a slot with their states, and from where each can be seen."""
    from asfound.fitout.generic import generic_slots, slot_of

    found = slot_of(catalogue, slot)
    if found is None:
        raise UnknownNameError("slot", slot, {**catalogue.slots, **generic_slots()})
    rows = []
    for character in found.characters.values():
        looks = [one for one in found.looks if character.id in one.sees]
        rows.append(
            {
                "slot": slot, "character": character.id, "title": character.title, "kind": character.kind,
                "states": [{"state": one.id, "title": one.title} for one in character.states.values()],
                "from": "; ".join(f"{one.says or one.id}, {one.minutes:g} min, engine {one.state}" for one in looks),
                **({"own_words": True} if found.free and character.kind not in ("count", "label") else {}),
            }
        )  # fmt: skip
    return rows


def told(found: Identification, *, most: int = 5) -> Iterator[str]:
    """Yield the answer as a person reads it: what, how sure, why, what against it, what next, what follows."""
    yield from _belief(found)
    yield from _places(found)
    yield from _contradictions(found)
    yield from _why(found)
    yield from _next(found, most)
    yield from _follows(found)


def _belief(found: Identification) -> Iterator[str]:
    if not found.weighed:
        yield coloured(f"{found.headline}: described, not weighed", "head")
        yield from wrapped(found.says, "  ")
        yield f"  part-converted: not computed; fit: not computed; not in the catalogue {chance(found.other)}"
        return
    yield coloured(f"{found.builds[0].title if found.builds else 'Nothing known'}: {found.words}", "head")
    rows = [(f"  {one.title}", chance(one.probability), one.kind.replace("_", " ")) for one in found.builds[:4]]
    yield from columns(rows)
    unlisted = f"not in the catalogue {chance(found.other)}"
    converted = chance(found.part_converted or 0.0)
    yield f"  part-converted in any way {converted}; {unlisted}; fit z {signed(found.fit_z or 0.0)}"
    if found.nearest and found.words == "not in the catalogue":
        yield f"  nearest in the catalogue: {found.nearest}"
    if found.generic:
        yield from wrapped(f"describe it with the generic places: {', '.join(found.generic)}", "  ")


def _places(found: Identification) -> Iterator[str]:
    yield ""
    rows = [tuple(row.values()) for row in place_rows(found)]
    yield from columns(
        rows, ("no.", "slot", "component", "looked", "what sits there", "sure", "belongs to"), right=(0, 5)
    )


def _contradictions(found: Identification) -> Iterator[str]:
    for one in found.contradictions:
        yield ""
        yield from (coloured(line, "clash") for line in wrapped(f"{one.code} {one.says}"))
        for because in one.because:
            yield from wrapped(because, "  ")
        yield from wrapped(one.next_step, "  > ")


def _why(found: Identification) -> Iterator[str]:
    if not found.weighed:
        return
    titles = {one.name: one.title for one in found.builds}
    leader, runner_up = titles.get(found.leader, found.leader), titles.get(found.runner_up, found.runner_up)
    yield ""
    yield coloured(f"Why '{leader}' and not '{runner_up}' (decibans, {signed(found.weights_total)} in all)", "head")
    telling = [one for one in found.weights if abs(one.decibans) >= LEAST]
    rows = [("  before any look", signed(found.weights_prior), "")]
    rows += [(f"  {one.says}", signed(one.decibans), one.instead) for one in telling]
    yield from columns(rows, right=(1,))
    if len(telling) < len(found.weights):
        yield f"  {len(found.weights) - len(telling)} more looks do not tell these two apart"
    for other in found.why_not:
        yield from wrapped(f"Why not '{other.title}': {other.says}", "  ")
    for one in found.hangs_on:
        yield from wrapped(f"Hangs on: {one.says}; without it '{one.title}' would lead", "  ")


def _next(found: Identification, most: int) -> Iterator[str]:
    yield ""
    yield coloured("What to look at next", "head")
    if found.stop:
        yield from wrapped(found.stop.says, "  ")
    allowed = [one for one in found.next_looks if one.allowed][:most]
    yield from columns([_look_row(one) for one in allowed])
    for one in [look for look in found.next_looks if not look.allowed][:most]:
        yield from wrapped(f"not now: {one.title}: {one.why_not}", "  ")
    for group in found.groups:
        yield from wrapped(
            f"together, engine {group.state_needed}: {group.title}, {group.minutes:g} min, "
            f"takes {100 * group.share_of_doubt:.0f} % of the doubt", "  ",
        )  # fmt: skip


def _look_row(one: NextLook) -> tuple[str, str, str, str]:
    return (
        f"  {one.slot} {one.character}",
        f"{one.minutes:g} min",
        one.order or f"takes {100 * one.share_of_doubt:.0f} % of the doubt",
        one.says,
    )


def _follows(found: Identification) -> Iterator[str]:
    follows = found.follows
    yield ""
    yield coloured("What follows", "head")
    for document in follows.documents:
        named = f"{document.id} rev. {document.revision} {document.title}"
        yield from wrapped(f"{named} ({chance(document.probability)}): {document.says}", "  ")
    for file in follows.software:
        yield from wrapped(f"{file.id} {file.title} ({chance(file.probability)}): {file.says}", "  ")
        for check in file.checks:
            yield from wrapped(f"check first: {check}", "      ")
    for spare in follows.spares:
        yield from wrapped(
            f"{spare.quantity} x {spare.id} {spare.title} ({chance(spare.probability)}): {spare.says}", "  "
        )
    if follows.channels:
        yield from wrapped(f"channels: {follows.channels.formula}; {follows.channels.says}", "  ")
    directions = {"both": "both ways", "one_way": "one way", "no": "no"}
    for pair in follows.interchange:
        if pair.concerns:
            yield from wrapped(
                f"{pair.part} in place of {pair.other}: {directions[pair.direction]}. {pair.condition} {pair.setting}",
                "  ",
            )
    for bulletin in follows.bulletins:
        if bulletin.applies:
            yield from wrapped(f"{bulletin.id} {bulletin.title}: {bulletin.says}", "  ")
    if not found.weighed:
        for note in follows.notes:
            yield from wrapped(note, "  ")
