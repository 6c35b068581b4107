"""Read YAML and keep line and column of everything, so that a complaint can point at the place.

What is read is the part of YAML that a knowledge file needs: mappings with text keys, lists, text, numbers, true,
false, null. Dates and words such as ``yes``, ``off``, ``12:30`` or ``007`` stay text. Refused, because they hide
mistakes or attack: a key twice in one mapping, aliases and merge keys, tags, several documents, files over 8 MB or
with more than half a million items, nesting deeper than 60, numbers too large for a computer.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from asfound.errors import KnowledgeError
from asfound.sources.parsed import PackagedText, keep_parsed, packaged, parsed_before
from asfound.sources.register import ROOMS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

LARGEST_FILE = 8_000_000


@dataclass(frozen=True, slots=True, eq=False)
class Node:
    """A value of a file and where it stands.

    ``value`` is a dict of text to `Node`, a list of `Node`, or a plain str, int, float, bool or None.
    ``line`` and ``column`` count from 1. ``key_places`` holds where each key of a mapping stands.
    """

    value: Any
    file: str
    line: int
    column: int
    key_places: dict[str, tuple[int, int]]

    @property
    def kind(self) -> str:
        """What stands here, in words: ``mapping``, ``list``, ``text``, ``number``, ``true or false``, ``nothing``."""
        if isinstance(self.value, bool):
            return "true or false"
        names = {dict: "mapping", list: "list", str: "text", int: "number", float: "number"}
        return names.get(type(self.value), "nothing")

    def plain(self) -> Any:
        """Return the value and all under it as plain dicts, lists and scalars."""
        if isinstance(self.value, dict):
            return {key: node.plain() for key, node in self.value.items()}
        if isinstance(self.value, list):
            return [node.plain() for node in self.value]
        return self.value

    def error(self, because: str, *, allowed: str = "") -> KnowledgeError:
        """Return (not raise) an error that points here."""
        return KnowledgeError(self.file, self.line, self.column, because, allowed=allowed)

    def error_at(self, key: str, because: str, *, allowed: str = "") -> KnowledgeError:
        """Return (not raise) an error that points at a key of this mapping."""
        line, column = self.key_places.get(key, (self.line, self.column))
        return KnowledgeError(self.file, line, column, because, allowed=allowed)

    def mapping(self) -> dict[str, Node]:
        """Return the mapping that stands here; KnowledgeError when it is something else."""
        if not isinstance(self.value, dict):
            raise self.error(f"a mapping is wanted here, not {self._found()}.", allowed="lines of 'name: value'")
        return self.value

    def items(self) -> list[Node]:
        """Return the list that stands here; KnowledgeError when it is something else."""
        if not isinstance(self.value, list):
            raise self.error(f"a list is wanted here, not {self._found()}.", allowed="'- item' lines, or [a, b]")
        return self.value

    def text(self) -> str:
        """Return the text that stands here; KnowledgeError when it is something else."""
        if not isinstance(self.value, str):
            raise self.error(f"text is wanted here, not {self._found()}.", allowed="text; put quotes round a number")
        return self.value

    def number(self, *, low: float | None = None, high: float | None = None) -> float:
        """Return the number that stands here; KnowledgeError when it is none, or outside ``low`` to ``high``."""
        allowed = f"{'any' if low is None else f'{low:g}'} to {'any' if high is None else f'{high:g}'}"
        if isinstance(self.value, bool) or not isinstance(self.value, int | float):
            raise self.error(f"a number is wanted here, not {self._found()}.", allowed=allowed)
        if (low is not None and self.value < low) or (high is not None and self.value > high):
            raise self.error(f"{self.value:g} is outside the range.", allowed=allowed)
        return float(self.value)

    def truth(self) -> bool:
        """Return the true or false that stands here; KnowledgeError when it is something else."""
        if not isinstance(self.value, bool):
            raise self.error(f"true or false is wanted here, not {self._found()}.", allowed="true, false")
        return self.value

    def one_of(self, choices: Iterable[str]) -> str:
        """Return the text that stands here; KnowledgeError when it is not one of the choices."""
        choices = tuple(choices)
        if self.value not in choices:
            raise self.error(f"{self._found()} is not known here.", allowed=", ".join(choices))
        return str(self.value)

    def want(self, *keys: str) -> tuple[Node, ...]:
        """Return the nodes under these keys; KnowledgeError names the first that is missing."""
        under = self.mapping()
        for key in keys:
            if key not in under:
                raise self.error(f"'{key}' is missing.", allowed=f"keys {', '.join(keys)}")
        return tuple(under[key] for key in keys)

    def get(self, key: str) -> Node | None:
        """Return the node under a key of this mapping, or None."""
        return self.mapping().get(key)

    def only(self, *keys: str) -> None:
        """Refuse any key of this mapping that is not one of these (a slip of the pen is not ignored in silence)."""
        for key in self.mapping():
            if key not in keys:
                raise self.error_at(key, f"'{key}' is not known here.", allowed=", ".join(keys))

    def _found(self) -> str:
        return repr(self.value) if not isinstance(self.value, dict | list) else f"a {self.kind}"


def load(text_or_path: str | Path, *, file: str = "") -> Node:
    """Read one YAML document.

    Parameters
    ----------
    text_or_path : str or Path
        The text itself, or the path of a file.
    file : str
        Name that complaints use; the path when a path is given.

    Raises
    ------
    KnowledgeError
        With file, line and column, for anything refused (see the head of this module).
    """
    if isinstance(text_or_path, Path):
        file = file or str(text_or_path)
        if text_or_path.stat().st_size > LARGEST_FILE:
            raise KnowledgeError(file, 1, 1, "the file is too large for a knowledge file.", allowed="up to 8 MB")
        path = text_or_path
        try:
            text_or_path = path.read_text(encoding="utf-8-sig")
        except UnicodeDecodeError as error:
            raise KnowledgeError(file, 1, 1, f"the file is not UTF-8 text ({error.reason}).") from error
        if path.is_relative_to(ROOMS):
            text_or_path = packaged(text_or_path, path)
    if isinstance(text_or_path, PackagedText):
        return _packaged(text_or_path, file or "text")
    return _read(text_or_path, file or "text")


def _packaged(text: PackagedText, file: str) -> Node:
    """Return a file of the program: as it was parsed before, or parsed now and kept so."""
    before = parsed_before(text)
    if before is not None:
        return _unfolded(before, file)
    made = _read(str(text), file)  # the parser takes nothing but plain text
    keep_parsed(text, _folded(made))
    return made


def _folded(node: Node) -> tuple[Any, int, int, dict[str, tuple[int, int]]]:
    """Return a node and all under it as plain values, without the name of the file."""
    value = node.value
    if isinstance(value, dict):
        value = {key: _folded(one) for key, one in value.items()}
    elif isinstance(value, list):
        value = [_folded(one) for one in value]
    return value, node.line, node.column, node.key_places


def _unfolded(folded: tuple[Any, int, int, dict[str, tuple[int, int]]], file: str) -> Node:
    value, line, column, places = folded
    if isinstance(value, dict):
        value = {key: _unfolded(one, file) for key, one in value.items()}
    elif isinstance(value, list):
        value = [_unfolded(one, file) for one in value]
    return Node(value, file, line, column, places)


def _read(text: str, file: str) -> Node:
    from asfound.sources.yaml_compose import read  # PyYAML costs 20 ms: not where all was parsed before

    return read(text, file)


def walk(node: Node) -> Iterator[Node]:
    """Yield this node and all under it."""
    yield node
    for child in (
        node.value.values() if isinstance(node.value, dict) else node.value if isinstance(node.value, list) else ()
    ):
        yield from walk(child)
