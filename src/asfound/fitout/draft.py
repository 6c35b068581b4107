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

from asfound.fitout.looks import SOMETHING_ELSE, STATEMENT_SLOTS, SeenLook
from asfound.fitout.words import look_says, state_title

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue, Family, Slot
    from asfound.fitout.identification import Identification, PlaceBelief
    from asfound.fitout.identify import EngineFacts

HEAD = """\
# Draft of a first catalogue entry, made from the visit to {tag}{when}. Not yet read by anybody.
# Correct names and words; say what tells it from others; add documents, spares and what a stop costs.
# Every state below was seen once. Nothing here is known of other engines.
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
    """
    from asfound.fitout.catalogue import load_catalogue

    known = catalogue or load_catalogue()
    family = _family(known, engine)
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
                "says": f"In no catalogue; nearest was {identification.nearest}.",
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
    return HEAD.format(tag=engine.tag, when=when) + text


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


def _family(catalogue: Catalogue, engine: EngineFacts) -> Family:
    from asfound.fitout.model import possible_families

    return possible_families(catalogue, engine)[0]


def _family_data(family: Family) -> dict[str, Any]:
    return {
        "id": family.id,
        "title": family.title,
        "builder": family.builder,
        "layout": family.layout,
        "cylinders": family.cylinders,
        "combustion": family.combustion,
        "bore_mm": family.bore_mm,
        "stroke_mm": family.stroke_mm,
        "swept_l": family.swept_l,
        "rated": [{"kw": one.kw, "rpm": one.rpm, "bmep_bar": one.bmep_bar} for one in family.rated],
        "turbochargers": family.turbochargers,
        "turbocharger_end": family.turbocharger_end,
        "main_bearings": family.main_bearings,
        "catalyst": family.catalyst,
        "counted_from": family.counted_from,
    }


def _slot(catalogue: Catalogue, place: PlaceBelief, owner: str, family: Family) -> dict[str, Any]:
    known = catalogue.slots.get(place.slot)
    hazards = list(known.hazards) if known else _generic_hazards(place.slot)
    words = _words(catalogue, place)
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
        "characters": [
            {
                "id": "kind",
                "title": "What it is",
                "states": {
                    "as_found": {
                        "title": words,
                        "picture": "something",
                        **({"absent": True} if _absent(place) else {}),
                    },
                    "other_kind": {"title": "anything else", "picture": "something"},
                },
            }
        ],
        "looks": [
            {
                "id": "outside",
                "state": "running",
                "minutes": _minutes(known),
                "sees": ["kind"],
                "says": "as on the visit",
            }
        ],
        "variants": [
            {
                "id": "as_found",
                "title": words,
                "native": [owner],
                "outside": "m",
                "states": {"kind": {"as_found": 0.95, "other_kind": 0.05}},
            }
        ],
    }


def _side(place: PlaceBelief, family: Family) -> str:
    """Return the side in the catalogue's own sense (a mirror-handed family has changed it over)."""
    if not family.mirror_of:
        return place.place.side
    return "left" if place.place.side == "right" else "right"


def _absent(place: PlaceBelief) -> bool:
    return all(look.answer == "not_there" for look in place.looks if look.answer != "not_judged")


def _minutes(slot: Slot | None) -> float:
    return next((look.minutes for look in slot.looks if look.state == "running"), 5) if slot else 5


def _generic_hazards(name: str) -> list[str]:
    from asfound.fitout.generic import generic

    known = generic().slots.get(name)
    return list(known.hazards) if known else []


def _words(catalogue: Catalogue, place: PlaceBelief) -> str:
    """Return what was seen in the words of the looks: notes first, then titles of states, then labels."""
    slot = catalogue.slots.get(place.slot)
    parts: list[str] = []
    for look in place.looks:
        if look.answer == "not_judged":
            continue
        if look.answer == "not_there":
            parts.append("none")
        if look.note:
            parts.append(look.note)
        elif look.states and slot:
            parts += [state_title(slot, look.character, one) for one in look.states if one != SOMETHING_ELSE]
        if look.label:
            parts.append(f"marked {look.label}")
    found = "; ".join(dict.fromkeys(parts))
    return found or "; ".join(look_says(catalogue, look) for look in place.looks)
