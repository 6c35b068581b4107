"""What the pages of the documentation take from the program: its tokens, its faces, its sign (a hook of MkDocs)."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

STATIC = Path(__file__).parent.parent / "src" / "asfound" / "web" / "static"
TAKEN = ("css/tokens.css", "sign.svg", "fonts")
OUTSIDE = re.compile(r"\[([^\]]*)\]\((?:\.\./)+((?:CHANGELOG|README|benchmarks/README)\.md)[^)]*\)")


def on_page_markdown(markdown: str, **_: Any) -> str:
    """Name what lies outside instead of linking to it; a list may follow a line at once, as everywhere else."""
    return "\n".join(_apart(OUTSIDE.sub(r"\1 (`\2`)", markdown).splitlines()))


def _apart(lines: Iterable[str]) -> Iterator[str]:
    """Yield the lines with an empty one before each list."""
    code, before = False, ""
    for line in lines:
        code ^= line.lstrip().startswith("```")
        if not code and line.startswith(("- ", "1. ")) and before.strip() and not before.startswith((" ", "- ", "1. ")):
            yield ""
        yield line
        before = line


def on_post_build(config: Any, **_: Any) -> None:
    """Copy the look beside the pages."""
    look = Path(config["site_dir"]) / "look"
    for name in TAKEN:
        (look / name).parent.mkdir(parents=True, exist_ok=True)
        if (STATIC / name).is_dir():
            shutil.copytree(STATIC / name, look / name, dirs_exist_ok=True)
        else:
            shutil.copyfile(STATIC / name, look / name)
