"""From the text of a YAML file to nodes with their places; what is refused, and why, stands in `yaml_lines`."""

from __future__ import annotations

import math
import re
from typing import Any

import yaml

from asfound.errors import KnowledgeError
from asfound.sources.yaml_lines import LARGEST_FILE, Node

try:
    from yaml import CSafeLoader as _Loader
except ImportError:  # a PyYAML built without its C part: slower, same result
    from yaml import SafeLoader as _Loader  # type: ignore[assignment]

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


def read(text: str, file: str) -> Node:
    """Return the nodes of a text; arguments and errors as of `yaml_lines.load`."""
    if len(text) > LARGEST_FILE:
        raise KnowledgeError(file, 1, 1, "the text is too large for a knowledge file.", allowed="up to 8 MB")
    if sum(text.count(sign) for sign in (",", "\n", ": ", "- ")) > MOST_ITEMS:  # nothing else begins an item
        raise KnowledgeError(
            file, 1, 1, "there are too many items for a knowledge file.", allowed=f"up to {MOST_ITEMS:,}"
        )
    return _build(_compose(text, file), file, set())


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
