"""The engine itself on the plan: driven machine, flywheel, body, cylinders, turbochargers, parts at each cylinder."""

from __future__ import annotations

from asfound.report.engine_plan import FLYWHEEL, Plan

RAILS = {"rail_lens", "rail", "plate_pair", "plate_single"}
COILS = {"coil", "coil_cover", "coil_taped", "coil_rail", "coil_rail_two", "coil_rail_odd", "coil_stalk"}
KNOCKS = {"knock", "knock_each", "knock_two"}


def draw_body(plan: Plan, *, mini: bool = False, ports: bool = True) -> None:
    """Draw the engine without its numbered parts; without ``ports`` the caller draws each port and its number."""
    _driven(plan, mini)
    plan.rect("body", 0, -plan.half, plan.length, plan.half, 6)
    _flywheel(plan)
    if not mini:
        plan.line("dashdot", -plan.before + 8, 0, plan.length + plan.after - 20, 0)
    _manifolds(plan)
    _turbochargers(plan)
    _cylinders(plan, ports=ports, numbered=ports and not mini)


def _driven(plan: Plan, mini: bool) -> None:
    if plan.drawing.driven:
        end = -plan.before + 4
        plan.path("edge dash", [(end, -54), (-92, -54), (-92, 54), (end, 54)])
        plan.rect("part", -92, -9, -40, 9)
    elif not mini:
        plan.rect("part", -66, -9, -40, 9)


def _flywheel(plan: Plan) -> None:
    house = min(plan.half - 10, 68)
    plan.rect("part", -40, -house, 0, house, 2)
    plan.rect("solid", -34, -FLYWHEEL, -15, FLYWHEEL)
    teeth, step = int(2 * FLYWHEEL // 9), 9.0
    for i in range(teeth + 1):
        v = -FLYWHEEL + i * step
        plan.rect("solid", -15, v, -10.5, min(v + 4.6, FLYWHEEL))


def _manifolds(plan: Plan) -> None:
    """Exhaust left and intake right in line; intake in the valley and exhaust outside the rows in a V."""
    a, b, s = 14, plan.length - 14, plan.hand
    if plan.drawing.layout == "inline":
        near, far = plan.gallery
        plan.rect("part", a, near * s, b, far * s, 7)
        plan.rect("part", a, -(near + 5) * s, b, -(far + 1) * s, 5)
    else:
        plan.rect("part", a, -8, b, 8, 6)
        for side in (-1, 1):
            plan.rect("part", a, side * (plan.half - 9), b, side * (plan.half - 3), 3)


def _cylinders(plan: Plan, *, ports: bool, numbered: bool) -> None:
    rows = plan.drawing.cylinder_names()
    for row, names in enumerate(rows):
        middle = 0.0 if len(rows) == 1 else plan.bank * (-1 if row == 0 else 1)
        for i, name in enumerate(names):
            u = plan.cylinder_u(i)
            wide, high = plan.pitch * 0.455, plan.head
            if len(rows) == 1:
                plan.line("ink", u, plan.hand * high, u, plan.hand * plan.gallery[0])
                plan.line("thin", u, -plan.hand * high, u, -plan.hand * (plan.gallery[0] + 5))
            plan.rect("inkf", u - wide, middle - high, u + wide, middle + high, 4)
            if ports:
                plan.circle("body", u, middle, plan.port)
            if numbered:
                x, y = plan.at(u, middle)
                plan.picture.text("portno-2" if plan.compact else "portno", x, y + (8 if plan.compact else 5.3), name)


def _turbochargers(plan: Plan) -> None:
    count = plan.drawing.turbochargers
    if not count:
        return
    if plan.drawing.turbo_end == "driving_end":
        for i in range(min(count, 2)):
            side = plan.hand * (1 if i == 0 else -1)
            _snail(plan, 24, side * (plan.half + 25), 20)
            plan.line("ink", 24, side * (plan.half + 5), 24, side * (plan.half - 4))
        return
    u, s = plan.length + 40, plan.hand
    plan.rect("part", plan.length, -30, plan.length + 14, 30)
    if count == 1:
        plan.path("heavy", [(plan.length - 14, s * (plan.gallery[1] - 7)), (u, s * (plan.gallery[1] - 7)), (u, s * 50)])
        plan.rect("part", u - 6, s * 12, u + 6, -s * 12)
        _snail(plan, u, s * 32, 22)
        plan.rect("part", u + 21, s * 26, u + 52, s * 42)
        _snail(plan, u, -s * 27, 19)
        _cooler(plan, u - 4, -s * 64)
    else:
        for side in (-1, 1):
            plan.path(
                "heavy", [(plan.length - 14, side * (plan.half - 6)), (u, side * (plan.half - 6)), (u, side * 62)]
            )
            _snail(plan, u, side * 42, 20)
            plan.rect("part", u + 19, side * 36, u + 44, side * 50)
        _cooler(plan, u, 0)


def _snail(plan: Plan, u: float, v: float, r: float) -> None:
    plan.circle("body", u, v, r)
    plan.circle("part", u, v, r * 0.56)
    plan.circle("solid", u, v, 2.5)


def _cooler(plan: Plan, u: float, v: float) -> None:
    plan.rect("inkf", u - 30, v - 11, u + 30, v + 11, 3)
    for i in range(5):
        plan.line("thin", u - 20 + 10 * i, v - 8, u - 20 + 10 * i, v + 8)


def rail_v(plan: Plan) -> tuple[float, ...]:
    """Return where spark rails lie across: one along the heads of each row."""
    if plan.drawing.layout == "inline":
        return (plan.hand * (plan.port + plan.head) / 2,)
    return (-(plan.bank - plan.head - 6), plan.bank - plan.head - 6)


def draw_at_cylinders(plan: Plan, picture: str, kit: bool) -> None:
    """Draw what sits at every cylinder or along the heads: rails, coils, knock sensors."""
    kind = "kitpart" if kit else "part"
    if picture in RAILS:
        _rails(plan, picture, kind)
    elif picture in COILS:
        _coils(plan, picture, kind)
    elif picture in KNOCKS:
        _knocks(plan, each=picture == "knock_each")


def _rails(plan: Plan, picture: str, kind: str) -> None:
    for v in rail_v(plan):
        if picture in {"rail_lens", "rail"}:
            plan.rect(kind, 12, v - 4.5, plan.length - 12, v + 4.5, 4)
            plan.circle("inkf", 10, v, 6.5)
            plan.path("thin", [(6, v - 3), (14, v + 3)])
        else:
            plan.rect(kind, 18, v - 2.5, plan.length - 18, v + 2.5, 2)
            for i in range(2 if picture == "plate_pair" else 1):
                plan.rect("inkf", 30 + 42 * i, v - 7, 64 + 42 * i, v + 7)


def _coils(plan: Plan, picture: str, kind: str) -> None:
    rows = (0.0,) if plan.drawing.layout == "inline" else (-plan.bank, plan.bank)
    for row, v in enumerate(rows):
        rail = rail_v(plan)[row]
        if picture in {"coil_rail", "coil_rail_odd", "coil_rail_two"}:
            plan.line("ink", 16, rail, plan.length - 16, rail)
        toward = 1 if rail > v else -1
        for i in range(plan.drawing.per_row):
            u = plan.cylinder_u(i)
            if picture == "coil_stalk":
                plan.line("heavy", u, rail, u, v + toward * (plan.port - 3))
                plan.circle("solid", u, v + toward * (plan.port - 3), 3)
            elif picture in {"coil_rail", "coil_rail_odd"} or (picture == "coil_rail_two" and i % 2 == 0):
                shift = plan.pitch / 2 if picture == "coil_rail_two" and i + 1 < plan.drawing.per_row else 0
                if picture == "coil_rail_odd" and i == plan.drawing.per_row // 2:
                    plan.circle("inkf", u, rail, 5)
                else:
                    plan.rect(kind, u + shift - 6, rail - 4, u + shift + 6, rail + 4)
            elif picture in {"coil", "coil_cover", "coil_taped"}:
                plan.rect(kind, u - 6, v + toward * (plan.port + 1.5), u + 6, v + toward * (plan.port + 9))


def _knocks(plan: Plan, *, each: bool) -> None:
    for u, v in knock_places(plan, each):
        x, y = plan.at(u, v)
        plan.picture.path("solid", f"M {x - 5.5:.1f},{y + 5:.1f} L {x:.1f},{y - 6:.1f} L {x + 5.5:.1f},{y + 5:.1f} Z")


def knock_places(plan: Plan, each: bool) -> list[tuple[float, float]]:
    """Return where knock sensors sit on the side of the block: at each cylinder, or between two."""
    zone = (plan.head + plan.gallery[0]) / 2
    rows = (plan.hand * zone,) if plan.drawing.layout == "inline" else (-plan.half + 15.5, plan.half - 15.5)
    count = plan.drawing.per_row
    if each:
        places = [plan.cylinder_u(i) + plan.pitch / 2 - 4 for i in range(count)]
    else:
        places = [plan.cylinder_u(i) + (plan.pitch / 2 if i + 1 < count else -4) for i in range(0, count, 2)]
    return [(u, v) for v in rows for u in places]
