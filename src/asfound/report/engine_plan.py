"""What an engine's drawing is made from, and how its data become places on paper.

Axis ``u`` runs along the crank from the flywheel end to the free end, ``v`` across it, left negative as seen from the
flywheel end. Two directions exist: ``across`` with the flywheel left, ``up`` with the flywheel below. Both are one turn
of the same plan, so nothing is ever mirrored and all text stays upright.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal

from asfound.errors import InputError
from asfound.report.ink import Picture, number

FLYWHEEL = 94.0
"""Half of the flywheel's diameter. [px]"""
Direction = Literal["across", "up"]
End = Literal["free_end", "driving_end"]


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnSlot:
    """One place of the engine on the drawing."""

    slot: str
    side: Literal["left", "right"]
    along: float
    """0 at the flywheel end, 1 at the free end."""
    kind: str
    """Outline of the kind of place: ``box``, ``loaf``, ``probe`` ..."""
    picture: str = ""
    """Outline of what is believed to sit there; empty: not known, so it is a dashed box with a question mark."""
    kit: bool = False
    """It came with a kit: its part is striped."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EngineDrawing:
    """Everything the plan of an engine is drawn from."""

    tag: str = ""
    layout: Literal["inline", "vee"] = "inline"
    cylinders: int = 6
    first_at: End = "free_end"
    names: Literal["1", "L1", "A1"] = "1"
    sides_seen_from: End = "driving_end"
    operator_counts_from: Literal["free_end", "driving_end", ""] = ""
    mirrored: bool = False
    """Built mirror-handed: exhaust right and intake left. The slots' sides are as they are on this engine."""
    driven: str = ""
    """Word on the dashed outline of the driven machine; empty: nothing is drawn."""
    turbochargers: int = 0
    turbo_end: End = "free_end"
    known: bool = True
    """False: layout and number of cylinders are a stand-in, and the caption says so."""
    slots: tuple[DrawnSlot, ...] = ()

    def __post_init__(self) -> None:
        if not 1 <= self.cylinders <= 24:
            raise InputError("cylinders", str(self.cylinders), "cannot be drawn", allowed="1 to 24")
        if self.layout == "vee" and self.cylinders % 2:
            raise InputError("cylinders", str(self.cylinders), "is odd, so it cannot stand in two rows",
                             try_next="Say that the engine is in line, or put the number right.")  # fmt: skip

    @property
    def per_row(self) -> int:
        """Cylinders in a row."""
        return self.cylinders // 2 if self.layout == "vee" else self.cylinders

    def cylinder_names(self) -> tuple[tuple[str, ...], ...]:
        """Return the names of the rows' cylinders from the flywheel end to the free end; the left row first.

        Counted through, a V engine alternates between left and right along the crank (one of the conventions in use);
        ``L1`` and ``A1`` count each row for itself. Sides are as seen from ``sides_seen_from``.
        """
        order = range(1, self.per_row + 1)
        along = list(order) if self.first_at == "driving_end" else list(reversed(order))
        if self.layout == "inline":
            return (tuple(str(n) for n in along),)
        swapped = self.sides_seen_from == "free_end"
        if self.names == "1":
            left, right = [str(2 * n - 1) for n in along], [str(2 * n) for n in along]
        else:
            one, other = ("L", "R") if self.names == "L1" else ("A", "B")
            left, right = [f"{one}{n}" for n in along], [f"{other}{n}" for n in along]
        return (tuple(right), tuple(left)) if swapped else (tuple(left), tuple(right))


@dataclass(frozen=True, slots=True, kw_only=True)
class Tag:
    """The tie-on tag of a place; tags come in the order of their numbers, clockwise from the flywheel end's left."""

    number: int | str
    slot: str
    title: str
    says: str = ""
    """What is believed to sit there, for readers of the screen."""
    probability: float | None = None
    looked: Literal["seen", "not_there", "not_judged", "open"] = "open"
    belongs: Literal["host", "kit", "stranger", "unknown"] = "host"
    clash: bool = False
    chosen: bool = False
    next_look: bool = False
    href: str = ""


def caption(drawing: EngineDrawing) -> tuple[str, ...]:
    """Return the sentences that stand under every drawing of an engine."""
    ends = {"free_end": "the free end", "driving_end": "the flywheel end"}
    sides = "Seen from above. Left and right as seen from the flywheel end."
    if drawing.sides_seen_from == "free_end" and drawing.layout == "vee" and drawing.names != "1":
        sides += " The rows are named as seen from the free end."
    counted = f"Cylinders counted from {ends[drawing.first_at]}"
    if drawing.operator_counts_from and drawing.operator_counts_from != drawing.first_at:
        counted += f"; the operator counts from {ends[drawing.operator_counts_from]}"
    if not drawing.known:
        counted = "Layout and number of cylinders not known; drawn as an engine in line with six"
    whose = f" of {drawing.tag}" if drawing.tag else ""
    return (sides, f"{counted}.", f"Drawn from the data{whose}; not to scale.")


def says(drawing: EngineDrawing, places: int) -> str:
    """Return the sentence that describes the drawing."""
    shape = "V" if drawing.layout == "vee" else "in-line "
    said = f"Plan of {drawing.tag or 'an engine'}, {shape}{drawing.cylinders}, seen from above"
    return f"{said}, {places} numbered places" if places else said


@dataclass(slots=True)
class Plan:
    """The measures of one drawing. [px]"""

    drawing: EngineDrawing
    direction: Direction
    width: float
    tagged: bool
    compact: bool = False
    """To be shown at about half its size: fewer words, larger."""
    pitch: float = 0.0
    port: float = 0.0
    bank: float = 0.0
    head: float = 0.0
    """Half of a cylinder head across the engine."""
    gallery: tuple[float, float] = (0.0, 0.0)
    """Nearer and farther side of the manifolds of an engine in line."""
    half: float = 0.0
    length: float = 0.0
    before: float = 150.0
    """Room for flywheel and driven machine."""
    after: float = 0.0
    origin: tuple[float, float] = (0.0, 0.0)
    tallest: float = 0.0
    """Height of the longer column of tags. [px]"""
    picture: Picture = field(default=None)  # type: ignore[assignment]

    def __post_init__(self) -> None:
        vee, across = self.drawing.layout == "vee", self.direction == "across"
        at_free_end = self.drawing.turbochargers > 0 and self.drawing.turbo_end == "free_end"
        self.before = 150.0 if self.drawing.driven else 96.0
        self.after = 112.0 if at_free_end else 54.0
        self.bank = 0.0 if not vee else (58.0 if across else 36.0)
        nominal = (82.0 if vee else 52.0) if across else (60.0 if vee else 52.0)
        if not across:  # a short engine beside many tags is drawn longer, so that the leaders stay apart
            wanted = (self.tallest - 26 - 0.5 * (self.before + self.after)) / self.drawing.per_row
            nominal = min(max(nominal, wanted), 1.5 * nominal)
        if across:
            room = (self.width - self.before - self.after - 26) / self.drawing.per_row
            nominal = max(min(nominal, room), 30.0)
        self.pitch = nominal
        self.port = min((27.0 if vee else 21.0) if across else (17.0 if vee else 19.0), self.pitch * 0.41)
        self.head = self.port + (4.0 if vee else 12.0 if across else 10.0)
        self.gallery = (52.0, 68.0) if across else (41.0, 53.0)
        self.half = self.bank + self.head + 22 if vee else self.gallery[1] + 8
        self.length = self.drawing.per_row * self.pitch + 26

    def at(self, u: float, v: float) -> tuple[float, float]:
        """Return where a point of the plan stands in the picture."""
        x, y = self.origin
        return (x + u, y + v) if self.direction == "across" else (x + v, y - u)

    def rect(self, kind: str, u0: float, v0: float, u1: float, v1: float, rx: float = 0) -> None:
        """Draw a rectangle between two corners of the plan."""
        (xa, ya), (xb, yb) = self.at(u0, v0), self.at(u1, v1)
        self.picture.rect(kind, min(xa, xb), min(ya, yb), abs(xb - xa), abs(yb - ya), rx)

    def line(self, kind: str, u0: float, v0: float, u1: float, v1: float) -> None:
        """Draw a line between two points of the plan."""
        self.picture.line(kind, *self.at(u0, v0), *self.at(u1, v1))

    def circle(self, kind: str, u: float, v: float, r: float) -> None:
        """Draw a circle about a point of the plan."""
        self.picture.circle(kind, *self.at(u, v), r)

    def path(self, kind: str, pairs: Sequence[tuple[float, float]]) -> None:
        """Draw a line through points of the plan."""
        said = " L ".join(f"{number(x)},{number(y)}" for x, y in (self.at(u, v) for u, v in pairs))
        self.picture.path(kind, f"M {said}")

    def cylinder_u(self, index: int) -> float:
        """Return where a cylinder stands along the crank, counted from the flywheel end beginning with 0."""
        return 13 + self.pitch * (index + 0.5)

    @property
    def reach(self) -> float:
        """How far the engine goes out across, flywheel and turbochargers counted in."""
        turbos = self.drawing.turbochargers > 0 and self.drawing.turbo_end == "driving_end"
        return max(FLYWHEEL, self.half + (46.0 if turbos else 0.0))

    @property
    def hand(self) -> int:
        """-1 where the exhaust is on the left, 1 on a mirror-handed engine."""
        return 1 if self.drawing.mirrored else -1
