"""From a visit's view, or an engine's record alone, to what its drawing is made from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, Literal

from asfound.report.engine_plan import DrawnSlot, EngineDrawing, Tag

if TYPE_CHECKING:
    from asfound.fitout.catalogue import Catalogue, Family
    from asfound.fitout.identification import Identification, PlaceBelief
    from asfound.records.visit import VisitView

SEEN_ENOUGH = 0.5
"""From this probability on the variant's own outline is drawn; below it the place has a question mark."""
NOT_DRAWN = {"word"}
"""What somebody says has no place on the engine."""


def drawing_of_engine(content: Mapping[str, Any], *, catalogue: Catalogue | None = None) -> EngineDrawing | None:
    """Return the drawing of an engine from its record; None where its layout is not known.

    Parameters
    ----------
    content : mapping
        Fields of ``records.kinds.Engine``.
    catalogue : Catalogue, optional
        Fills in what the record leaves open, by the engine's family; the packaged one when None.
    """
    family = _family(str(content.get("family") or ""), catalogue)
    layout = content.get("layout")
    if layout is None and family is None:
        return None
    form = layout["form"] if layout else family.layout if family else "inline"
    count = layout["cylinders"] if layout else family.cylinders if family else 6
    turbo = content.get("turbochargers")
    end = (turbo or {}).get("end") or (f"{family.turbocharger_end}_end" if family else "free_end")
    numbering = content.get("numbering") or {}
    first: Literal["free_end", "driving_end"] = "free_end"
    if (numbering.get("first_at") or (f"{family.counted_from}_end" if family else "")) == "driving_end":
        first = "driving_end"
    names: Any = numbering.get("names") or ("L1" if form == "vee" else "1")
    driven = str(content.get("driven") or "")
    return EngineDrawing(
        tag=str(content.get("tag") or ""),
        layout="vee" if form == "vee" and count % 2 == 0 else "inline",
        cylinders=count,
        first_at=first,
        names=names,
        sides_seen_from=numbering.get("sides_seen_from") or "driving_end",
        operator_counts_from=numbering.get("operator_counts_from") or "",
        mirrored=bool(content.get("mirror") or (family is not None and family.mirror_of)),
        driven="driven machine" if driven == "other" else driven,
        turbochargers=turbo["count"] if turbo else family.turbochargers if family else 0,
        turbo_end="driving_end" if end in {"driving_end", "driving"} else "free_end",
    )


def drawing_of(
    view: VisitView, *, href: str = "", chosen: str = "", catalogue: Catalogue | None = None, state: str = "now"
) -> tuple[EngineDrawing, tuple[Tag, ...]]:
    """Return the drawing of a visit's engine, and its tags in the order of their numbers.

    Parameters
    ----------
    view : VisitView
    href : str
        Address of a tag with ``{slot}`` and ``{number}`` in it; empty: tags are no links.
    chosen : str
        Slot whose tag is filled.
    catalogue : Catalogue, optional
        Knows the outlines; the packaged one when None.
    state : {'now', 'found'}
        Identification as it stands now, or from the looks as found.
    """
    drawing = drawing_of_engine(view.engine.content, catalogue=catalogue)
    if drawing is None:
        facts = view.facts
        known = bool(facts.layout and facts.cylinders)
        drawing = EngineDrawing(
            tag=view.engine.tag, layout=facts.layout or "inline", cylinders=facts.cylinders or 6, known=known
        )
    found = view.identification if state == "now" else view.identification_found
    if found is None:
        return drawing, ()
    places = [p for p in found.places if p.slot not in NOT_DRAWN]
    slots = tuple(_slot(p, catalogue) for p in places)
    tags = tuple(tag_of(p, found, href=href, chosen=chosen) for p in sorted(places, key=lambda p: p.number))
    fields = {name: getattr(drawing, name) for name in drawing.__dataclass_fields__ if name != "slots"}
    return EngineDrawing(**fields, slots=slots), tags


def tag_of(place: PlaceBelief, found: Identification, *, href: str = "", chosen: str = "") -> Tag:
    """Return the tag of one place."""
    first = next((look.slot for look in found.next_looks if look.allowed), "") if found.stop is None else ""
    return Tag(
        number=place.number,
        slot=place.slot,
        title=place.title,
        says=place.title_of_variant,
        probability=None if place.evidence_only or not place.variant else place.probability,
        looked=place.looked,
        belongs="stranger"
        if place.belongs == "stranger" and place.striking
        else "kit"
        if place.belongs == "kit"
        else "host",
        clash=not place.agrees,
        chosen=place.slot == chosen,
        next_look=place.slot == first,
        href=href.format(slot=place.slot, number=place.number) if href else "",
    )


def _family(name: str, catalogue: Catalogue | None) -> Family | None:
    if not name:
        return None
    return _catalogue(catalogue).families.get(name)


def _catalogue(catalogue: Catalogue | None) -> Catalogue:
    from asfound.fitout.catalogue import load_catalogue

    return catalogue or load_catalogue()


def _slot(place: PlaceBelief, catalogue: Catalogue | None) -> DrawnSlot:
    described = not place.variant and place.looked in {"seen", "not_there"}
    sure = (
        place.evidence_only or described or (place.looked in {"seen", "not_there"} and place.probability >= SEEN_ENOUGH)
    )
    picture = (
        place.place.kind if place.evidence_only else picture_of(place.slot, place.variant, catalogue) if sure else ""
    )
    return DrawnSlot(
        slot=place.slot,
        side=place.place.side,
        along=place.place.along,
        kind=place.place.kind,
        picture=picture or (place.place.kind if sure else ""),
        kit=place.belongs == "kit",
    )


def picture_of(slot: str, variant: str, catalogue: Catalogue | None = None) -> str:
    """Return the outline of a variant: of the likeliest state of its first character that has a picture."""
    known = _catalogue(catalogue).slots.get(slot)
    if known is None or variant not in known.variants:
        return ""
    states = known.variants[variant].states
    for character in known.characters.values():
        chances = states.get(character.id)
        if character.kind != "states" or not chances:
            continue
        best = max(chances, key=lambda state: chances[state])
        if best in character.states and character.states[best].picture:
            return character.states[best].picture
    return ""
