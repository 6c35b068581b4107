"""YAML of files that are data and no knowledge: dates stay dates, and what is made to harm is refused.

Aliases are refused, because a file of a kilobyte can make a billion words of them; so are files beyond any use,
numbers too long to be one, nesting that no reader can follow, dates that are none, and bytes that are no text. All of
it as ``yaml.YAMLError``, which who reads such a file expects anyhow.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

try:
    from yaml import CSafeLoader as _Loader
except ImportError:  # a PyYAML built without its C part: slower, same result
    from yaml import SafeLoader as _Loader  # type: ignore[assignment]

LARGEST = 2_000_000
"""Such files are written by hand. [character]"""


def load_plain(given: str | Path) -> Any:
    """Return what YAML text, or a file of it, holds.

    Raises
    ------
    yaml.YAMLError
        It cannot be read, or is refused; see the head of this module.
    """
    try:
        if isinstance(given, Path):
            _check_size(given.stat().st_size)
            given = given.read_text(encoding="utf-8-sig")
        _check_size(len(given))
        loader = _Loader(given)
        root = loader.get_single_node()
        if root is None:
            return None
        _refuse_aliases(root)
        return loader.construct_document(root)
    except (RecursionError, ValueError, OverflowError) as fault:  # UnicodeDecodeError is a ValueError
        raise yaml.YAMLError(f"this cannot be read: {str(fault)[:200]}") from fault


def _check_size(size: int) -> None:
    if size > LARGEST:
        raise yaml.YAMLError(f"there are {size:,} characters; up to {LARGEST:,} are taken")


def _refuse_aliases(root: yaml.Node) -> None:
    """Refuse a node that is met twice: it was named once and used again."""
    seen: set[int] = set()
    todo = [root]
    while todo:
        node = todo.pop()
        if id(node) in seen:
            raise yaml.composer.ComposerError(None, None, "an alias is not taken; write it out", node.start_mark)
        seen.add(id(node))
        if isinstance(node, yaml.MappingNode):
            todo += [one for pair in node.value for one in pair]
        elif isinstance(node, yaml.SequenceNode):
            todo += node.value
