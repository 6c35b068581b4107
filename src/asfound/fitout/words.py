"""The words for a belief and for a look: fixed bands, plain sentences of the trade."""

from __future__ import annotations

from typing import TYPE_CHECKING

from asfound.evidence.model import INAPPLICABLE
from asfound.fitout.identification import Words
from asfound.fitout.looks import HOW_TITLES, SOMETHING_ELSE, SeenLook

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue, Slot

BANDS: tuple[tuple[float, Words], ...] = ((0.95, "settled"), (0.75, "likely"), (0.50, "leaning"), (0.0, "open"))


def band(probability: float) -> Words:
    """Return the word for a probability: settled 0.95 or more, likely 0.75, leaning 0.50, open below.

    >>> band(0.96), band(0.75), band(0.4)
    ('settled', 'likely', 'open')
    """
    return next(word for least, word in BANDS if probability >= least - 1e-12)


def in_100(probability: float) -> str:
    """Return a probability as people say it: ``96 in 100``, ``fewer than 1 in 100``.

    >>> in_100(0.962), in_100(0.003), in_100(0.998)
    ('96 in 100', 'fewer than 1 in 100', 'more than 99 in 100')
    """
    if probability < 0.01:
        return "fewer than 1 in 100"
    if probability > 0.99:
        return "more than 99 in 100"
    return f"{100 * probability:.0f} in 100"


def state_title(slot: Slot, character: str, state: str) -> str:
    """Return the words for one state."""
    if state == SOMETHING_ELSE:
        return "something else"
    if state == INAPPLICABLE:
        return "nothing there to see it on"
    one = slot.characters.get(character)
    if one is None or state not in one.states:
        return state
    return f"label: {one.states[state].title}" if one.kind == "label" else one.states[state].title


def look_says(catalogue: Catalogue, look: SeenLook) -> str:
    """Return what a look says: 'Speed controller: two round, screwed plugs'."""
    slot = catalogue.slots.get(look.slot)
    if slot is None or slot.free or (look.character and look.character not in slot.characters):
        from asfound.fitout.generic import slot_of

        known = slot or slot_of(catalogue, look.slot)
        return f"{known.title if known else look.slot}: {free_words(known, look) or 'noted'}"
    if look.answer == "not_there":
        return f"{slot.title}: looked, not there"
    if look.answer == "not_judged":
        return f"{slot.title}: could not judge"
    parts = []
    if look.states:
        titles = [
            f"something else ({look.note})"
            if one == SOMETHING_ELSE and look.note
            else state_title(slot, look.character, one)
            for one in look.states
        ]
        character = slot.characters[look.character]
        said = " or ".join(titles)
        if character.kind == "count":
            said = f"{said} unit" if said == "1" else f"{said} units"
        elif character.settings or character.title.startswith("The setting"):
            said = f"{character.title[0].lower()}{character.title[1:]}: {said}"
        parts.append(said)
    if look.label:
        number = look.character == "works_number"
        parts.append(f"works {look.label}" if number else f"label reads {look.label}")
    if not parts:
        parts.append(look.note or "noted")
    verb = " says" if slot.id == "nameplate" and look.character in ("generation", "family") else ":"
    return f"{slot.title}{verb} {', '.join(parts)}"


def free_words(slot: Slot | None, look: SeenLook) -> str:
    """Return what was seen of a generic slot: suggested states by their titles, everything else as it was typed."""
    if look.answer == "not_there":
        return "looked, not there"
    if look.answer == "not_judged":
        return "could not judge"
    parts = []
    if look.states:
        character = slot.characters.get(look.character) if slot else None
        titles = [character.states[one].title if character and one in character.states else one for one in look.states]
        said = " or ".join(titles) if look.character == "count" else ", ".join(titles)
        parts.append(f"{said} of them" if look.character == "count" else said)
    if look.label:
        parts.append(f"works {look.label}" if look.character == "works_number" else f"label reads {look.label}")
    if look.note:
        parts.append(look.note)
    return "; ".join(parts)


def look_how(look: SeenLook) -> str:
    """Return how it was seen and when: 'at the part, 10:32'."""
    clock = look.time[11:16] if len(look.time) >= 16 else ""
    return ", ".join(one for one in (HOW_TITLES[look.how], look.by, clock) if one)
