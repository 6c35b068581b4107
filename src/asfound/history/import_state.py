"""How far each file of a source has been imported: so that a break costs a block, and the same file twice nothing.

One JSON file for a source, beside the store. It is put in place whole, after the store has the rows.
"""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from asfound.errors import InputError
from asfound.history.bytes_in import digests_of
from asfound.history.locked import read_file, write_file


@dataclass(slots=True, kw_only=True)
class FileState:
    """A file, or its first ``size`` bytes, and how far they were read."""

    name: str
    size: int
    digest: str
    position: int = 0
    line: int = 1
    done: bool = False
    counts: dict[str, int] = field(default_factory=dict)
    form: dict[str, Any] = field(default_factory=dict)
    first_form: dict[str, Any] = field(default_factory=dict)
    """The form above the first row: a head in mid file changes ``form``."""
    clock: dict[str, Any] = field(default_factory=dict)
    """Where the clock stood in a repeated hour."""
    above: dict[str, int] = field(default_factory=dict)
    """Day and time of day of the last row, for rows without a date; empty where there is none."""
    pending: list[tuple[int, str, str]] = field(default_factory=list)
    last: int | None = None
    """Time of the last row, for gaps across files and breaks."""


@dataclass(slots=True)
class ImportState:
    """The files of one source."""

    source: str
    folder: Path | None = None
    files: list[FileState] = field(default_factory=list)
    ledger_size: int = 0

    @property
    def path(self) -> Path | None:
        """The file of the state."""
        return None if self.folder is None else self.folder / f"{file_name(self.source)}.json"

    @property
    def ledger(self) -> Path | None:
        """The file of the refusals."""
        return None if self.folder is None else self.folder / f"{file_name(self.source)}.refused.jsonl"

    @classmethod
    def load(cls, source: str, folder: Path | None) -> ImportState:
        """Return the state of a source; a new one when there is none."""
        state = cls(source, folder)
        if state.path is None or not state.path.exists():
            return state
        try:
            found = json.loads(read_file(state.path))
            state.files = [FileState(**one) for one in found["files"]]
            for one in state.files:
                one.pending = [(int(line), str(text), str(why)) for line, text, why in one.pending]
            state.ledger_size = int(found["ledger_size"])
        except (ValueError, TypeError, KeyError) as error:
            raise InputError(
                "state", str(state.path), f"is damaged: {error}",
                try_next="Move the file away; importing again brings no row twice.",
            ) from error  # fmt: skip
        return state

    def save(self) -> None:
        """Put the state in place."""
        if self.path is not None:
            plain = {
                "source": self.source,
                "ledger_size": self.ledger_size,
                "files": [asdict(one) for one in self.files],
            }
            write_file(self.path, json.dumps(plain, ensure_ascii=False, indent=1).encode())

    def of(self, path: Path) -> tuple[FileState, str]:
        """Return the state of a file, and what it is: ``new``, ``same``, ``grown`` or ``broken off``.

        A file is known by its bytes, whatever it is called: whole, or by its beginning when it grew since.
        """
        digests = digests_of(path, [one.size for one in self.files])
        size = max(digests)
        known = [one for one in self.files if digests.get(one.size) == one.digest and one.size]
        if not known:
            found = FileState(name=path.name, size=size, digest=digests[size])
            self.files.append(found)
            return found, "new"
        found = max(known, key=lambda one: one.size)
        if found.size == size:
            return found, "same" if found.done else "broken off"
        found.size, found.digest = size, digests[size]
        was_done, found.done = found.done, False
        return found, "grown" if was_done else "broken off"


def file_name(source: str) -> str:
    """Return a name of a file for a source, whatever it is called."""
    import hashlib

    plain = re.sub(r"[^\w.-]+", "_", source).strip("._") or "source"
    return plain if plain == source else f"{plain[:60]}-{hashlib.sha256(source.encode()).hexdigest()[:8]}"
