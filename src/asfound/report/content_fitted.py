"""What is fitted, as the sheets show it: belief, drawing, why, why not, next looks, contradictions, what follows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from asfound.quantities import display
from asfound.quantities.days import day_text
from asfound.report.bars import Share, belief_bar, belief_row
from asfound.report.drawing import engine_drawing
from asfound.report.engine_plan import caption
from asfound.report.icons import LOOK_WORDS, look_sign
from asfound.report.of_visit import NOT_DRAWN, drawing_of
from asfound.report.wording import clean, sentence

if TYPE_CHECKING:
    from asfound.fitout.identification import Identification, PlaceBelief
    from asfound.fitout.identification_follows import Follows
    from asfound.fitout.looks import SeenLook
    from asfound.records.visit import VisitView

SHOWN_BUILDS = 4
HOWS = {
    "read": "number read",
    "in_hand": "in the hand",
    "at_part": "at the part",
    "from_3m": "from 3 m",
    "photo": "in a photo",
    "said": "somebody said",
    "plate": "on the plate",
    "paper": "on paper",
}


def chance(probability: float) -> str:
    """Return a probability in words; sums of many floats may lie a rounding error outside [0, 1]."""
    return display.chance(min(max(probability, 0.0), 1.0))


def fitted(view: VisitView, *, width: float = 300) -> dict[str, Any] | None:
    """Return the short form for sheet 1; None where nothing is known of what is fitted."""
    found = view.identification
    if found is None:
        return None
    looked = sum(p.looked != "open" for p in found.places if not p.evidence_only)
    total = sum(not p.evidence_only for p in found.places)
    builds = _builds(found)
    lead = builds[0]
    others = [b for b in builds[1:3] if b["probability"] >= 0.005]
    runner = f" Runner-up: {others[0]['title']}, {others[0]['in_100']}." if others else ""
    return {
        "headline": found.short or found.headline,
        "says": found.says,
        "words": found.words,
        "sentence": f"{lead['title']}: {lead['in_100']}, {found.words}.{runner}" if found.weighed else found.says,
        "looked": f"{looked} of {total} places looked at.",
        "svg": belief_bar(_parts(found), width=width, height=16, paper=True),
        "alt": clean("; ".join(f"{b['title']} {b['in_100']}" for b in builds)),
        "clashes": [c.says for c in found.contradictions[:2]],
    }


def plan(view: VisitView, *, width: float, tagged: bool) -> dict[str, Any]:
    """Return the drawing of the engine with the sentences that belong under it."""
    drawing, tags = drawing_of(view)
    shown = tags if tagged else ()
    picture = engine_drawing(drawing, tags=shown, width=width, paper=True, compact=not tagged)
    places = f", {len(shown)} numbered places" if shown else ""
    shape = "V" if drawing.layout == "vee" else "in-line "
    return {
        "svg": picture,
        "caption": " ".join(caption(drawing)),
        "alt": clean(f"Plan of {drawing.tag or 'the engine'}, {shape}{drawing.cylinders}, seen from above{places}"),
    }


def belief(view: VisitView) -> dict[str, Any] | None:
    """Return the long form: builds, places, weights, contradictions, next looks, what follows."""
    found = view.identification
    if found is None:
        return None
    return {
        "looked": bool(view.looks),
        "weighed": found.weighed,
        "headline": found.headline,
        "says": found.says,
        "fit": found.fit_says,
        "builds": _builds(found),
        "places": [_place(p) for p in _listed(found) if found.weighed or p.looks],
        "not_looked": [] if found.weighed else [f"{p.number} {p.title}" for p in _listed(found) if not p.looks],
        "weights": [
            {"says": w.says, "how": HOWS.get(w.how, w.how), "decibans": _signed(w.decibans), "instead": w.instead}
            for w in found.weights
        ],
        "weights_prior": _signed(found.weights_prior),
        "weights_total": _signed(found.weights_total),
        "leader": _title(found, found.leader),
        "runner_up": _title(found, found.runner_up),
        "why_not": [{"title": sentence(w.title), "says": w.says} for w in found.why_not],
        "hangs_on": [h.says for h in found.hangs_on],
        "contradictions": [
            {"code": c.code, "says": c.says, "because": list(c.because), "next": c.next_step}
            for c in found.contradictions
        ],
        "next_looks": [
            {
                "title": n.title,
                "says": n.says if n.allowed else n.why_not,
                "minutes": f"{n.minutes:g} min, {n.state_needed}",
                "share": n.order or f"{100 * n.share_of_doubt:.0f} %",
            }
            for n in found.next_looks[:6]
        ],
        "stop": found.stop.says if found.stop else "",
        "follows": _follows(found.follows),
        "catalogue": f"{found.catalogue}, digest {found.catalogue_digest[:16]}" if found.catalogue else "",
    }


def _listed(found: Identification) -> list[PlaceBelief]:
    """Return the places in the order of their numbers."""
    return [p for p in sorted(found.places, key=lambda p: p.number) if p.slot not in NOT_DRAWN]


def _parts(found: Identification) -> list[Share]:
    return [Share(b.title, b.probability, b.kind == "other") for b in found.builds]


def _builds(found: Identification) -> list[dict[str, Any]]:
    """Return the most probable builds, and 'not in the catalogue' always."""
    shown = list(found.builds[:SHOWN_BUILDS])
    shown += [b for b in found.builds[SHOWN_BUILDS:] if b.kind == "other"]
    ranks = ("lead", "second")
    rows: list[dict[str, Any]] = []
    for i, b in enumerate(shown):
        rank = "none" if b.kind == "other" else ranks[i] if i < 2 else "rest"
        bar = belief_row(b.probability, rank=rank, before=b.before or None, width=180, height=14, paper=True)  # type: ignore[arg-type]
        rows.append(
            {"title": sentence(b.title), "probability": b.probability, "in_100": chance(b.probability), "svg": bar}
        )
    return rows


def _place(place: PlaceBelief) -> dict[str, Any]:
    how = "; ".join(dict.fromkeys(f"{HOWS.get(look.how, look.how)}{_seen_on(look)}" for look in place.looks))
    labels = [look.label for look in place.looks if look.label]
    looked = "clash" if not place.agrees else place.looked
    belongs = {"kit": "came with the kit", "stranger": "belongs to neither"}.get(place.belongs, "")
    return {
        "number": str(place.number),
        "title": place.title,
        "variant": place.title_of_variant,
        "belief": "evidence only"
        if place.evidence_only
        else chance(place.probability)
        if place.variant
        else "in own words"
        if place.looks
        else "",
        "second": place.title_of_runner_up if 1 - place.probability > 0.005 and not place.evidence_only else "",
        "looked": LOOK_WORDS[looked],
        "svg": look_sign(looked, size=13, label="", paper=True),
        "how": how,
        "label": f"label {labels[-1]}" if labels else "",
        "belongs": belongs,
        "notes": "; ".join(dict.fromkeys(look.note for look in place.looks if look.note)),
    }


def _seen_on(look: SeenLook) -> str:
    """Return the day on which an earlier visit saw it; nothing for a look of this visit."""
    return f", {day_text(look.time[:10])}" if look.age else ""


def _title(found: Identification, name: str) -> str:
    return next((b.title for b in found.builds if b.name == name), name)


def _signed(value: float) -> str:
    return "0.0" if abs(value) < 0.05 else f"{'−' if value < 0 else '+'}{abs(value):.1f}"


def _follows(follows: Follows) -> list[dict[str, Any]]:
    """Return what follows, as short lists under their headings; empty lists are left out."""
    arrows = {"both": "either may stand in for the other", "one_way": "one way only", "no": "no"}
    other = [d.id for d in follows.documents if not d.applies]
    documents = [
        _line(f"{d.id} {d.title}", f"revision {d.revision}" if d.revision else "", d.says)
        for d in follows.documents
        if d.applies
    ]
    documents += [f"Not for this build: {', '.join(other)}."] if other else []
    lists: list[tuple[str, list[str]]] = [
        ("Documents", documents),
        (
            "Software",
            [
                _line(s.title, s.says or _fits(s.fits), f"check first: {'; '.join(s.checks)}" if s.checks else "")
                for s in follows.software
            ],
        ),
        (
            "Spares",
            [
                _line(f"{s.quantity} x {s.title}", s.says or f"{_fits(s.fits)}, {chance(s.probability)}", s.condition)
                for s in follows.spares
            ],
        ),
        (
            "Interchange",
            [
                _line(
                    f"{i.part} in place of {i.other}",
                    arrows[i.direction],
                    i.condition,
                    f"setting: {i.setting}" if i.setting else "",
                )
                for i in follows.interchange
                if i.concerns
            ],
        ),
        (
            "Bulletins",
            [_line(f"{b.id} {b.title}", "" if b.applies else "does not apply", b.says) for b in follows.bulletins],
        ),
        ("Channels", [_line(follows.channels.formula, follows.channels.says)] if follows.channels else []),
        ("Notes", list(follows.notes)),
    ]
    return [{"title": title, "rows": rows} for title, rows in lists if rows]


def _fits(fits: bool) -> str:
    return "fits" if fits else "does not fit"


def _line(*parts: str) -> str:
    return "; ".join(part.strip().rstrip(".;") for part in parts if part and part.strip())
