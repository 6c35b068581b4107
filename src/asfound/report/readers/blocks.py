"""What a document for a reader is made of: blocks of words, tables and pictures, and what is missing for that reader.

A reader's own file says what stands in it and in which order; paper, text, table and data are made from the same
blocks, so that all of them say the same. Cells are plain text, or a pair of text and what stands small below it.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

Cell = str | tuple[str, str]
Row = tuple[Cell, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Says:
    """A paragraph."""

    text: str
    weight: Literal["plain", "strong", "quiet"] = "plain"
    kind: str = "says"


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """The heading of what follows."""

    text: str
    kind: str = "head"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows:
    """A table; the first column names the row."""

    columns: tuple[str, ...]
    rows: tuple[Row, ...]
    shares: tuple[float, ...] = ()
    """How wide the columns are beside each other; all alike when empty."""
    right: tuple[int, ...] = ()
    """Columns of numbers."""
    kind: str = "rows"


@dataclass(frozen=True, slots=True, kw_only=True)
class Pairs:
    """Names and values beside each other, in two columns where there is room."""

    rows: tuple[tuple[str, str], ...]
    kind: str = "pairs"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lines:
    """A list."""

    rows: tuple[Cell, ...]
    kind: str = "lines"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A picture with the sentence that says what it shows."""

    svg: str
    alt: str
    width: float
    caption: str = ""
    kind: str = "drawn"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """A photo of the record, small."""

    digest: str
    filename: str
    caption: str
    says: str = ""
    """What it is evidence of, and how sure that is."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shots:
    """Photos beside each other."""

    rows: tuple[Shot, ...]
    kind: str = "shots"


Block = Says | Head | Rows | Pairs | Lines | Drawn | Shots


@dataclass(frozen=True, slots=True, kw_only=True)
class Lack:
    """What this reader asks for and the record does not hold."""

    what: str
    fill: str = ""
    """What would fill it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Data:
    """The table that leaves as a file; numbers stay numbers."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Any, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A document for one reader."""

    headline: str
    lead: str = ""
    blocks: tuple[Block, ...] = ()
    lacks: tuple[Lack, ...] = ()
    signed: tuple[tuple[str, str], ...] = ()
    """Lines to sign on: who signs, and the name where it is known."""
    tags: tuple[str, ...] = ()
    """Words of the register of cautions that belong to what is asked of this reader."""
    data: Data | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)
    """What the data file says beside the table."""


def plain_block(block: Block) -> dict[str, Any]:
    """Return a block as plain values, its kind under ``kind``."""
    return {one.name: _plain(getattr(block, one.name)) for one in fields(block)}


def _plain(value: Any) -> Any:
    if isinstance(value, Shot):
        return {one.name: getattr(value, one.name) for one in fields(value)}
    if isinstance(value, (tuple, list)):
        return [_plain(one) for one in value]
    return value


def bare(value: Any) -> Any:
    """Return content without the signs that only let a typesetter break a word, and without numbers that are none."""
    if isinstance(value, str):
        return value.replace("\u200b", "")
    if isinstance(value, float) and value != value:
        return None
    if isinstance(value, dict):
        return {name: bare(one) for name, one in value.items()}
    return [bare(one) for one in value] if isinstance(value, (list, tuple)) else value


def digest_of(content: Mapping[str, Any]) -> str:
    """Return the SHA-256 of plain content in canonical form: the same document has the same digest each time."""
    text = json.dumps(content, ensure_ascii=False, sort_keys=True, separators=(",", ":"), default=str)
    return hashlib.sha256(text.encode()).hexdigest()
