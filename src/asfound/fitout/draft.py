"""Draft a first catalogue entry from a visit to an engine whose controls are in no catalogue.

The draft is a whole catalogue in the YAML of `asfound.fitout.catalogue` and passes its schema check as it stands: the
engine's family as the visit knows it, one new generation, and one variant for each place that was looked at, in the
words of whoever looked. A senior engineer then corrects names, adds what distinguishes it, and the documents.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import yaml

from asfound.errors import InputError
from asfound.fitout.catalogue import MOST_UNITS, Family
from asfound.fitout.channels import main_bearings
from asfound.fitout.channels_follow import count_seen
from asfound.fitout.generic import book_for, slot_of
from asfound.fitout.looks import SOMETHING_ELSE, STATEMENT_SLOTS, SeenLook
from asfound.fitout.words import free_words, look_says, state_title

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue, Slot
    from asfound.fitout.engine_facts import EngineFacts
    from asfound.fitout.identification import Identification, PlaceBelief

HEAD = """\
# Draft of a first catalogue entry, made from the visit to {tag}{when}. Not yet read by anybody.
# Correct names and words; say what tells it from others; add documents, spares and what a stop costs.
# Every state below was seen once. Nothing here is known of other engines.
"""
NEW_FAMILY = """\
# The family is in no catalogue: bore, stroke, swept volume and rating are still to be filled in, and turbocharger_end,
# main_bearings and counted_from are what is usual for this layout; check them on the engine.
"""


def draft_entry(
    identification: Identification,
    looks: Sequence[SeenLook],
    engine: EngineFacts,
    *,
    catalogue: Catalogue | None = None,
) -> str:
    """Return YAML text of a catalogue with one new generation, drafted from the looks of a visit.

    Parameters
    ----------
    identification : Identification
        What the catalogue made of the visit.
    looks : sequence of SeenLook
    engine : EngineFacts
    catalogue : Catalogue, optional
        The one used; the packaged one where None. Its family's data are copied, so that the draft stands alone.

    Returns
    -------
    str
        It passes `load_catalogue` as a file of its own.

    Raises
    ------
    InputError
        Neither family nor layout of the engine is known: an entry without them would be about no engine.
    """
    from asfound.fitout.catalogue import load_catalogue

    whole_catalogue = catalogue or load_catalogue()
    known = book_for(whole_catalogue, engine)
    new = not engine.family or not known.families
    family = _new_family(engine, looks) if new else whole_catalogue.family(engine.family)
    name = _id(f"{engine.tag}_control")
    when = next((f" on {look.time[:10]}" for look in looks if look.time), "")
    slots = [
        _slot(known, place, name, family)
        for place in identification.places
        if place.slot not in STATEMENT_SLOTS
        and place.looks
        and any(look.answer != "not_judged" for look in place.looks)
    ]
    whole: dict[str, Any] = {
        "catalogue": f"draft_{_id(engine.tag)}",
        "title": f"Draft from the visit to {engine.tag}",
        "edition": 1,
        "source": "engineering_judgement",
        "families": [_family_data(family)],
        "generations": [
            {
                "id": name,
                "title": f"Control as found on {engine.tag}",
                "built": [_year(looks), None],
                "families": [family.id],
                **({"driven": [engine.driven]} if engine.driven else {}),
                "says": f"In no catalogue; nearest was {identification.nearest}."
                if identification.nearest
                else "In no catalogue.",
            }
        ],
        "shares": [
            {"families": [family.id], "driven": driven, "of": {name: 1.0}}
            for driven in ([engine.driven] if engine.driven else ["compressor", "generator"])
        ],
        "setups": [
            {"id": one.id, "title": one.title, "minutes": one.minutes, "risk_minutes": one.risk_minutes}
            for one in known.setups.values()
        ],
        "slots": slots,
    }
    text = yaml.safe_dump(_plain(whole), sort_keys=False, allow_unicode=True, width=120)
    return HEAD.format(tag=engine.tag, when=when) + (NEW_FAMILY if new else "") + text


def _plain(value: Any) -> Any:
    """Return it with whole numbers written as such."""
    if isinstance(value, dict):
        return {name: _plain(one) for name, one in value.items()}
    if isinstance(value, list):
        return [_plain(one) for one in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value


def _id(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "_", text.lower()).strip("_") or "unnamed"


def _year(looks: Sequence[SeenLook]) -> int:
    return next((int(look.time[:4]) for look in looks if look.time[:4].isdigit()), 1)


def _new_family(engine: EngineFacts, looks: Sequence[SeenLook]) -> Family:
    """Return the family that a visit knows of: layout, and what was counted."""
    if not engine.layout or engine.cylinders < 1:
        raise InputError(
            "layout",
            f"{engine.layout} {engine.cylinders}".strip(" 0"),
            f"of {engine.tag} is not known, so no entry can be drafted",
            allowed="in-line or V, with the number of cylinders",
            try_next=f"Write it down: asfound engine change {engine.tag} --inline 8.",
        )
    counted = count_seen(looks, "turbocharger") if engine.turbochargers is None else engine.turbochargers
    shape = "V" if engine.layout == "vee" else "in-line "
    return Family(
        id=_id(engine.family or f"{engine.tag}_family"),
        title=engine.family or f"{shape}{engine.cylinders} as found on {engine.tag}",
        builder="as the nameplate says",
        layout=engine.layout,
        cylinders=engine.cylinders,
        bore_mm=0.0,
        stroke_mm=0.0,
        swept_l=0.0,
        rated=(),
        turbochargers=counted or 0,
        turbocharger_end="free",
        main_bearings=main_bearings(layout=engine.layout, cylinders=engine.cylinders),
        counted_from="free",
        catalyst=bool(engine.catalyst),
    )


def _family_data(family: Family) -> dict[str, Any]:
    """Return a family as the file has it; size and rating are left out where they are not known."""
    sizes = {"bore_mm": family.bore_mm, "stroke_mm": family.stroke_mm, "swept_l": family.swept_l}
    rated = [{"kw": one.kw, "rpm": one.rpm, "bmep_bar": one.bmep_bar} for one in family.rated]
    return {
        "id": family.id,
        "title": family.title,
        "builder": family.builder,
        "layout": family.layout,
        "cylinders": family.cylinders,
        **({"combustion": family.combustion} if family.combustion else {}),
        **{name: value for name, value in sizes.items() if value > 0},
        **({"rated": rated} if rated else {}),
        "turbochargers": family.turbochargers,
        "turbocharger_end": family.turbocharger_end,
        "main_bearings": family.main_bearings,
        "catalyst": family.catalyst,
        "counted_from": family.counted_from,
    }


def _slot(catalogue: Catalogue, place: PlaceBelief, owner: str, family: Family) -> dict[str, Any]:
    known = slot_of(catalogue, place.slot)
    hazards = list(known.hazards) if known else []
    words = _words(catalogue, place)
    told = _told(place, known)
    return {
        "id": place.slot,
        "title": place.title,
        "group": place.group,
        "place": {
            "side": _side(place, family),
            "along": round(place.place.along, 2),
            "kind": place.place.kind,
            "words": place.place.words or "as noted on the visit",
        },
        **({"hazards": hazards} if hazards else {}),
        "characters": [_kind(words, absent=_absent(place)), *(data for data, _ in told.values())],
        "looks": [
            {
                "id": "outside",
                "state": "running",
                "minutes": _minutes(known),
                "sees": ["kind", *told],
                "says": "as on the visit",
            }
        ],
        "variants": [
            {
                "id": "as_found",
                "title": words,
                "native": [owner],
                "outside": "m",
                "states": {
                    "kind": {"as_found": 0.95, "other_kind": 0.05},
                    **{name: shown for name, (_, shown) in told.items()},
                },
            }
        ],
    }


def _kind(words: str, *, absent: bool) -> dict[str, Any]:
    found = {"title": words, "picture": "something", **({"absent": True} if absent else {})}
    return {
        "id": "kind",
        "title": "What it is",
        "states": {"as_found": found, "other_kind": {"title": "anything else", "picture": "something"}},
    }


def _told(place: PlaceBelief, known: Slot | None) -> dict[str, tuple[dict[str, Any], dict[str, Any]]]:
    """Return the characters of a generic place that somebody described, each with what it showed."""
    found: dict[str, tuple[dict[str, Any], dict[str, Any]]] = {}
    for look in place.looks:
        character = known.characters.get(look.character) if known and known.free else None
        if character is None or look.answer != "seen" or not look.states or character.id == "label":
            continue
        data: dict[str, Any] = {"id": character.id, "title": character.title}
        if character.kind == "count":
            if all(int(state) <= MOST_UNITS for state in look.states):
                share = round(1.0 / len(look.states), 6)
                shown = dict.fromkeys(look.states, share)
                shown[look.states[0]] = round(1.0 - share * (len(look.states) - 1), 6)
                found[character.id] = ({**data, "count": True}, shown)
            continue
        title = ", ".join(character.states[one].title if one in character.states else one for one in look.states)
        states = {
            "as_found": {"title": title, "picture": "something"},
            "other_kind": {"title": "anything else", "picture": "something"},
        }
        found[character.id] = ({**data, "states": states}, {"as_found": 0.95, "other_kind": 0.05})
    return found


def _side(place: PlaceBelief, family: Family) -> str:
    """Return the side in the catalogue's own sense (a mirror-handed family has changed it over)."""
    if not family.mirror_of:
        return place.place.side
    return "left" if place.place.side == "right" else "right"


def _absent(place: PlaceBelief) -> bool:
    return all(look.answer == "not_there" for look in place.looks if look.answer != "not_judged")


def _minutes(slot: Slot | None) -> float:
    return next((look.minutes for look in slot.looks if look.state == "running"), 5) if slot else 5


def _words(catalogue: Catalogue, place: PlaceBelief) -> str:
    """Return what was seen in the words of the looks: notes first, then titles of states, then labels."""
    slot = slot_of(catalogue, place.slot)
    parts: list[str] = []
    for look in place.looks:
        if look.answer == "not_judged":
            continue
        if slot is not None and slot.free and look.answer == "seen":
            parts.append(free_words(slot, look))
            continue
        if look.answer == "not_there":
            parts.append("none")
        if look.note:
            parts.append(look.note)
        elif look.states and slot:
            parts += [state_title(slot, look.character, one) for one in look.states if one != SOMETHING_ELSE]
        if look.label:
            parts.append(f"marked {look.label}")
    found = "; ".join(dict.fromkeys(one for one in parts if one))
    return found or "; ".join(look_says(catalogue, look) for look in place.looks)
