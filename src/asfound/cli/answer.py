"""How a command answers: JSON for programs, plain columns for people, colour only on a terminal."""

from __future__ import annotations

import contextlib
import dataclasses
import json
import math
import os
import re
import shutil
import sys
import textwrap
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Sequence

    from asfound.cli.options import Out

BY_WHEN = {
    "stop": "Stop now",
    "visit": "This visit",
    "clash": "Does not agree",
    "soon": "Next visit",
    "note": "Noted",
}
"""Words of the severities: by when a hand is needed."""
_CONTROLS = re.compile(
    r"(?!\x1b\[(?:0|1|31|33|35|1;31)m)[\x00-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)
"""Signs that steer a terminal or turn the writing round, but for the colours below; halves of signs."""
_COLOURS = {"stop": "1;31", "visit": "31", "clash": "35", "soon": "33", "note": "0", "head": "1"}


def answer(out: Out, data: Any, lines: Callable[[], Iterable[str]]) -> None:
    """Print ``data`` as JSON where that was asked for, else the lines."""
    if out.json:
        text = json.dumps(ready(data), ensure_ascii=False, indent=2, allow_nan=False)
        print(_CONTROLS.sub(lambda found: f"\\u{ord(found[0]):04x}" if found[0] != "\n" else "\n", text))
        return
    for line in lines():
        print(harmless(line))


def harmless(text: str) -> str:
    r"""Return a text that a terminal shows and does not obey: a note from elsewhere may hold its control characters.

    Our own colours stay; ends of lines and tabs too.

    Examples
    --------
    >>> harmless("a\x1b[2Jb")
    'a[U+001B][2Jb'
    """
    return _CONTROLS.sub(lambda found: found[0] if found[0] in "\n\t" else f"[U+{ord(found[0]):04X}]", text)


def ready(value: Any) -> Any:
    """Return a value as JSON can hold it; a number that is none becomes null."""
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {f.name: ready(getattr(value, f.name)) for f in dataclasses.fields(value)}
    if isinstance(value, dict) or hasattr(value, "items"):
        return {str(name): ready(one) for name, one in value.items()}
    if isinstance(value, (list, tuple, set, frozenset)):
        return [ready(one) for one in value]
    if isinstance(value, bool) or value is None or isinstance(value, (int, str)):
        return value
    if hasattr(value, "tolist"):  # NumPy scalars and arrays, without importing it
        return ready(value.tolist())
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return str(value)


def coloured(text: str, meaning: str) -> str:
    """Return the text in the colour of its meaning, on a terminal that wants colour."""
    code = _COLOURS.get(meaning, "0")
    wanted = sys.stdout.isatty() and "NO_COLOR" not in os.environ and os.environ.get("TERM") != "dumb"
    return f"\x1b[{code}m{text}\x1b[0m" if wanted and code != "0" else text


def width() -> int:
    """Return how many signs a line may have: the terminal's, or 110 where it goes to a file."""
    return shutil.get_terminal_size().columns if sys.stdout.isatty() else 110


def wrapped(text: str, indent: str = "") -> list[str]:
    """Return a sentence as lines with an indent."""
    return textwrap.wrap(text, max(width(), 40), initial_indent=indent, subsequent_indent=indent) or [indent.rstrip()]


def columns(rows: Sequence[Sequence[object]], head: Sequence[str] = (), right: Sequence[int] = ()) -> list[str]:
    """Return rows as aligned lines; the last column is wrapped to the width.

    Parameters
    ----------
    rows : sequence of rows
        Every row as long as the first.
    head : sequence of str
        Names of the columns.
    right : sequence of int
        Columns that are numbers and stand on the right.
    """
    text = [[("" if cell is None else str(cell)) for cell in row] for row in ([head, *rows] if head else rows)]
    if not text:
        return []
    sizes = [max(len(row[i]) for row in text) for i in range(len(text[0]))]
    room = max(width() - sum(sizes[:-1]) - 2 * (len(sizes) - 1), 24)
    lines: list[str] = []
    for number, row in enumerate(text):
        cells = [c.rjust(s) if i in right else c.ljust(s) for i, (c, s) in enumerate(zip(row, sizes, strict=True))]
        last = (
            textwrap.wrap(row[-1], room) if len(row[-1]) > room else [cells[-1] if len(row) - 1 in right else row[-1]]
        )
        lead = "  ".join(cells[:-1])
        for n, piece in enumerate(last or [""]):
            line = f"{lead if n == 0 else ' ' * len(lead)}{'  ' if lead else ''}{piece}".rstrip()
            lines.append(coloured(line, "head") if head and number == 0 else line)
    return lines


def steps(items: Sequence[Any], doing: str) -> Iterable[Any]:
    """Return the items one by one, with a bar on standard error while a person watches a terminal."""
    if not sys.stderr.isatty():
        return items
    from rich.console import Console
    from rich.progress import track

    return track(items, doing, console=Console(stderr=True), transient=True)


@contextlib.contextmanager
def working(doing: str) -> Iterator[None]:
    """Show on standard error that something is under way, while a person watches a terminal."""
    if not sys.stderr.isatty():
        yield
        return
    from rich.console import Console

    with Console(stderr=True).status(doing):
        yield
