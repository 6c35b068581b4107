"""Read YAML and keep line and column of everything, so that a complaint can point at the place.

What is read is the part of YAML that a knowledge file needs: mappings with text keys, lists, text, numbers, true,
false, null. Dates and words such as ``yes``, ``off``, ``12:30`` or ``007`` stay text. Refused, because they hide
mistakes or attack: a key twice in one mapping, aliases and merge keys, tags, several documents, files over 8 MB or
with more than half a million items, nesting deeper than 60, numbers too large for a computer.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import yaml

from asfound.errors import KnowledgeError

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

try:
    from yaml import CSafeLoader as _Loader
except ImportError:  # a PyYAML built without its C part: slower, same result
    from yaml import SafeLoader as _Loader  # type: ignore[assignment]

LARGEST_FILE = 8_000_000
MOST_ITEMS = 500_000
"""Each costs memory and time long before anything can be said about it."""
DEEPEST = 60
_CONSTANTS = {
    "true": True,
    "True": True,
    "false": False,
    "False": False,
    "null": None,
    "Null": None,
    "~": None,
    "": None,
}
_INTEGER = re.compile(r"[-+]?(0|[1-9][0-9]*)\Z")
_FLOAT = re.compile(r"[-+]?(\.[0-9]+|(0|[1-9][0-9]*)(\.[0-9]*)?)([eE][-+]?[0-9]+)?\Z")


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
        try:
            text_or_path = text_or_path.read_text(encoding="utf-8-sig")
        except UnicodeDecodeError as error:
            raise KnowledgeError(file, 1, 1, f"the file is not UTF-8 text ({error.reason}).") from error
    if len(text_or_path) > LARGEST_FILE:
        raise KnowledgeError(file or "text", 1, 1, "the text is too large for a knowledge file.", allowed="up to 8 MB")
    if sum(text_or_path.count(sign) for sign in (",", "\n", ": ", "- ")) > MOST_ITEMS:  # nothing else begins an item
        raise KnowledgeError(
            file or "text", 1, 1, "there are too many items for a knowledge file.", allowed=f"up to {MOST_ITEMS:,}"
        )
    return _build(_compose(text_or_path, file or "text"), file or "text", set())


def _compose(text: str, file: str) -> yaml.Node:
    try:
        text.encode()
    except UnicodeEncodeError as error:
        line, before = text.count("\n", 0, error.start) + 1, text.rfind("\n", 0, error.start)
        because = f"a character that is none: {text[error.start]!r}."
        raise KnowledgeError(file, line, error.start - before, because) from None
    try:
        root: yaml.Node | None = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        said = ", ".join(part for part in (error.context, error.problem) if part)
        raise KnowledgeError(file, line, column, f"this is not YAML that can be read: {said}.") from error
    except yaml.reader.ReaderError as error:
        line = text.count("\n", 0, error.position) + 1
        raise KnowledgeError(file, line, 1, f"a character that YAML does not allow: {error.reason}.") from error
    if root is None:
        raise KnowledgeError(file, 1, 1, "the file is empty.")
    return root


def _build(node: yaml.Node, file: str, seen: set[int], depth: int = 0) -> Node:
    mark = node.start_mark
    line, column = mark.line + 1, mark.column + 1
    if depth > DEEPEST:
        raise KnowledgeError(file, line, column, "this is nested too deep.", allowed=f"up to {DEEPEST} levels")
    if id(node) in seen:
        raise KnowledgeError(file, line, column, "an anchor is used again by an alias.", allowed="write it out")
    seen.add(id(node))
    if isinstance(node, yaml.ScalarNode):
        return Node(_scalar(node, file), file, line, column, {})
    if not node.tag.startswith(("tag:yaml.org,2002:map", "tag:yaml.org,2002:seq")):
        raise KnowledgeError(file, line, column, f"the tag {node.tag} is not used in knowledge files.")
    if isinstance(node, yaml.SequenceNode):
        return Node([_build(item, file, seen, depth + 1) for item in node.value], file, line, column, {})
    under: dict[str, Node] = {}
    places: dict[str, tuple[int, int]] = {}
    for key_node, value_node in node.value:
        key_line, key_column = key_node.start_mark.line + 1, key_node.start_mark.column + 1
        if not isinstance(key_node, yaml.ScalarNode) or key_node.tag == "tag:yaml.org,2002:merge":
            raise KnowledgeError(file, key_line, key_column, "only text can be a key.", allowed="name: value")
        key = key_node.value
        if key in under:
            first = places[key]
            raise KnowledgeError(
                file, key_line, key_column, f"'{key}' stands twice in this mapping; first in line {first[0]}."
            )
        places[key] = (key_line, key_column)
        under[key] = _build(value_node, file, seen, depth + 1)
    return Node(under, file, line, column, places)


def _scalar(node: yaml.ScalarNode, file: str) -> Any:
    text: str = node.value
    if not node.tag.startswith("tag:yaml.org,2002:"):
        mark = node.start_mark
        raise KnowledgeError(
            file, mark.line + 1, mark.column + 1, f"the tag {node.tag} is not used in knowledge files."
        )
    if node.style:  # quoted or block: text, whatever it looks like
        return text
    if node.tag == "tag:yaml.org,2002:str":  # 1e-3: YAML 1.1 calls it text
        return _float(node, file) if _FLOAT.match(text) and not _INTEGER.match(text) else text
    if text in _CONSTANTS:
        return _CONSTANTS[text]
    if _INTEGER.match(text):
        return int(text) if len(text) < 19 else _float(node, file)
    return _float(node, file) if _FLOAT.match(text) else text


def _float(node: yaml.ScalarNode, file: str) -> float:
    value = float(node.value)
    if math.isinf(value):
        mark = node.start_mark
        raise KnowledgeError(
            file, mark.line + 1, mark.column + 1, "a number too large for a computer.", allowed="up to 1e308"
        )
    return value


def walk(node: Node) -> Iterator[Node]:
    """Yield this node and all under it."""
    yield node
    for child in (
        node.value.values() if isinstance(node.value, dict) else node.value if isinstance(node.value, list) else ()
    ):
        yield from walk(child)
