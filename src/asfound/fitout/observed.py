"""Turn looks as recorded into observations for the inference, and refuse what neither catalogue nor generic list
knows.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from asfound.errors import InputError
from asfound.evidence.observations import Evidence, LineageStatement, Observation
from asfound.fitout.catalogue import LABEL_NONE
from asfound.fitout.generic import book_for, generic, slot_of
from asfound.fitout.labels import label_likelihoods
from asfound.fitout.looks import SOMETHING_ELSE, STATEMENT_SLOTS, SeenLook
from asfound.fitout.model import FitModel, character_key, in_model
from asfound.fitout.plate import PlateFacts, in_words_of, plate_facts
from asfound.fitout.seeing import FROM_OUTSIDE, kind_name, reliability

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue, Character, Slot
    from asfound.fitout.engine_facts import EngineFacts

PLATE = "nameplate"
MOST_COUNT = 99
"""Largest count that may be typed for a generic slot."""
CONVERSION = {
    "all_changed": lambda build: bool(build.kit),
    "part_changed": lambda build: bool(build.kit),
    "never_changed": lambda build: not build.kit,
}


@dataclass(frozen=True, slots=True)
class Observed:
    """The observations, the look behind each of their ids, and what the plate says."""

    evidence: tuple[Evidence, ...]
    apart: tuple[Evidence, ...]
    """Those at places that say nothing of the build."""
    looks: dict[str, SeenLook]
    plate: PlateFacts


def observed(fit: FitModel, engine: EngineFacts, looks: Sequence[SeenLook]) -> Observed:
    """Return the looks as observations; a look that tells nothing of a variant (a note, a setting) gives none.

    Raises
    ------
    InputError
        Unknown slot, character or state, with what there is.
    """
    plate = in_words_of(fit.catalogue, plate_facts(engine, looks))
    evidence: list[Evidence] = []
    behind: dict[str, SeenLook] = {}
    for number, look in enumerate(looks, 1):
        check(fit.catalogue, look)
        slot = next((one for one in fit.slots if one.id == look.slot), None)
        ident = look.entry or f"look {number}"
        for one in _word(fit, look, ident) if look.slot == "word" else _seen(slot, look, ident) if slot else ():
            evidence.append(one)
            behind[one.id] = look
    if plate.generation:
        stated = tuple(one.name for one in fit.builds if one.generation in plate.generation)
        on_plate = next((one for one in looks if one.slot == PLATE and one.character == "generation"), None)
        ident = (on_plate.entry if on_plate else "") or "nameplate"
        if stated:
            evidence.append(LineageStatement(stated, plate.kind, PLATE, ident))
            behind[ident] = on_plate or SeenLook(
                slot=PLATE, character="generation", states=plate.generation, how="plate", source=PLATE
            )
    # Sorted, so that neither the order of the looks nor that of the file touches a digit.
    evidence.sort(key=_place_in_order)
    apart = {one.id for one in fit.slots if one.apart}
    follows_family = [isinstance(one, Observation) and one.character.partition(".")[0] in apart for one in evidence]
    return Observed(
        tuple(one for one, away in zip(evidence, follows_family, strict=True) if not away),
        tuple(one for one, away in zip(evidence, follows_family, strict=True) if away),
        behind,
        plate,
    )


def _place_in_order(one: Evidence) -> tuple[str, ...]:
    if isinstance(one, LineageStatement):
        return ("~", *one.lineages, one.kind, one.source or "", one.id)
    graded = repr(sorted(one.likelihood.items())) if one.likelihood else ""
    return (one.character, *sorted(one.states), graded, one.kind, one.source or "", one.id)


def check(catalogue: Catalogue, look: SeenLook, engine: EngineFacts | None = None) -> None:
    """Refuse a look whose slot, character or states neither the catalogue nor the generic list has.

    With ``engine``: as the book for this engine has it (the generic slots, where no family of the catalogue fits).
    """
    if engine is not None:
        catalogue = book_for(catalogue, engine)
    slot = slot_of(catalogue, look.slot)
    if slot is None:
        if look.slot not in STATEMENT_SLOTS:
            raise InputError(
                "slot",
                look.slot,
                "is no place of the catalogue, nor of the generic list",
                allowed=", ".join(dict.fromkeys([*catalogue.slots, *generic().slots])),
            )
        return
    if slot.free:
        _check_free(slot, look)
        return
    if look.character and look.character not in slot.characters:
        kinds = generic().character_kinds
        if look.character in kinds:  # a word of the generic list: kept as a note
            return
        raise InputError(
            "character", look.character, f"is nothing that is seen of {look.slot}", allowed=", ".join(slot.characters)
        )
    if look.states and not look.character:
        raise InputError("character", "", "is missing beside the states ticked", allowed=", ".join(slot.characters))
    if look.states:
        states = slot.characters[look.character].states
        for state in look.states:
            if states and state not in states and state != SOMETHING_ELSE:
                raise InputError(
                    "states",
                    state,
                    f"is no state of {look.slot}.{look.character}",
                    allowed=", ".join((*states, SOMETHING_ELSE)),
                )


def _check_free(slot: Slot, look: SeenLook) -> None:
    """Refuse what cannot be said of a generic slot: an unknown character, a count that is no number."""
    known = {*slot.characters, *generic().character_kinds}
    if look.character and look.character not in known:
        raise InputError(
            "character", look.character, f"is nothing that is said of {slot.id}", allowed=", ".join(slot.characters)
        )
    if look.states and not look.character:
        raise InputError("character", "", "is missing beside what was seen", allowed=", ".join(slot.characters))
    if look.character == "count":
        for state in look.states:
            if not (state.isdecimal() and int(state) <= MOST_COUNT):
                raise InputError(
                    "states",
                    state,
                    f"is no count of {slot.id}",
                    allowed=f"whole numbers, 0 to {MOST_COUNT}",
                    try_next="Other words go into the note.",
                )


def _seen(slot: Slot, look: SeenLook, ident: str) -> list[Evidence]:
    # what a person says today and what the same person said a year ago are two statements
    source = (
        (f"{look.source}/{look.how}/{look.age:g}" if look.age else f"{look.source}/{look.how}") if look.source else None
    )
    if look.answer == "not_judged":
        names = [look.character] if look.character in slot.characters else list(slot.characters)
        return [
            Observation(
                character_key(slot.id, name),
                (),
                kind_name(look.how, "m", look.age),
                undecided=True,
                id=ident if n == 0 else f"{ident}/{name}",
            )
            for n, name in enumerate(name for name in names if in_model(slot.characters[name]))
        ]
    if look.answer == "not_there":
        character, state = absent_state(slot, look.character)
        if not in_model(character):
            return []
        return [_observation(slot, character, (state,), look, source, ident)]
    found: list[Evidence] = []
    character_ = slot.characters.get(look.character)
    if character_ is not None and look.states and in_model(character_):
        found.append(_observation(slot, character_, look.states, look, source, ident))
    if look.label:
        labels = character_ if character_ is not None and character_.kind == "label" else _label_character(slot)
        if labels is not None and not (found and labels is character_):
            found.append(_label(slot, labels, look, source, ident if not found else f"{ident}/label"))
    return found


def absent_state(slot: Slot, name: str = "") -> tuple[Character, str]:
    """Return the character and state that 'looked, not there' means in this slot; 'something else' where nothing
    says so.
    """
    characters = [slot.characters[name]] if name in slot.characters else list(slot.characters.values())
    for character in characters:
        if character.kind == "label":
            if name:
                return character, LABEL_NONE
            continue
        for state in character.states.values():
            if state.absent:
                return character, state.id
    if name:
        return characters[0], SOMETHING_ELSE
    return next(iter(slot.characters.values())), SOMETHING_ELSE


def _observation(
    slot: Slot, character: Character, states: tuple[str, ...], look: SeenLook, source: str | None, ident: str
) -> Observation:
    grade = "m" if source else reliability(character, states, slot.variants)
    return Observation(
        character_key(slot.id, character.id), states, kind_name(look.how, grade, look.age), source=source, id=ident
    )


def _label_character(slot: Slot) -> Character | None:
    return next((one for one in slot.characters.values() if one.kind == "label"), None)


def _label(slot: Slot, character: Character, look: SeenLook, source: str | None, ident: str) -> Observation:
    patterns = _patterns(character)
    chances = label_likelihoods(look.label, patterns)
    likelihood = {(name or SOMETHING_ELSE): chance for name, chance in chances.items()}
    return Observation(
        character_key(slot.id, character.id),
        (),
        kind_name(look.how, "m" if look.how not in FROM_OUTSIDE else "h", look.age),
        likelihood=likelihood,
        source=source,
        id=ident,
    )


def _patterns(character: Character) -> dict[str, tuple[str, ...]]:
    return {name: state.patterns for name, state in character.states.items() if state.patterns}


def _word(fit: FitModel, look: SeenLook, ident: str) -> list[Evidence]:
    """What somebody says of the whole engine; a person is one witness.

    'It was all changed' speaks for the builds with a kit; whether it was changed to something that is in no catalogue
    is
    left to what is seen.
    """
    if look.answer != "seen" or not look.states:
        return []
    if look.character == "generation":
        stated = tuple(one.name for one in fit.builds if one.generation in look.states)
    elif look.character == "conversion":
        stated = tuple(
            one.name
            for one in fit.builds
            if any(CONVERSION[state](one) for state in look.states if state in CONVERSION)
        )
    else:
        return []
    if not stated:
        return []
    return [
        LineageStatement(
            stated, look.how if look.how in ("said", "paper") else "said", look.source or look.by or "word", ident
        )
    ]
