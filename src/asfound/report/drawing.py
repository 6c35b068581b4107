"""The plan of an engine, drawn from its data, with a numbered tag for every place."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from asfound.report.engine_body import (
    COILS,
    KNOCKS,
    RAILS,
    draw_at_cylinders,
    draw_body,
    knock_places,
    rail_v,
)
from asfound.report.engine_plan import FLYWHEEL, Direction, DrawnSlot, EngineDrawing, Plan, Tag, caption, says
from asfound.report.icons import LOOK_WORDS
from asfound.report.ink import Picture, in_two, number
from asfound.report.marks import TAG, look_corner, tag_classes, tag_face
from asfound.report.outlines import UNKNOWN, outline
from asfound.report.spread import spread

__all__ = ["Direction", "DrawnSlot", "EngineDrawing", "Tag", "caption", "engine_drawing", "mini_drawing"]

APART = 66.0
"""Least distance of two tags in a row. [px]"""
EDGE = 8.0
NEXT_ROOM = 22.0


def engine_drawing(
    drawing: EngineDrawing,
    *,
    tags: Sequence[Tag] = (),
    direction: Direction = "across",
    width: float | None = None,
    paper: bool = False,
    compact: bool = False,
) -> str:
    """Draw the plan of an engine.

    Parameters
    ----------
    drawing : EngineDrawing
    tags : sequence of Tag
        In the order of their numbers, which is also the order of the keyboard; a tag whose slot is not on the drawing
        stands at the flywheel end of the left side. Empty: a bare plan.
    direction : {'across', 'up'}
        Flywheel left, or below. The same plan turned.
    width : float, optional
        Of the view box; 756 across; up 372, or 384 for a V. [px]
    paper : bool
        Plain colours; tags are no links.
    compact : bool
        For a bare plan shown at about half its size: larger figures, only the ends named.

    Notes
    -----
    Put ``caption`` under it, always.
    """
    wide = width or (756.0 if direction == "across" else 384.0 if drawing.layout == "vee" else 372.0)
    plan = Plan(drawing, direction, wide, bool(tags), compact, tallest=_tallest(drawing, tags))
    linked = any(t.href for t in tags) and not paper
    plan.picture = Picture(wide, 10, label=says(drawing, len(tags)), paper=paper, role="group" if linked else "img")
    placed = _place(drawing, tags)
    rows = _rows(placed)
    _frame(plan, rows)
    draw_body(plan)
    known = {p.slot.slot for p in placed}
    for slot in drawing.slots:
        if slot.picture in RAILS | COILS | KNOCKS:
            draw_at_cylinders(plan, slot.picture, slot.kit)
    _part_rows(plan, [s for s in drawing.slots if tags or s.slot in known], placed)
    _labels(plan, bool(tags))
    _tags(plan, placed, rows)
    return plan.picture.svg()


def mini_drawing(drawing: EngineDrawing | None, *, width: float = 118, label: str | None = None) -> str:
    """Draw the same engine without tags and numbers, for a list; None gives a dashed engine not known yet."""
    shown = replace(drawing or EngineDrawing(driven="?", turbochargers=1), slots=())
    plan = Plan(shown, "across", 800, False)
    longest = plan.before + plan.length + plan.after
    plan.origin = (plan.before, max(FLYWHEEL, plan.half + 46) + 2)
    plan.picture = Picture(max(longest, 640), 2 * plan.origin[1], label="", paper=False)
    plan.picture.open("g", kind="outline" if drawing is None else "mini")
    draw_body(plan, mini=True)
    plan.picture.close("g")
    shape = "V" if shown.layout == "vee" else "in-line "
    plan.picture.label = (
        label if label is not None else (f"{shape}{shown.cylinders}" if drawing else "engine not known yet")
    )
    return plan.picture.svg().replace("<svg", f'<svg width="{width:g}"', 1)


class _Placed:
    """A tag with the place of its slot while the drawing is laid out."""

    __slots__ = ("dot", "slot", "tag", "x", "y")

    def __init__(self, tag: Tag, slot: DrawnSlot) -> None:
        self.tag, self.slot = tag, slot
        self.dot: tuple[float, float] = (0.0, 0.0)
        self.x = self.y = 0.0


def _tallest(drawing: EngineDrawing, tags: Sequence[Tag]) -> float:
    """Return how tall the longer column of tags is, so that a short engine can be stretched beside it."""
    right = {s.slot for s in drawing.slots if s.side == "right"}
    count = max(sum(t.slot in right for t in tags), sum(t.slot not in right for t in tags), 1)
    return (count - 1) * APART + TAG


def _place(drawing: EngineDrawing, tags: Sequence[Tag]) -> list[_Placed]:
    slots = {s.slot: s for s in drawing.slots}
    unknown = DrawnSlot(slot="", side="left", along=0.0, kind="unknown")
    return [_Placed(t, slots.get(t.slot, replace(unknown, slot=t.slot))) for t in tags]


def _rows(placed: Sequence[_Placed]) -> dict[str, list[_Placed]]:
    """Return the tags of each side, from the flywheel end to the free end.

    Their numbers run clockwise: up along the left side, back along the right. The order of the numbers rules, so that
    eye and keyboard go round the engine; a part out of that order has a slanting leader.
    """
    rows: dict[str, list[_Placed]] = {"left": [], "right": []}
    for one in placed:
        rows[one.slot.side].append(one)
    rows["right"].reverse()
    return rows


def _depth(row: Sequence[_Placed], room: float) -> int:
    """Return in how many rows a side's tags stand: two where one row is too short for them."""
    return 0 if not row else 1 if (len(row) - 1) * APART + TAG <= room else 2


def _frame(plan: Plan, rows: dict[str, list[_Placed]]) -> None:
    """Set the origin and the height of the picture."""
    tagged = any(rows.values())
    reach = plan.reach
    if plan.direction == "across":
        room = plan.width - 2 * EDGE
        over = _over(rows["left"], room) if tagged else 6.0
        under = _over(rows["right"], room) if tagged else 6.0
        side = 57.0 if tagged else 0.0
        top = over + side
        extra = max(plan.width - plan.before - plan.after - plan.length, 0) / 2
        body_top = top + (28 if tagged else reach - plan.half + 4)
        plan.origin = (plan.before + extra, body_top + plan.half)
        below = max(plan.half + 28 + 51, FLYWHEEL + 40) if tagged else reach + 38
        plan.picture.height = plan.origin[1] + below + (under if tagged else 6)
    else:
        tallest = max(
            (len(rows[s]) - 1) * APART + TAG + NEXT_ROOM * any(p.tag.next_look for p in rows[s]) for s in rows
        ) if tagged else 0.0  # fmt: skip
        body = plan.before + plan.length + plan.after
        height = max(body + 34, tallest + 2 * EDGE + 40)
        plan.picture.height = height
        plan.origin = (plan.width / 2, height - plan.before - 24 - (height - body - 34) / 2)


def _over(row: Sequence[_Placed], room: float) -> float:
    depth = _depth(row, room)
    return (
        (7 + depth * TAG + (depth - 1) * 12 + (NEXT_ROOM if any(p.tag.next_look for p in row) else 0))
        if depth
        else 24.0
    )


def _anchor(plan: Plan, slot: DrawnSlot) -> tuple[float, float] | None:
    """Return where a part that sits on the engine itself is pointed at; None for parts beside it."""
    along = max(0, min(plan.drawing.per_row - 1, round(slot.along * plan.drawing.per_row - 0.5)))
    u, sign = plan.cylinder_u(along), -1 if slot.side == "left" else 1
    row = sign * plan.bank
    if slot.picture in RAILS:
        rails = rail_v(plan)
        return (20 + slot.along * (plan.length - 40), min(rails, key=lambda v: abs(v - sign * plan.half)))
    if slot.picture in COILS or slot.kind == "coil":
        return (u + plan.port * 0.5, row + sign * plan.port * 0.75)
    if slot.picture in KNOCKS:
        places = knock_places(plan, slot.picture == "knock_each")
        return min(places, key=lambda p: (abs(p[1] - sign * plan.half), abs(p[0] - u)))
    if slot.kind == "head":
        return (u - plan.pitch * 0.36, row + sign * (plan.port + 1))
    if slot.kind == "turbocharger":
        return _turbine(plan, slot)
    if slot.slot == "tc_exhaust":
        return (u - plan.pitch * 0.3, row + sign * (plan.head - 3))
    if slot.slot == "tc_bearing":
        return (u + plan.pitch / 2, sign * (plan.half - 2))
    return None


def _turbine(plan: Plan, slot: DrawnSlot) -> tuple[float, float] | None:
    if not plan.drawing.turbochargers:
        return None
    sign = -1 if slot.side == "left" else 1
    if plan.drawing.turbo_end == "driving_end":
        return (24, sign * (plan.half + 25 - 9))
    v = plan.hand * 32 if plan.drawing.turbochargers == 1 else sign * 42
    return (plan.length + 30, v + sign * 14)


def _part_rows(plan: Plan, slots: Sequence[DrawnSlot], placed: Sequence[_Placed]) -> None:
    """Draw the parts beside the engine, spread so that none touch, and set the dots of the tags."""
    tags = {p.slot.slot: p for p in placed}
    scale = 1.0 if plan.direction == "across" else 0.62
    beside: dict[str, list[DrawnSlot]] = {"left": [], "right": []}
    for slot in [*slots, *(p.slot for p in placed if p.slot not in slots)]:
        point = _anchor(plan, slot)
        if point is None:
            beside[slot.side].append(slot)
        elif slot.slot in tags:
            tags[slot.slot].dot = plan.at(*point)
    for side, row in beside.items():
        row.sort(key=lambda s: s.along)
        sign = -1 if side == "left" else 1
        low, high = _part_room(plan, sign)
        step = 66.0 * scale if plan.direction == "across" else 40.0
        spots = spread([low + s.along * (high - low) for s in row], [step] * (len(row) - 1), low, high)
        shrink = min(1.0, (high - low) / max(step * (len(row) - 1), 1.0)) if len(row) > 1 else 1.0
        for slot, u in zip(row, spots, strict=True):
            v = sign * (plan.half + (28 if plan.direction == "across" else 22))
            x, y = plan.at(u, v)
            _part(plan.picture, slot, tags.get(slot.slot), x, y, scale * max(shrink, 0.6))
            if slot.slot in tags:
                tags[slot.slot].dot = (x, y + sign * 13) if plan.direction == "across" else (x + sign * 14, y)


def _part_room(plan: Plan, sign: int) -> tuple[float, float]:
    low, high = 34.0, plan.length - 12
    drawing = plan.drawing
    if (
        drawing.turbochargers
        and drawing.turbo_end == "driving_end"
        and (drawing.turbochargers > 1 or sign == plan.hand)
    ):
        low = 84.0
    if plan.after > 60:
        high = plan.length + plan.after - (44 if plan.direction == "across" else 30)
    return low, max(high, low + 1)


def _part(picture: Picture, slot: DrawnSlot, placed: _Placed | None, x: float, y: float, scale: float) -> None:
    looked = placed.tag.looked if placed else "seen"
    if looked == "not_there":
        shapes = outline("none")
    elif slot.picture in RAILS | COILS | KNOCKS:
        return
    elif slot.picture:
        shapes = outline(slot.picture, slot.kind)
    else:
        shapes = UNKNOWN
    if slot.kit:
        shapes = shapes.replace('class="inkf"', 'class="kitpart"')
    picture.raw(f'<g transform="translate({number(x)},{number(y)}) scale({scale:.2f})">{shapes}</g>')


def _labels(plan: Plan, tagged: bool) -> None:
    picture, drawing = plan.picture, plan.drawing
    if plan.compact:
        x, y = plan.at(-24, plan.reach)
        picture.text("tx-2 m", x, y + 26, "flywheel end")
        picture.text("tx-2 e", min(plan.origin[0] + plan.length + plan.after, plan.width - 2), y + 26, "free end")
        return
    line = picture.size_of("tx-b") + 2
    if plan.direction == "across":
        x, y = plan.at(-40 if drawing.turbo_end == "driving_end" and drawing.turbochargers else -24, FLYWHEEL)
        for i, word in enumerate(in_two("flywheel end")):
            picture.text("tx-b m", x, y + 18 + i * line, word)
        right = min(plan.width - 2, plan.origin[0] + plan.length + plan.after)
        for i, word in enumerate(in_two("free end")):
            picture.text("tx-b e", right, plan.origin[1] - 4 + i * line, word)
        if drawing.driven:
            dx = plan.origin[0] - plan.before + 4
            picture.text("tx-s", max(dx, 2), plan.origin[1] - 62, drawing.driven)
        if tagged:
            picture.text("tx-s", EDGE, plan.origin[1] - plan.half - 22, "left side")
            picture.text("tx-s", EDGE, plan.origin[1] + max(plan.half + 36, FLYWHEEL + 54), "right side")
        return
    cx = plan.width / 2
    picture.text("tx-b m", cx, plan.origin[1] - plan.length - plan.after + 8, "free end")
    x, y = plan.at(-15, FLYWHEEL)
    below = plan.origin[1] + 52
    picture.rect("sheetfill", cx - 52, below + 3, 104, 18)
    picture.text("tx-b m", cx, below + 17, "flywheel end")
    if drawing.driven:
        picture.text("tx-s m", cx, plan.origin[1] + plan.before + 14, drawing.driven)
    if tagged:
        picture.text("tx-s", EDGE, picture.height - 6, "left side")
        picture.text("tx-s e", plan.width - EDGE, picture.height - 6, "right side")


def _tags(plan: Plan, placed: Sequence[_Placed], rows: dict[str, list[_Placed]]) -> None:
    for side, row in rows.items():
        (_across if plan.direction == "across" else _up)(plan, side, row)
    for one in placed:  # leaders below all tags, tags in the order of their numbers
        _leader(plan, one)
    for one in placed:
        _tag(plan, one)


def _across(plan: Plan, side: str, row: list[_Placed]) -> None:
    room = plan.width - 2 * EDGE
    depth = _depth(row, room)
    step = APART if depth < 2 else 35.0
    low, high = EDGE + TAG / 2, plan.width - EDGE - TAG / 2
    xs = spread([p.dot[0] for p in row], [step] * (len(row) - 1), low, high)
    marked = NEXT_ROOM if any(p.tag.next_look for p in row) else 0
    # The words 'next look' stand on the outer side of their tag, so that tag belongs into the outer row.
    outer = next((i % 2 for i, p in enumerate(row) if p.tag.next_look), 1)
    for i, (one, x) in enumerate(zip(row, xs, strict=True)):
        inner = depth < 2 or i % 2 != outer
        if side == "left":
            one.y = 7 + marked + (TAG + 12 if depth == 2 and inner else 0)
        else:
            one.y = plan.origin[1] + plan.half + 28 + 51 + (0 if inner else TAG + 12)
        one.x = x - TAG / 2


def _up(plan: Plan, side: str, row: list[_Placed]) -> None:
    high, low = plan.picture.height - 26 - TAG / 2, EDGE + TAG / 2
    ordered = list(reversed(row))  # from the top down
    gaps = [APART + (NEXT_ROOM if p.tag.next_look else 0) for p in ordered[:-1]]
    ys = spread([p.dot[1] for p in ordered], gaps, low, high)
    for one, y in zip(ordered, ys, strict=True):
        one.x = EDGE if side == "left" else plan.width - EDGE - TAG
        one.y = y - TAG / 2


def _leader(plan: Plan, one: _Placed) -> None:
    kind = tag_classes(one.tag.looked, one.tag.belongs, clash=one.tag.clash, chosen=one.tag.chosen)
    plan.picture.open("g", kind=kind)
    plan.picture.path("lead", _lead_path(plan, one))
    plan.picture.circle("dot", *one.dot, 3.2)
    plan.picture.close("g")


def _lead_path(plan: Plan, one: _Placed) -> str:
    x, y = one.dot
    middle = one.x + TAG / 2
    if plan.direction == "up":
        edge = one.x + TAG if one.slot.side == "left" else one.x
        return f"M {number(edge)},{number(one.y + TAG / 2)} L {number(x)},{number(y)}"
    if one.slot.side == "left":
        start = plan.origin[1] - plan.half - 28 - 57
        bend = f"V {number(start)} " if one.y + TAG < start - 1 else ""
        return f"M {number(middle)},{number(one.y + TAG)} {bend}L {number(x)},{number(y)}"
    start = plan.origin[1] + plan.half + 28 + 51
    bend = f"V {number(start)} " if one.y > start + 1 else ""
    return f"M {number(middle)},{number(one.y)} {bend}L {number(x)},{number(y)}"


def _says_tag(tag: Tag) -> str:
    parts = [f"{tag.number} {tag.title}: {tag.says}" if tag.says else f"{tag.number} {tag.title}"]
    if tag.probability is not None:
        parts.append(f"{100 * tag.probability:.0f} in 100")
    said = ", ".join(parts) + "; " + LOOK_WORDS["clash" if tag.clash else tag.looked]
    return said + ("; next look" if tag.next_look else "")


def _tag(plan: Plan, one: _Placed) -> None:
    picture, tag, x, y = plan.picture, one.tag, one.x, one.y
    kind = tag_classes(tag.looked, tag.belongs, clash=tag.clash, chosen=tag.chosen)
    linked = bool(tag.href) and not plan.picture.paper
    said = _says_tag(tag)
    if linked:
        picture.open("a", href=tag.href, kind=kind, aria_label=said, **({"aria-current": "true"} if tag.chosen else {}))
        picture.title(said)
    else:
        picture.open("g", kind=kind)
    picture.path("face", tag_face(x, y))
    bar = tag.probability is not None
    picture.text("tagno", x + TAG / 2, y + (30 if bar else 34), str(tag.number))
    if tag.probability is not None:
        picture.rect("p-track", x + 7, y + 40, 40, 6.5)
        picture.rect("p-lead", x + 7, y + 40, max(40 * tag.probability, 0.8), 6.5)
    corner = "clash" if tag.clash else tag.looked
    if corner != "seen":
        look_corner(picture, corner, min(x + TAG - 2, plan.width - 12), max(y + 2, 12))
    picture.close("a" if linked else "g")
    if tag.next_look:
        _next(plan, one)


def _next(plan: Plan, one: _Placed) -> None:
    """Point at the tag of the next look, on its outer side across, below it in a column."""
    picture, middle = plan.picture, one.x + TAG / 2
    half = picture.width_of("tx-b", "next look") / 2
    x = min(max(middle, half + 2), plan.width - half - 2)
    if plan.direction == "across" and one.slot.side == "left":
        picture.path(
            "heavy",
            f"M {middle - 8:.1f},{one.y - 8:.1f} L {middle:.1f},{one.y - 2:.1f} L {middle + 8:.1f},{one.y - 8:.1f}",
        )
        picture.text("tx-b m", x, one.y - 11, "next look")
        return
    bottom = one.y + TAG
    picture.path(
        "heavy",
        f"M {middle - 8:.1f},{bottom + 9:.1f} L {middle:.1f},{bottom + 3:.1f} L {middle + 8:.1f},{bottom + 9:.1f}",
    )
    picture.text("tx-b m", x, bottom + 22, "next look")
