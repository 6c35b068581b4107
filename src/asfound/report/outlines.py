"""Simple outlines of what can sit on an engine, drawn by the program, not from photographs.

Each is about 60 by 32 px around its own middle. They show what tells one from another (ribs, plugs, hoses, lids) and no
more. A name that is not here gives a neutral outline by its kind, or an empty dashed box with a question mark.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from asfound.report.ink import Picture, number


def _r(x: float, y: float, w: float, h: float, kind: str = "inkf", rx: float = 0) -> str:
    rounded = f' rx="{number(rx)}"' if rx else ""
    return f'<rect class="{kind}" x="{number(x)}" y="{number(y)}" width="{number(w)}" height="{number(h)}"{rounded}/>'


def _c(x: float, y: float, r: float, kind: str = "inkf") -> str:
    return f'<circle class="{kind}" cx="{number(x)}" cy="{number(y)}" r="{number(r)}"/>'


def _p(d: str, kind: str = "ink") -> str:
    return f'<path class="{kind}" d="{d}"/>'


def _loaf(ribs: int, x: float = 0, wide: float = 34) -> str:
    """A loaf-shaped housing: round shoulders, flat foot, ribs across the lid, feet left and right."""
    a, b = x - wide / 2, x + wide / 2
    lid = _p(
        f"M {number(a)},9 V -2 Q {number(a)},-11 {number(a + 9)},-11 H {number(b - 9)} "
        f"Q {number(b)},-11 {number(b)},-2 V 9 Z",
        "inkf",
    )
    foot = _p(f"M {number(a - 3)},9 H {number(b + 3)}", "heavy")
    lines = "".join(
        _p(f"M {number(x + (i - (ribs - 1) / 2) * min(6.5, wide / 4.2))},-10.5 V 3", "heavy") for i in range(ribs)
    )
    return lid + lines + foot


def _lever(x: float, blank: bool = False) -> str:
    if blank:
        return _r(x - 5, -3, 10, 12, "edge dash", 1)
    return _r(x - 5, -3, 10, 12, "part", 1) + _p(f"M {number(x)},-3 V -11 H {number(x + 5)}", "heavy")


def _cabinet(sloping: bool) -> str:
    top = "M -15,16 V -10 L 15,-16 V 16 Z" if sloping else "M -15,16 V -16 H 15 V 16 Z"
    return _p(top, "inkf") + _p("M 0,-11 V 16 M -5,1 H -2.5 M 2.5,1 H 5", "thin") + _r(-11, -7, 8, 5, "part")


def _wedge(blank: bool = False) -> str:
    return (
        _p("M -24,-9 H 24 L 16,9 H -24 Z", "inkf")
        + _p("M -18,-9 V -15 M 18,-9 V -15", "heavy")
        + "".join(_r(-19 + 11 * i, -3, 8, 8, "edge dash" if blank and i == 2 else "part", 1) for i in range(3))
    )


def _gauge(x: float, y: float, r: float, turn: tuple[float, float]) -> str:
    return _c(x, y, r) + _p(f"M {number(x)},{number(y)} l {number(turn[0])},{number(turn[1])}")


def _screen(lines: int, x: float, y: float, w: float, h: float) -> str:
    step = h / (lines + 1)
    rows = "".join(
        _p(f"M {number(x + 4)},{number(y + step * (i + 1))} H {number(x + w - (4 if i % 2 == 0 else 12))}", "heavy")
        for i in range(lines)
    )
    return _r(x, y, w, h, "part") + rows


def _dome(leads: bool) -> str:
    base = _p("M -17,10 V 4 Q -17,-13 0,-13 Q 17,-13 17,4 V 10 Z", "inkf") + _p("M -20,10 H 20", "heavy")
    return base + (
        _p("M -9,-8 q -5,-6 -11,-6 M 0,-13 V -17 M 9,-8 q 5,-6 11,-6") if leads else _p("M -9,-1 H 9", "thin")
    )


def _probe(x: float, y: float = 0) -> str:
    return (
        _r(x - 5, y - 8, 10, 7)
        + _p(f"M {number(x - 2.5)},{number(y - 1)} V {number(y + 8)} H {number(x + 2.5)} V {number(y - 1)}")
        + _p(f"M {number(x)},{number(y - 8)} q 0,-6 7,-7")
    )


def _pipe(inside: str, turbine: float | None = None, box: bool = False) -> str:
    body = _p("M -30,5 H 30 M -30,15 H 30", "edge")
    if turbine is not None:
        body += _c(turbine, 8, 8, "part") + _c(turbine, 8, 2, "solid")
    if box:
        body += _r(-9, 2, 18, 15, "part") + _p("M -4,2 V 17 M 1,2 V 17", "thin")
    return body + inside


def _heads(each: Callable[[float, int], str], number_of: int = 4) -> str:
    body = ""
    for i in range(number_of):
        x = (i - (number_of - 1) / 2) * 15
        body += _r(x - 6.5, -7, 13, 14, "inkf", 2) + each(x, i)
    return body


def _knock(x: float) -> str:
    return _p(f"M {number(x - 4)},15 L {number(x)},8 L {number(x + 4)},15 Z", "solid")


def _strip(x: float = 0, arrow: bool = False, cable: str = "") -> str:
    body = _r(x - 24, -6, 48, 12) + "".join(_r(x - 20 + 7.5 * i, -3, 4, 6, "solid") for i in range(5))
    if arrow:
        body += _p(f"M {number(x + 16)},0 h 5 m -3,-3 l 3,3 l -3,3")
    if cable == "near":
        body += _p(f"M {number(x - 24)},0 h -6 v 9", "heavy")
    if cable == "far":
        body += _p(f"M {number(x + 24)},0 h 6 v 9", "heavy")
    return body


def _card(x: float) -> str:
    return _r(x - 4, -14, 8, 28) + "".join(_c(x, -10 + 5 * i, 1.3, "solid") for i in range(5))


def _valve(inside: str) -> str:
    return _c(0, 0, 13) + inside


def _bracket(odd: bool) -> str:
    second = _p("M 10,12 V -6 h 10", "heavy") if odd else _p("M 8,12 V -4 H 20", "heavy")
    first = _p("M -20,12 V -4 H -8", "heavy")
    return _r(-26, -12, 52, 8, "part", 2) + first + second + (_c(14, 3, 2) if odd else "")


def _turbo(x: float) -> str:
    return _c(x, 0, 13) + _c(x, 0, 7, "part") + _c(x, 0, 2, "solid") + _p(f"M {number(x)},-13 h 15")


def _mark(text: str) -> str:
    return _p("M -20,12 V -12 H 20 V 12 Z", "inkf") + f'<text class="tx-b m" x="0" y="5.5">{text}</text>'


_NONE = _r(-20, -10, 40, 20, "edge dash") + _p("M -20,10 L 20,-10", "edge dash")
UNKNOWN = _r(-20, -12, 40, 24, "edge dash") + '<text class="tx-b m" x="0" y="5.5">?</text>'


@cache
def _all() -> dict[str, str]:
    plug = _r(-26, -11, 52, 5, "part")
    tails = "".join(_p(f"M {x},-6 q 1,10 -4,19", "heavy") for x in (-16, -5, 6, 17))
    lens = _r(-28, -5, 52, 10, "part", 4) + _c(26, 0, 5) + _p("M 23,-2 L 29,2", "thin")
    coil = '<rect class="part" x="{0}" y="-4" width="6" height="8"/>'
    screw = _p("M -4,-12 H 4 V 8 H -4 Z M -4,-7 L 4,-4 M -4,-2 L 4,1", "inkf") + _p(
        "M -7,-12 H 7 M 4,-10 q 10,4 4,18", "heavy"
    )
    return {
        "none": _NONE,
        "loaf_one": _loaf(1),
        "loaf_two": _loaf(2),
        "loaf_three": "".join(_loaf(i + 1, -21 + 21 * i, 17) for i in range(3)),
        "loaf_ribs_three": _loaf(3),
        "loaf": _loaf(0),
        "cabinet": _cabinet(False),
        "cabinet_sloping": _cabinet(True),
        "wedge": _wedge(),
        "wedge_blank": _wedge(blank=True),
        "box": _r(-22, -12, 44, 24, "inkf", 2) + _r(-15, -5, 12, 10, "part"),
        "plug_round_two": plug
        + _c(-11, 3, 8, "part")
        + _c(11, 3, 8, "part")
        + _c(-11, 3, 3)
        + _c(11, 3, 3)
        + _p("M -11,11 V 16 M 11,11 V 16"),
        "cable_tails": plug + tails,
        "plug_lever_three": _r(-26, -14, 52, 5, "part") + _lever(-16) + _lever(0) + _lever(16),
        "plug_lever_blank": _r(-26, -14, 52, 5, "part") + _lever(-16) + _lever(0) + _lever(16, blank=True),
        "head_flyweight": _p("M -7,14 V -2 H 7 V 14 Z", "part")
        + _p("M 0,-2 V -14 M 0,-12 L -12,-5 M 0,-12 L 12,-5")
        + _c(-13, -4, 4, "solid")
        + _c(13, -4, 4, "solid"),
        "head_wheel": _r(-12, -4, 24, 18) + _c(0, -9, 7) + _p("M -7,-9 H 7 M 0,-16 V -2"),
        "card": _card(-12) + _card(0) + _card(12),
        "seam": _loaf(1) + _p("M -17,1 H 17", "heavy"),
        "filled": _p("M -17,9 V -2 Q -17,-11 -8,-11 H 8 Q 17,-11 17,-2 V 9 Z", "solid") + _p("M -20,9 H 20", "heavy"),
        "screw": screw,
        "gauges": _gauge(-18, 0, 8, (-4, -4))
        + _gauge(0, 0, 8, (1, -6))
        + _gauge(18, 0, 8, (5, -2))
        + _p("M -22,13 H 22", "thin"),
        "dial_three": _c(0, 0, 14) + _p("M 0,0 L -8,-6 M 0,0 L 2,-10 M 0,0 L 9,-3"),
        "text_lines": _r(-17, -16, 34, 32) + _screen(2, -12, -11, 24, 13),
        "text_flap": _wedge() + _screen(2, -22, -8, 22, 11),
        "hand_unit": _r(-22, -10, 18, 22, "inkf", 3)
        + _screen(1, -19, -7, 12, 8)
        + _p("M -4,6 q 12,8 12,-4")
        + _c(16, -2, 8)
        + _c(16, -2, 3),
        "text_unit": _r(-26, -12, 52, 24) + _gauge(-17, 0, 6, (3, -3)) + _screen(2, -6, -7, 26, 14),
        "text": _screen(3, -22, -12, 44, 24),
        "display": _r(-20, -13, 40, 26) + _screen(2, -15, -9, 30, 14),
        "port_round_five": _c(0, 0, 13)
        + "".join(_c(x, y, 1.7, "solid") for x, y in ((0, -7), (6.6, -2.2), (4.1, 5.6), (-4.1, 5.6), (-6.6, -2.2))),
        "port_lid": _r(-13, -9, 26, 20, "inkf", 2) + _p("M -13,-3 H 13 M -5,-9 V -13 H 5 V -9"),
        "port": _c(0, 0, 12) + _c(0, 0, 5, "part"),
        "port_square": _r(-11, -11, 22, 22) + _r(-6, -6, 12, 12, "part") + _p("M 11,-6 h 7 v 12", "thin"),
        "port_square_dome": _r(-26, -7, 16, 16)
        + _r(-22, -3, 8, 8, "part")
        + '<g transform="translate(12,2) scale(.7)">'
        + _dome(False)
        + "</g>",
        "bracket_empty": _r(-24, -10, 48, 20, "edge dash") + _c(-17, 0, 2.6, "edge") + _c(17, 0, 2.6, "edge"),
        "bracket": _r(-24, -10, 48, 20, "edge dash") + _c(-17, 0, 2.6, "edge") + _c(17, 0, 2.6, "edge"),
        "bracket_cast": _bracket(False),
        "bracket_odd": _bracket(True),
        "holes_plugged": _r(-26, -8, 52, 16, "part") + "".join(_c(x, 0, 4, "solid") for x in (-16, 0, 16)),
        "rivet_old": _r(-24, -11, 48, 22, "part") + _c(-18, -6, 3) + _c(18, 6, 3),
        "rivet_new": _r(-24, -11, 48, 22, "part")
        + _c(-18, -6, 3, "solid")
        + _c(18, 6, 3, "solid")
        + _p("M -23,-6 h -4 M 23,6 h 4"),
        "plate": _r(-24, -13, 48, 26)
        + _p("M -16,-4 H 16 M -16,3 H 8", "thin")
        + "".join(_c(x, y, 1.7, "solid") for x in (-20, 20) for y in (-9, 9)),
        "stamp": _r(-22, -8, 44, 16, "part", 2) + "".join(_p(f"M {x},-3 V 4", "heavy") for x in (-14, -7, 0, 7, 14)),
        "word": _p("M -20,-11 H 20 V 6 H -4 L -12,13 V 6 H -20 Z", "inkf") + _p("M -13,-5 H 13 M -13,0 H 6", "thin"),
        "dome": _dome(True),
        "dome_blank": _dome(False),
        "plate_pair": _r(-28, 3, 56, 4, "part") + _r(-24, -9, 20, 12) + _r(4, -9, 20, 12),
        "plate_single": _r(-28, 3, 56, 4, "part") + _r(-14, -9, 28, 12),
        "rail_lens": lens,
        "rail": _r(-28, -5, 56, 10, "part", 4),
        "coil_cover": _heads(lambda x, _: _r(x - 3, -4, 6, 8, "part")),
        "coil": _heads(lambda x, _: _r(x - 3, -4, 6, 8, "part")),
        "coil_taped": _heads(
            lambda x, _: (
                _r(x - 3, -4, 6, 8, "part")
                + _p(f"M {number(x - 4)},-2 L {number(x + 4)},1 M {number(x - 4)},2 L {number(x + 4)},5")
            )
        ),
        "coil_rail": _r(-30, -14, 60, 4, "part") + _heads(lambda x, _: _r(x - 3, -13, 6, 8, "solid")),
        "coil_rail_two": _r(-30, -14, 60, 4, "part")
        + _heads(lambda x, i: _r(x + 4.5, -13, 6, 8, "solid") if i % 2 == 0 else ""),
        "coil_rail_odd": _r(-30, -14, 60, 4, "part")
        + _heads(lambda x, i: _c(x, -9, 4.5) if i == 2 else _r(x - 3, -13, 6, 8, "solid")),
        "coil_stalk": _r(-30, -16, 60, 8, "part", 3) + _heads(lambda x, _: _p(f"M {number(x)},-8 V 2", "heavy")),
        "coil_one": coil.format(-3),
        "knock_each": _heads(lambda x, _: _knock(x)),
        "knock_two": _heads(lambda x, i: _knock(x + 7.5) if i % 2 == 0 else ""),
        "knock": _knock(-8) + _knock(8),
        "oil_head": _r(-14, -4, 22, 16) + _p("M -3,-4 V -12 H 12 L 20,-4", "heavy") + _c(20, -4, 3),
        "actuator": _valve(_p("M -9,9 L 9,-9", "heavy")) + _r(13, -6, 15, 12, "part"),
        "side_arm": _r(-18, -9, 24, 18, "part", 2) + _p("M 6,0 L 20,-9", "heavy") + _c(20, -9, 3),
        "inline_shaft": _valve(_p("M -9,9 L 9,-9", "heavy")) + _r(13, -6, 15, 12, "part"),
        "inline_dial": _valve(_p("M -9,9 L 9,-9", "heavy")) + _r(13, -9, 17, 18, "part") + _gauge(21.5, 0, 5, (2, -3)),
        "solenoid": _r(-16, -8, 32, 18)
        + _c(-6, 1, 4.5, "part")
        + _c(7, 1, 4.5, "part")
        + _p("M -8,-8 q -2,-8 -12,-8 M 8,-8 q 2,-8 12,-8", "thin"),
        "sleeve_lever": _r(-18, -6, 36, 14, "part", 3)
        + _p("M 0,-6 V -15 H 9", "heavy")
        + _p("M -6,-6 V 8 M 6,-6 V 8", "thin"),
        "sleeve_pinned": _r(-18, -6, 36, 14, "part", 3)
        + _p("M 0,-6 V -15 H 9", "heavy")
        + _c(0, -11, 3.4, "solid")
        + _p("M -6,-6 V 8 M 6,-6 V 8", "thin"),
        "plate_valve": _r(-20, -8, 40, 16) + _r(-4, -12, 8, 24, "part") + _p("M 4,-12 L 13,-16", "heavy"),
        "valve": _p("M -16,-9 V 9 L 16,-9 V 9 Z", "inkf"),
        "hose": _p("M -26,-4 q 13,-8 26,0 t 26,0 M -26,6 q 13,-8 26,0 t 26,0"),
        "hose_armoured": _p("M -26,0 H 26", "heavy")
        + "".join(_p(f"M {x},-6 l 5,12", "thin") for x in range(-25, 24, 6)),
        "probe": _probe(0, 2),
        "probe_after": _pipe(_probe(14, 0), -14),
        "probe_before": _pipe(_probe(-14, 0), 14),
        "probe_two": _pipe(_probe(-7, 0) + _probe(7, 0)),
        "probe_both": _pipe(_probe(-19, 0) + _probe(19, 0), box=True),
        "probe_cat": _pipe(_probe(-19, 0), box=True),
        "dial_capillary": _gauge(-14, -3, 9, (-4, -4))
        + _gauge(10, -3, 9, (4, -4))
        + _p("M -14,6 q 0,9 10,9 M 10,6 q 0,9 12,9", "thin"),
        "scanner": _r(-30, -14, 60, 28)
        + "".join(_c(-25 + 5.4 * i, -8 + 8 * j, 1.5, "solid") for j in range(3) for i in range(8))
        + _c(21, 0, 6, "part")
        + _p("M 21,0 L 24,-4", "heavy"),
        "strip": _strip(),
        "strip_arrow": _strip(arrow=True),
        "strip_near": _strip(arrow=True, cable="near"),
        "strip_far": _strip(arrow=True, cable="far"),
        "window": _r(-22, -12, 44, 24, "part") + _r(-14, -6, 28, 12),
        "window_sealed": _r(-22, -12, 44, 24, "part")
        + _r(-14, -6, 28, 12)
        + _p("M -14,-6 L 14,6 M -14,6 L 14,-6", "thin"),
        "set": _r(-12, -12, 24, 24) + _p("M -7,0 L -2,6 L 8,-6", "heavy"),
        "not_set": _r(-12, -12, 24, 24),
        "wire": _p("M -26,-4 H 26 M -26,4 H 26", "heavy"),
        "wire_mixed": _p("M -26,-4 H 26", "heavy") + _p("M -26,4 H 26", "edge dash"),
        "cables": "".join(_r(x - 6, -10, 12, 12, "part", 2) + _p(f"M {x},2 q 0,10 6,12") for x in (-18, 0, 18)),
        "cast_mark": _mark("I"),
        "cast_mark_late": _mark("II"),
        "cast_mark_mixed": _mark("I II"),
        "head": _r(-12, -12, 24, 24, "inkf", 3) + _c(0, 0, 6, "part"),
        "turbo_one": _turbo(0),
        "turbo_two": _turbo(-16) + _turbo(16),
        "turbocharger": _turbo(0),
        "cooler": _r(-28, -10, 56, 20, "inkf", 3) + "".join(_p(f"M {x},-8 V 8", "thin") for x in range(-20, 24, 8)),
        "catalyst": _r(-24, -12, 48, 24, "part", 4) + "".join(_p(f"M {x},-12 V 12", "thin") for x in (-10, 0, 10)),
        "pump": _c(0, 0, 11) + _p("M -5,-6 L 7,0 L -5,6 Z", "part"),
        "switch": _r(-10, -7, 20, 14) + _p("M 0,-7 V -13", "heavy"),
        "lamp": _c(0, 0, 9, "part"),
        "label": _r(-24, -10, 48, 20, "inkf", 1) + _p("M -17,-2 H 17 M -17,4 H 5", "heavy"),
        "count": _r(-24, -8, 12, 16, "part") + _r(-6, -8, 12, 16, "part") + _r(12, -8, 12, 16, "part"),
        "something_else": UNKNOWN,
        "unknown": UNKNOWN,
    }


def pictures() -> tuple[str, ...]:
    """Return the names of all outlines."""
    return tuple(sorted(_all()))


def outline(name: str, kind: str = "") -> str:
    """Return the shapes of an outline, around its middle; unknown names fall back to the kind, then to an empty box."""
    known = _all()
    return known.get(name) or known.get(kind) or UNKNOWN


def look_picture(name: str, kind: str = "", *, label: str = "", paper: bool = False) -> str:
    """Draw what a component can look like, as a picture of 76 by 52 px for a choice.

    Parameters
    ----------
    name : str
        Name of the outline (``picture`` of a state in the catalogue).
    kind : str
        Kind of the place, for a name that is not known.
    """
    picture = Picture(76, 52, label=label, paper=paper)
    picture.raw(f'<g transform="translate(38,26) scale(1.12)">{outline(name, kind)}</g>')
    return picture.svg()


def part_picture(kind: str, *, size: float = 44, label: str = "") -> str:
    """Draw the outline of a kind of part alone, in a square."""
    picture = Picture(66, 66, label=label)
    picture.raw(f'<g transform="translate(33,33)">{outline(kind)}</g>')
    return picture.svg().replace("<svg", f'<svg width="{size:g}" height="{size:g}"', 1)
