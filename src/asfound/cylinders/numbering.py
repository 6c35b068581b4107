"""How cylinders are counted: one position on the engine, and the name that each convention gives it.

Conventions contradict each other, so nothing here assumes a viewpoint. A position is the row as seen from the driving
end (flywheel, coupling) looking at the engine, and the place in that row counted from the driving end. Every name is a
map from positions; from one convention to another the way goes through the position.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from asfound.errors import InputError

End = Literal["driving_end", "free_end"]
Row = Literal["only", "left", "right"]
Names = Literal["1", "L1", "1L", "A1"]
ENDS: Mapping[End, End] = MappingProxyType({"driving_end": "free_end", "free_end": "driving_end"})
OTHER_ROW: Mapping[Row, Row] = MappingProxyType({"only": "only", "left": "right", "right": "left"})
MOST_CYLINDERS = 24


@dataclass(frozen=True, slots=True, order=True)
class Position:
    """Where a cylinder stands, whatever it is called."""

    row: Row
    """As seen from the driving end; ``only`` in line."""
    index: int
    """1 at the driving end."""


@dataclass(frozen=True, slots=True)
class Layout:
    """How the cylinders stand."""

    form: Literal["inline", "vee"]
    cylinders: int

    def __post_init__(self) -> None:
        if not 1 <= self.cylinders <= MOST_CYLINDERS:
            raise InputError("cylinders", str(self.cylinders), "is no number of cylinders here", allowed="1 to 24")
        if self.form == "vee" and self.cylinders % 2:
            raise InputError(
                "cylinders", str(self.cylinders), "is odd, so it cannot stand in two rows",
                allowed="an even number", try_next="Count both rows at the engine.",
            )  # fmt: skip

    @property
    def per_row(self) -> int:
        """Cylinders in a row."""
        return self.cylinders // 2 if self.form == "vee" else self.cylinders

    @property
    def rows(self) -> tuple[Row, ...]:
        """The rows, left first as seen from the driving end."""
        return ("left", "right") if self.form == "vee" else ("only",)

    @property
    def positions(self) -> tuple[Position, ...]:
        """All positions: left row first, each from the driving end on."""
        return tuple(Position(row, i) for row in self.rows for i in range(1, self.per_row + 1))


@dataclass(frozen=True, slots=True, kw_only=True)
class Convention:
    """A way of counting: which end is first, what the names look like, from where left is left."""

    title: str
    first_at: End
    names: Names = "1"
    """``1`` counted through; ``L1``, ``1L`` left and right rows; ``A1`` rows A and B, A where left is."""
    sides_seen_from: End = "driving_end"
    order: Literal["along", "row_by_row"] = "along"
    """Of ``1`` on a V engine: along the crank from row to row, or one row after the other."""
    first_row: Literal["left", "right"] = "left"
    """The row that comes first in that, as seen from ``sides_seen_from``."""
    source: str = "common_practice"
    seen: str = ""
    """How well it is known; shown wherever the convention is named."""

    def row_as_named(self, position: Position) -> Row:
        """Return the row as this convention's viewer sees it."""
        return position.row if self.sides_seen_from == "driving_end" else OTHER_ROW[position.row]

    def counted(self, layout: Layout, position: Position) -> int:
        """Return the place in its row, counted from this convention's end."""
        return position.index if self.first_at == "driving_end" else layout.per_row + 1 - position.index


CONVENTIONS: Mapping[str, Convention] = MappingProxyType(
    {
        "iso_1204": Convention(
            title="ISO 1204, from the coupling end, row A left", first_at="driving_end", names="A1", source="iso_1204",
            seen="from memory: no text of the standard seen",
        ),
        "sae_j824_a": Convention(
            title="SAE J824 method A, along the crank from the end away from the output", first_at="free_end",
            source="sae_j824", seen="one public summary; which row is first follows the rods on the crank",
        ),
        "sae_j824_b": Convention(
            title="SAE J824 method B, each row from the end away from the output", first_at="free_end", names="1L",
            source="sae_j824", seen="one public summary",
        ),
        "sequential_driving_end": Convention(
            title="counted through along the crank from the driving end", first_at="driving_end", seen="common practice"
        ),
        "sequential_free_end": Convention(
            title="counted through along the crank from the free end", first_at="free_end", seen="common practice"
        ),
        "din_73021": Convention(
            title="DIN 73021 (road vehicles), row by row from the end away from the output, seen from there",
            first_at="free_end", sides_seen_from="free_end", order="row_by_row", source="din_73021",
            seen="one public summary",
        ),
        "row_by_row_right_first": Convention(
            title="row by row from the free end, right row first as seen from the output end", first_at="free_end",
            order="row_by_row", first_row="right", source="gb_1859_numbering", seen="one public note",
        ),
    }
)  # fmt: skip
"""Conventions by name. Each says how well it is known."""


def names(layout: Layout, convention: Convention) -> dict[Position, str]:
    """Return what a convention calls each position.

    >>> one = names(Layout("inline", 9), CONVENTIONS["sequential_free_end"])
    >>> one[Position("only", 1)], one[Position("only", 9)]
    ('9', '1')
    """
    return {position: _name(layout, convention, position) for position in layout.positions}


def positions(layout: Layout, convention: Convention) -> dict[str, Position]:
    """Return where each name of a convention stands."""
    return {name: position for position, name in names(layout, convention).items()}


def translate(layout: Layout, given: Convention, wanted: Convention) -> dict[str, str]:
    """Return the name in one convention by the name in another.

    >>> ends = CONVENTIONS["sequential_driving_end"], CONVENTIONS["sequential_free_end"]
    >>> translate(Layout("inline", 9), *ends)["9"]
    '1'
    """
    called = names(layout, wanted)
    return {name: called[position] for name, position in positions(layout, given).items()}


def table(layout: Layout, conventions: Mapping[str, Convention]) -> list[dict[str, str]]:
    """Return a row for each cylinder, from the driving end on, left row first: where it is, then its names."""
    called = {key: names(layout, one) for key, one in conventions.items()}
    return [
        {"position": position_words(position), **{key: given[position] for key, given in called.items()}}
        for position in layout.positions
    ]


def position_words(position: Position) -> str:
    """Return where a cylinder is, with the viewpoint said.

    >>> position_words(Position("left", 2))
    '2nd from the flywheel, left row seen from there'
    """
    ending = {1: "st", 2: "nd", 3: "rd"}.get(position.index if position.index < 20 else position.index % 10, "th")
    row = "" if position.row == "only" else f", {position.row} row seen from there"
    return f"{position.index}{ending} from the flywheel{row}"


def as_painted(layout: Layout, painted: Sequence[Sequence[str]]) -> dict[Position, str]:
    """Return the names as painted or stamped on the engine.

    Parameters
    ----------
    painted : sequence of sequence of str
        One sequence for each row, left first, both as seen from the driving end; each from the driving end on.

    Raises
    ------
    InputError
        Rows of another number or length, a name that is empty or painted twice.
    """
    found = [name.strip() for row in painted for name in row]
    if len(painted) != len(layout.rows) or any(len(row) != layout.per_row for row in painted):
        raise InputError(
            "painted", " | ".join(" ".join(row) for row in painted), "does not name each cylinder of this engine",
            allowed=f"{len(layout.rows)} x {layout.per_row} names", try_next="Read them off from the flywheel end on.",
        )  # fmt: skip
    twice = next((one for one in found if not one or found.count(one) > 1), None)
    if twice is not None:
        raise InputError("painted", twice, "is painted on two cylinders, or on none", try_next="Read them off again.")
    return dict(zip(layout.positions, found, strict=True))


def counted_from(convention: Convention, end: End) -> Convention:
    """Return the same convention counted from another end."""
    where = "driving end" if end == "driving_end" else "free end"
    return Convention(
        title=f"as on this engine, but counted from the {where}", first_at=end, names=convention.names,
        sides_seen_from=convention.sides_seen_from, order=convention.order, first_row=convention.first_row,
        source=convention.source, seen=convention.seen,
    )  # fmt: skip


def _name(layout: Layout, convention: Convention, position: Position) -> str:
    counted = convention.counted(layout, position)
    if layout.form == "inline":
        return str(counted)
    row = convention.row_as_named(position)
    if convention.names == "1":
        first = row == convention.first_row
        if convention.order == "along":
            return str(2 * counted - 1 if first else 2 * counted)
        return str(counted if first else layout.per_row + counted)
    if convention.names == "A1":
        return f"{'A' if row == 'left' else 'B'}{counted}"
    letter = "L" if row == "left" else "R"
    return f"{letter}{counted}" if convention.names == "L1" else f"{counted}{letter}"
