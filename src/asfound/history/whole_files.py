"""Small files that are there whole or not at all: written beside, brought to the disk, and put in place."""

from __future__ import annotations

import os
from pathlib import Path


def write_whole(path: Path, data: bytes) -> None:
    """Write a file so that a break leaves either the old one or the new one."""
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_name(f".{path.name}.{os.getpid()}.new")
    with beside.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    os.replace(beside, path)
