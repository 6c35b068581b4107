"""Packaged YAML as it was parsed, kept as byte code is: in ``__pycache__`` of this room, for this very text.

Parsing the packaged knowledge costs a process 0.15 s; taking it from here a tenth of that. What cannot be written or
read, or was made of another text, is parsed. Only files of the program are kept so.
"""

from __future__ import annotations

import contextlib
import hashlib
import marshal
import os
import sys
from pathlib import Path
from typing import Any

VERSION = 1
"""Of the form below; another one is not read."""
FOLDER = Path(__file__).parent / "__pycache__"
PROGRAM = Path(__file__).parent.parent


class PackagedText(str):
    """Text of a packaged file that knows which."""

    path: Path


def packaged(text: str, path: Path) -> PackagedText:
    """Return the text of a packaged file as one that knows its file."""
    made = PackagedText(text)
    made.path = path
    return made


def parsed_before(text: PackagedText) -> Any:
    """Return what was parsed of this text, as `keep_parsed` was given it; None where nothing is kept."""
    try:
        version, digest, found = marshal.loads(_kept_at(text.path).read_bytes())
    except (OSError, ValueError, EOFError, TypeError):
        return None
    return found if (version, digest) == (VERSION, _digest(text)) else None


def keep_parsed(text: PackagedText, found: Any) -> None:
    """Keep what was parsed of a text: plain dicts, lists, tuples and scalars."""
    file = _kept_at(text.path)
    made = file.with_name(f"{file.name}.{os.getpid()}")
    with contextlib.suppress(OSError):
        FOLDER.mkdir(exist_ok=True)
        made.write_bytes(marshal.dumps((VERSION, _digest(text), found)))
        os.replace(made, file)


def _kept_at(path: Path) -> Path:
    where = "-".join(path.relative_to(PROGRAM).parts if path.is_relative_to(PROGRAM) else path.parts[1:])
    return FOLDER / f"{where}.{sys.implementation.cache_tag}"


def _digest(text: str) -> bytes:
    return hashlib.blake2b(text.encode(), digest_size=20).digest()
