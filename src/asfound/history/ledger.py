"""The ledger of an import: every row and every cell that was not taken, with file, line, column, text and why.

Kept as JSON lines beside the store, or in memory. Cells that are refused for one reason, with one text, in rows that
follow each other are one entry with a count: a sensor that says 'NaN' for a month is one line here.
"""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import IO

from asfound.history.locked import cipher_of
from asfound.history.whole_files import plainly

LONGEST_TEXT = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """What was not taken. ``column`` is empty for a whole row."""

    file: str
    line: int
    """Line of the file, counted from 1 as an editor does; row of a sheet."""
    column: str = ""
    text: str = ""
    why: str = ""
    count: int = 1
    last: int = 0
    """Last line of several that follow each other; 0 for one."""
    kind: str = "row"
    """``row`` refused, ``cell`` refused, ``duplicate`` dropped, ``conflict`` not taken; ``date from above``: kept."""

    @property
    def where(self) -> str:
        """File, line and column as one text."""
        lines = f"{self.line}" if self.count == 1 else f"{self.line}-{self.last}"
        return f"{self.file}:{lines}" + (f", {self.column}" if self.column else "")


class Ledger:
    """Keeps refusals in the order in which they were met.

    Parameters
    ----------
    path : Path, optional
        Where to keep them; in memory without.
    size : int, optional
        What an interrupted import had kept for good: the file is cut back to it.
    """

    def __init__(self, path: Path | None = None, *, size: int | None = None) -> None:
        self.path = path
        self.counts: Counter[tuple[str, str]] = Counter()
        self._held: list[Refusal] = []
        self._open: dict[tuple[str, str], Refusal] = {}
        self._file: IO[bytes] | None = None
        self._cipher = None if path is None else cipher_of(path.parent)
        if path is not None:
            with plainly(path):
                path.parent.mkdir(parents=True, exist_ok=True)
                self._file = path.open("ab")
            if size is not None:
                self._file.truncate(size)
            self._file.seek(0, 2)

    def row(self, file: str, line: int, text: str, why: str, kind: str = "row") -> None:
        """Keep a row that was refused, dropped as a duplicate, or not taken in a conflict."""
        self._keep(Refusal(file=file, line=line, text=_shortened(text), why=why, kind=kind))

    def cells(self, file: str, column: str, lines: Iterable[int], texts: Iterable[str], why: str) -> None:
        """Keep cells of one column, in the order of their lines."""
        for line, text in zip(lines, texts, strict=True):
            self.cell(file, column, line, text, why)

    def cell(self, file: str, column: str, line: int, text: str, why: str, kind: str = "cell") -> None:
        """Keep one cell; it joins the one above it where text and reason are the same."""
        text = _shortened(text)
        before = self._open.get((file, column))
        if before and before.text == text and before.why == why and line <= (before.last or before.line) + 1:
            self._open[file, column] = Refusal(
                file=file, line=before.line, column=column, text=text, why=why, count=before.count + 1, last=line,
                kind=kind,
            )  # fmt: skip
            return
        if before:
            self._keep(before)
        self._open[file, column] = Refusal(file=file, line=line, column=column, text=text, why=why, kind=kind)

    def flush(self) -> int:
        """Write all that is held; return the size of the file (0 in memory)."""
        for one in self._open.values():
            self._keep(one)
        self._open.clear()
        if self._file is None:
            return 0
        with plainly(self.path):
            self._file.flush()
        return self._file.tell()

    def close(self) -> None:
        """Write all, and let the file go."""
        self.flush()
        if self._file is not None:
            self._file.close()
            self._file = None

    def __iter__(self) -> Iterator[Refusal]:
        if self.path is None:
            self.flush()
            yield from self._held
            return
        if self._file is not None:
            self.flush()
        yield from read_ledger(self.path)

    def _keep(self, one: Refusal) -> None:
        self.counts[one.kind, one.why] += one.count
        if self._file is None:
            self._held.append(one)
        else:
            plain = {name: value for name, value in asdict(one).items() if value not in ("", 0) or name == "line"}
            line = json.dumps(plain, ensure_ascii=False).encode()
            self._file.write((b64encode(self._cipher.close(line)) if self._cipher else line) + b"\n")


def read_ledger(path: Path) -> Iterator[Refusal]:
    """Yield the refusals of a ledger's file."""
    cipher = cipher_of(path.parent)
    with path.open("rb") as file:
        for line in file:
            if line.endswith(b"\n"):
                yield Refusal(**json.loads(cipher.open(b64decode(line), str(path)) if cipher else line))


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_TEXT else f"{text[:LONGEST_TEXT]} ... ({len(text)} characters)"
