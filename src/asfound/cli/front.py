"""The first page of help and the version: answered without loading the parser, since a person waits for them."""

from __future__ import annotations

import shutil
import textwrap
from typing import TYPE_CHECKING

from asfound.cli.commands import COMMANDS, GROUPS

if TYPE_CHECKING:
    from collections.abc import Iterator

ABOUT = "The whole service visit to a large stationary gas engine: what is fitted, what it does, what to do next."
AFTER = (
    "Every command has --help and --json. A VISIT is the tag of an engine (its open visit, else its latest), tag/date, "
    "or the beginning of the visit's identifier. --home or ASFOUND_HOME names the folder where the record lies; "
    "ASFOUND_WHO your name.",
    "Exit codes: 0 done, 1 the answer is no, 2 it cannot be done as said, 70 a fault of the program, 130 interrupted.",
)


def first_page() -> Iterator[str]:
    """Yield the lines of `asfound --help`."""
    width = min(max(shutil.get_terminal_size((100, 24)).columns, 40), 120)
    size = max(len(one.name) for one in COMMANDS) + 4
    yield "Usage: asfound COMMAND"
    yield ""
    yield from textwrap.wrap(ABOUT, width)
    for group in GROUPS:
        yield ""
        yield f"{group}:"
        for one in (command for command in COMMANDS if command.group == group):
            lead = f"  {one.name}".ljust(size)
            yield from textwrap.wrap(one.says, width, initial_indent=lead, subsequent_indent=" " * size)
    yield ""
    for paragraph in AFTER:
        yield from textwrap.wrap(paragraph, width)
