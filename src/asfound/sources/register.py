"""The register of published sources: each stands once, and is cited by its key.

A room may bring its own file ``<room>/data/sources.yaml``; all files together are one register. A key that two files
give with different content is an error, so that one key never means two publications.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from asfound.errors import UnknownNameError
from asfound.sources.parsed import packaged

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from asfound.sources.yaml_lines import Node

ROOMS = Path(__file__).parent.parent
"""The folder that holds the rooms."""
KINDS = ("standard", "regulation", "handbook", "paper", "data", "practice")
SEEN = ("read", "secondary", "memory", "none")
RESERVED = ("common_practice", "engineering_judgement", "own_calculation", "from_memory")
_SEEN_WORDS = {
    "read": "",
    "secondary": "as given by a secondary source",
    "memory": "from memory, unverified",
    "none": "",
}
_TOP_KEY = re.compile(r"^([a-z0-9_]+):", re.MULTILINE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A publication, or the plain statement that there is none."""

    key: str
    title: str
    kind: str
    """One of `KINDS`."""
    edition: str = ""
    publisher: str = ""
    year: int | None = None
    seen: str = "read"
    """How it was seen: ``read`` (the text, or an official copy), ``secondary`` (somebody who quotes it), ``memory``,
    ``none`` (there is nothing to see: practice, judgement)."""
    note: str = ""

    @property
    def text(self) -> str:
        """Title with edition, publisher, year: as a list of sources prints it."""
        parts = [self.title, self.edition, self.publisher, str(self.year) if self.year else ""]
        return ", ".join(part for part in parts if part)


def source(key: str) -> Source:
    """Return the source with this key; UnknownNameError when there is none."""
    try:
        return sources()[key]
    except KeyError:
        raise UnknownNameError("source", key, sources()) from None


def cite(key: str, clause: str = "") -> str:
    """Return how a report cites a source: title, edition, clause, and whether it was only seen at second hand.

    >>> cite("common_practice")
    'common practice, no source'
    """
    one = source(key)
    said = ", ".join(part for part in (one.title, one.edition, clause) if part)
    how = _SEEN_WORDS[one.seen]
    return f"{said} ({how})" if how else said


@cache
def sources() -> Mapping[str, Source]:
    """Return the whole register, read once.

    Raises
    ------
    KnowledgeError
        When a file is wrong, or two files give one key with different content.
    """
    from asfound.sources import yaml_lines

    register: dict[str, Source] = {}
    for name, text in _texts():
        root = yaml_lines.load(text, file=name)
        for key, node in root.mapping().items():
            one = _source(key, node, root)
            if register.setdefault(key, one) != one:
                raise root.error_at(key, f"source '{key}' is already registered with other content.")
    missing = [key for key in RESERVED if key not in register]
    if missing:
        raise UnknownNameError("source", missing[0], register)
    return MappingProxyType(register)


@cache
def keys() -> frozenset[str]:
    """Return the keys alone, without reading what stands under them: tables ask for this at every start."""
    return frozenset(key for _, text in _texts() for key in _TOP_KEY.findall(text))


def _texts() -> Iterator[tuple[str, str]]:
    for path in _paths():
        yield f"{path.parent.parent.name}/data/sources.yaml", packaged(path.read_text(encoding="utf-8"), path)


@cache
def _paths() -> tuple[Path, ...]:
    rooms = sorted((room for room in ROOMS.iterdir() if room.is_dir()), key=lambda room: room.name)
    paths = [room / "data" / "sources.yaml" for room in rooms]
    return tuple(path for path in paths if path.is_file())


def _source(key: str, node: Node, root: Node) -> Source:
    node.only("title", "edition", "publisher", "year", "kind", "seen", "note")
    title, kind = node.want("title", "kind")
    if not _TOP_KEY.match(f"{key}:"):
        raise root.error_at(key, f"'{key}' cannot be a key.", allowed="small letters, digits and _")
    year, seen = node.get("year"), node.get("seen")
    words = {name: node.value[name].text() for name in ("edition", "publisher", "note") if name in node.value}
    return Source(
        key=key,
        title=title.text(),
        kind=kind.one_of(KINDS),
        year=int(year.number(low=1600, high=2100)) if year else None,
        seen=seen.one_of(SEEN) if seen else "read",
        **words,
    )
