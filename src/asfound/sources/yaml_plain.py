"""YAML of files that are data and no knowledge: dates stay dates, and what is made to harm is refused.

Aliases are refused, because a file of a kilobyte can make a billion words of them; so are numbers too long to be one,
nesting that no reader can follow, dates that are none, and bytes that are no text. All of it as ``yaml.YAMLError``,
which who reads such a file expects anyhow.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

LARGEST = 50_000_000
"""[byte]"""


class _Plain(yaml.SafeLoader):
    """The safe loader without aliases."""

    def compose_node(self, parent: yaml.Node | None, index: int) -> yaml.Node | None:
        """Return the next node; an alias is none."""
        if self.check_event(yaml.AliasEvent):
            raise yaml.YAMLError("an alias is not taken; write it out")
        found: yaml.Node | None = super().compose_node(parent, index)
        return found


def load_plain(given: str | Path) -> Any:
    """Return what YAML text, or a file of it, holds.

    Raises
    ------
    yaml.YAMLError
        It cannot be read, or is refused; see the head of this module.
    """
    try:
        if isinstance(given, Path):
            if given.stat().st_size > LARGEST:
                raise yaml.YAMLError("the file is too large")
            given = given.read_text(encoding="utf-8-sig")
        return yaml.load(given, Loader=_Plain)
    except (RecursionError, ValueError, OverflowError) as fault:  # UnicodeDecodeError is a ValueError
        raise yaml.YAMLError(f"this cannot be read: {str(fault)[:200]}") from fault
