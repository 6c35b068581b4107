"""The engine with the pattern of its exhaust temperatures on it: a level in each port, half full at the median."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from asfound.report.engine_body import draw_body
from asfound.report.engine_plan import FLYWHEEL, Direction, EngineDrawing, Plan
from asfound.report.ink import Picture, in_two, number
from asfound.report.wording import natural

LINE, PAPER_LINE = 19.0, 16.0
"""From one row of words to the next. [px]"""
REST = 0.06
"""A level never hides that there is a port: at the ends it leaves so much of the radius. [-]"""
TICK = 5.0
TURBINE = 50.0
"""Up to here along the crank a turbocharger at the flywheel end reaches, with a little air. [px]"""
NEAREST = 31.0
"""Room of one bearing at least; beyond it they stand in two lines. [px]"""
BESIDE = 22.0
"""From the engine's side to the middle of a number beside it. [px]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Level:
    """What one port, or one bearing, shows."""

    name: str
    """The builder's number."""
    other: str = ""
    """The number that the people of the site use, where that is another one."""
    level: float | None = None
    """Deviation over the deviation at which the port is full (1) or empty (-1); None where none can be had."""
    text: str = ""
    """The deviation, in the reader's unit."""
    odd: int = 0
    """1 hot, -1 cold: it stands apart."""
    masked: bool = False
    """Read, but it does not count: dashed with a question mark; without a level and not masked it was not read."""
    says: str = ""
    """The whole in words, for readers of the screen."""
    href: str = ""


def engine_ports(
    drawing: EngineDrawing,
    rows: Sequence[Sequence[Level]],
    *,
    label: str,
    heads: Sequence[str] = (),
    direction: Direction = "across",
    width: float | None = None,
    paper: bool = False,
) -> str:
    """Draw the plan of an engine with a level in each port.

    Parameters
    ----------
    drawing : EngineDrawing
    rows : sequence of sequences of Level
        As `EngineDrawing.cylinder_names`: from the flywheel end to the free end, the left row first.
    label : str
        The sentence that says what it shows.
    heads : sequence of str
        Words for each row: name of the bank, its median.
    direction : {'across', 'up'}
    width : float, optional
        744 across, 358 up. [px]
    """
    wide = width or (744.0 if direction == "across" else 358.0)
    plan = _plan(drawing, direction, wide)
    linked = any(one.href for row in rows for one in row) and not paper
    plan.picture = Picture(wide, 10, label=label, paper=paper, role="group" if linked else "img")
    two = any(one.other for row in rows for one in row)
    _frame(plan, two=two, heads=any(heads))
    draw_body(plan, ports=False)
    placed = []
    for at, row in enumerate(rows):
        v = 0.0 if len(rows) == 1 else plan.bank * (-1 if at == 0 else 1)
        placed += [(one, plan.at(plan.cylinder_u(i), v)) for i, one in enumerate(row)]
        _names(plan, row, at, len(rows), two=two)
    for one, (x, y) in sorted(placed, key=lambda pair: natural(pair[0].name)):  # the keyboard goes as they are counted
        draw_level(plan.picture, x, y, plan.port, one)
    _words(plan, heads, two=two)
    return plan.picture.svg()


def level_row(levels: Sequence[Level], *, label: str, head: str = "", width: float = 700, paper: bool = False) -> str:
    """Draw main bearings along the crank, the flywheel end left: a level in each, half full at their median."""
    picture = Picture(width, 10, label=label, paper=paper, role="group" if any(one.href for one in levels) else "img")
    line = PAPER_LINE if paper else LINE
    edge = 10.0
    most = max(int((width - 2 * edge) // NEAREST), 1)
    lines = -(-len(levels) // most) or 1
    each = -(-len(levels) // lines)
    step = min((width - 2 * edge) / max(each, 1), 64.0)
    radius = min(24.0, step * 0.42)
    y = (line + 4 if head else 2.0) + radius + TICK
    if head:
        picture.text("tx-s", edge, line - 4, head)
    picture.rect("solid", edge - 8, y - radius, 5, 2 * radius)
    for first in range(0, len(levels), each):
        row = levels[first : first + each]
        picture.line("dashdot", edge - 8, y, edge + step * len(row), y)
        for i, one in enumerate(row):
            x = edge + step * (i + 0.5)
            draw_level(picture, x, y, radius, one)
            picture.text("tx-b m clashtext" if one.odd else "tx-b m", x, y + radius + line, one.name)
        y += 2 * radius + line + 12
    base = y - radius - 12 + line
    picture.text("tx-s", edge - 8, base, "flywheel end" + ("" if lines == 1 else " above left"))
    if step * each > 200:
        picture.text("tx-s e", edge + step * each, base, "free end")
    picture.height = base + 6
    return picture.svg()


def draw_level(picture: Picture, x: float, y: float, radius: float, one: Level) -> None:
    """Draw one port: its level, two ticks at the median, the deviation inside; dashed where nothing counts."""
    linked = bool(one.href) and not picture.paper
    if linked:
        picture.open("a", href=one.href, kind="port", aria_label=one.says)
        picture.title(one.says)
        reach = max(radius + TICK, 24.0)
        picture.rect("hit", x - reach, y - reach, 2 * reach, 2 * reach, 6)
    if one.level is None:
        picture.circle("openpart", x, y, radius)
        if one.masked:
            picture.text("portno", x, y + 5.5, "?")
    else:
        picture.circle("sheetfill", x, y, radius)
        picture.path("level", _filled(x, y, radius, one.level))
        picture.circle("clashline" if one.odd else "ink", x, y, radius)
        for side in (-1, 1):
            picture.line("ink", x + side * radius, y, x + side * (radius + TICK), y)
        _number(picture, x, y, radius, one)
    if linked:
        picture.close("a")


def _filled(x: float, y: float, radius: float, level: float) -> str:
    """Return the filled part of a circle up to a level, -1 to 1, as a path."""
    sine = max(min(level, 1 - REST), -1 + REST)
    half, height = radius * math.sqrt(1 - sine * sine), y - radius * sine
    large = 1 if sine > 0 else 0
    return (
        f"M {number(x - half)},{number(height)} "
        f"A {number(radius)} {number(radius)} 0 {large} 0 {number(x + half)},{number(height)} Z"
    )


def _number(picture: Picture, x: float, y: float, radius: float, one: Level) -> None:
    """Write the deviation; with a hook that points up at a hot one and down at a cold one, where there is room."""
    kind = "portno clashtext" if one.odd else "portno"
    hook = bool(one.odd) and radius >= 20
    middle = y + 5.4 + (-5.0 * -one.odd if hook else 0.0)
    picture.text(kind, x, middle, one.text)
    if hook:
        tip = y - one.odd * (radius - 5.5)
        picture.path(
            "clashline", f"M {number(x - 6)},{number(tip + one.odd * 5)} L {number(x)},{number(tip)} "
            f"L {number(x + 6)},{number(tip + one.odd * 5)}"
        )  # fmt: skip


# ---------------------------------------------------------------------- laying it out


def _plan(drawing: EngineDrawing, direction: Direction, width: float) -> Plan:
    """Return the plan with ports large enough for a number inside: nothing stands beside this engine."""
    plan = Plan(drawing, direction, width, False)
    vee = drawing.layout == "vee"
    if direction == "up":
        plan.after = max(plan.after - 24, 30.0)
        plan.pitch = 64.0 if vee else 58.0
        plan.port, plan.bank = 25.0, 48.0 if vee else 0.0
        plan.head = plan.port + (5.0 if vee else 9.0)
        plan.gallery = (plan.head + 10.0, plan.head + 22.0)
        plan.half = plan.bank + plan.head + 18 if vee else plan.gallery[1] + 8
        plan.length = drawing.per_row * plan.pitch + 26
    return plan


def _line(plan: Plan) -> float:
    return PAPER_LINE if plan.picture.paper else LINE


def _frame(plan: Plan, *, two: bool, heads: bool) -> None:
    """Set origin and height: words above and below the rows across, at both sides up."""
    line = _line(plan)
    vee = plan.drawing.layout == "vee"
    if plan.direction == "across":
        extra = max(plan.width - plan.before - plan.after - plan.length, 0) / 2
        words = line * (1 + two + heads) + 8
        over = max(plan.half + words, plan.reach + 4)
        under = max(plan.half + (words if vee else 8), FLYWHEEL + 2 * line + 10)
        plan.origin = (plan.before + extra, over + 2)
        plan.picture.height = plan.origin[1] + under + 4
    else:
        top = line * (1 + heads) + 8
        plan.picture.height = top + plan.after + plan.length + plan.before + line + 2
        plan.origin = (plan.width / 2, top + plan.after + plan.length)


def _names(plan: Plan, row: Sequence[Level], at: int, rows: int, *, two: bool) -> None:
    """Write the numbers of a row outside of it: the builder's nearest, the site's beyond."""
    picture, line = plan.picture, _line(plan)
    side = 1 if rows > 1 and at == 1 else -1
    for i, one in enumerate(row):
        kind = "tx-b m clashtext" if one.odd else "tx-b m"
        u = plan.cylinder_u(i)
        if _beside_turbine(plan, side):
            u = max(u, TURBINE + picture.width_of("tx-b", one.name) / 2 if plan.direction == "across" else TURBINE + 4)
        x, y = plan.at(u, side * plan.half)
        if plan.direction == "across":
            base = y - 8 if side < 0 else y + line - 1
            picture.text(kind, x, base, one.name)
            if two:
                picture.text("tx-s m", x, base + side * line, one.other)
        else:
            picture.text(kind, x + side * BESIDE, y + 5.4, one.name)
            if two:
                beyond = x + side * (BESIDE + 34) if rows > 1 else plan.at(plan.cylinder_u(i), plan.half)[0] + BESIDE
                picture.text("tx-s m", beyond, y + 5.4, one.other)


def _beside_turbine(plan: Plan, side: int) -> bool:
    """Return whether a turbocharger sits at the flywheel end of this side, where the first number would stand."""
    drawing = plan.drawing
    there = drawing.turbo_end == "driving_end" and (drawing.turbochargers > 1 or side == plan.hand)
    return there and drawing.turbochargers > 0


def _words(plan: Plan, heads: Sequence[str], *, two: bool) -> None:
    """Name the ends, the driven machine, the banks, and whose numbers stand in which row."""
    (_words_across if plan.direction == "across" else _words_up)(plan, heads, two=two)


def _words_across(plan: Plan, heads: Sequence[str], *, two: bool) -> None:
    picture, drawing, line = plan.picture, plan.drawing, _line(plan)
    x, y = plan.at(-26, FLYWHEEL)
    x -= 16 if drawing.turbo_end == "driving_end" and drawing.turbochargers > 1 else 0
    for i, word in enumerate(in_two("flywheel end")):
        picture.text("tx-b m", x, y + (i + 1) * line - 1, word)
    right = min(plan.width - 2, plan.origin[0] + plan.length + plan.after)
    for i, word in enumerate(in_two("free end")):
        picture.text("tx-b e", right, plan.origin[1] - 4 + i * line, word)
    if drawing.driven:
        picture.text("tx-s", max(plan.origin[0] - plan.before + 4, 2), plan.origin[1] - 62, drawing.driven)
    top = plan.origin[1] - plan.half - 8
    rows = 1 + two
    for at, head in enumerate(heads):
        base = top - line * rows if at == 0 else plan.origin[1] + plan.half + line * (rows + 1) - 1
        picture.text("tx-s m", plan.origin[0] + plan.length / 2, base, head)
    if two:
        picture.text("tx-s", plan.origin[0] + plan.length + 4, top, "builder")
        picture.text("tx-s", plan.origin[0] + plan.length + 4, top - line, "site")


def _words_up(plan: Plan, heads: Sequence[str], *, two: bool) -> None:
    picture, line = plan.picture, _line(plan)
    middle, first = plan.width / 2, line - 3
    picture.text("tx-b m", middle, first, "free end")
    if len(heads) == 2:
        for kind, x, head in (("tx-s", 2.0, heads[0]), ("tx-s e", plan.width - 2, heads[1])):
            for i, part in enumerate(head.split(", ")):
                picture.text(kind, x, first + i * line, part)
    elif heads:
        picture.text("tx-s m", middle, first + line, heads[0])
    if two and plan.drawing.layout == "inline":
        y = plan.origin[1] - plan.length + 4
        picture.text("tx-s e", middle - plan.half - 6, y, "builder")
        picture.text("tx-s", middle + plan.half + 6, y, "site")
    y = plan.origin[1] + 34
    picture.text("tx-b e", middle - 100, y, "flywheel")
    picture.text("tx-b e", middle - 100, y + line, "end")
    if plan.drawing.driven:
        picture.text("tx-s m", middle, plan.origin[1] + plan.before + line - 6, plan.drawing.driven)
