"""The page of the commands, made from the commands: ``python -m asfound.cli.manual > docs/commands.md``."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

from asfound.cli.commands import COMMANDS, GROUPS
from asfound.cli.door import build
from asfound.cli.front import ABOUT, AFTER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from cyclopts import App

WIDTH = 110


def leaves(app: App, words: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Yield the words of every command that can be run: ('visit', 'open'), ('take',) ..."""
    named = [name for name in app if not name.startswith("-")]
    if app.default_command is not None:
        yield words
    for name in named:
        yield from leaves(app[name], (*words, name))


def help_of(app: App, words: tuple[str, ...]) -> str:
    """Return the help text of a command as a terminal of ``WIDTH`` shows it."""
    from rich.console import Console

    out = io.StringIO()
    app.help_print(list(words), console=Console(file=out, width=WIDTH, force_terminal=False, color_system=None))
    return re.sub(r"[ \t]+$", "", out.getvalue(), flags=re.MULTILINE).strip()


def page() -> str:
    """Return the whole page as Markdown."""
    app = build()
    every = [words for words in leaves(app) if words]
    lines = ["# Commands", "", "Made by `python -m asfound.cli.manual > docs/commands.md`; a test keeps it true.", ""]
    lines += [ABOUT, "", *(line for paragraph in AFTER for line in (paragraph, ""))]
    for group in GROUPS:
        lines += [f"## {group}", ""]
        for command in (one for one in COMMANDS if one.group == group):
            lines += [f"### asfound {command.name}", "", command.says, ""]
            for words in (one for one in every if one[0] == command.name):
                lines += ["```text", help_of(app, words), "```", ""]
    return "\n".join(lines)


if __name__ == "__main__":
    print(page(), end="")
